"""`eavelight plan` as a technician and a script meet it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
import tomli_w

from eavelight.cli.entry import run
from eavelight.demo.crew import SCENARIOS
from eavelight.demo.plans import visit_table

LINES = 88
WIDTH = 100


@pytest.fixture(scope="module")
def crew(tmp_path_factory):
    """The work orders of the invented crew, before anybody was there."""
    folders = {}
    for item in SCENARIOS:
        folder = tmp_path_factory.mktemp(f"crew-{item.number}")
        text = tomli_w.dumps(visit_table(item.number))
        (folder / "visit.toml").write_text(text, encoding="utf-8")
        folders[item.number] = folder
    return folders


@pytest.fixture
def dry(tmp_path) -> Path:
    """A visit without the sun."""
    table = visit_table(1)
    del table["housing"]
    (tmp_path / "visit.toml").write_text(tomli_w.dumps(table), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("number", sorted(item.number for item in SCENARIOS))
def test_every_demo_visit_is_planned_on_about_one_screen(crew, capsys, number):
    assert run(["plan", str(crew[number])]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    lines = captured.out.splitlines()
    assert lines[0].startswith(f"D-10{number}")
    assert lines[0].endswith("PLAN")
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= WIDTH


def test_page_says_what_a_technician_needs_before_driving(dry, capsys):
    run(["plan", str(dry)])
    out = " ".join(capsys.readouterr().out.split())
    for words in (
        "fibre 1 blue",
        "BL-BL",
        "port 4/11",
        "−26.5 dBm to −8.0 dBm",
        "loop 1.01",
        "longest cable 29.8 m",
        "cut-off 11.00 V",
        "Today (15 °C)",
        "Replace in",
        "cleave",
        "power meter for 1490 nm",
        "Invisible light",
        "Foreign voltage",
        "nothing here states compliance",
    ):
        assert words in out


def test_a_number_and_its_unit_stay_on_one_line(crew, capsys):
    run(["plan", str(crew[1])])
    ends = ("V", "dB", "dBm", "nm", "°C", "Ah", "K")
    lines = capsys.readouterr().out.splitlines()
    assert not any(line.split()[0].rstrip(".,;:") in ends for line in lines if line)


def test_incomplete_work_order_is_told_first(tmp_path, capsys):
    table = visit_table(1)
    del table["housing"], table["assignment"]["port"], table["plant"]["launch_dbm"]
    (tmp_path / "visit.toml").write_text(tomli_w.dumps(table), encoding="utf-8")
    assert run(["plan", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Incomplete work order" in out.splitlines()[1]
    assert "the port, the launch level" in " ".join(out.split())


def test_all_shows_every_part(dry, capsys):
    run(["plan", str(dry), "--all"])
    out = capsys.readouterr().out
    assert "feeder splices" in out
    assert "1625" in out


def test_json_is_the_contract_and_nothing_else(dry, capsys):
    assert run(["plan", str(dry), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "eavelight.plan/1"


def test_bad_folder_gives_one_line_per_mistake_as_for_assess(dry, capsys):
    text = (dry / "visit.toml").read_text(encoding="utf-8")
    (dry / "visit.toml").write_text(text.replace("awg", "awgg"), encoding="utf-8")
    assert run(["plan", str(dry)]) == 65
    planned = capsys.readouterr().err
    assert run(["assess", str(dry)]) == 65
    assert capsys.readouterr().err == planned
    assert "nearest known name" in planned


def test_plot_writes_the_figures(dry, tmp_path, capsys):
    pytest.importorskip("matplotlib")
    target = tmp_path / "plan.svg"
    assert run(["plan", str(dry), "--plot", str(target)]) == 0
    assert target.read_bytes().startswith(b"<?xml")
    assert "wrote" in capsys.readouterr().err


def test_plot_needs_a_known_ending(dry, tmp_path, capsys):
    assert run(["plan", str(dry), "--plot", str(tmp_path / "plan.gif")]) == 64
    assert "FILE.pdf" in capsys.readouterr().err


def test_without_a_housing_the_sun_is_never_loaded(dry):
    code = (
        "import sys; from eavelight.cli.entry import run; "
        f"code = run(['plan', {str(dry)!r}, '--json']); "
        "print(sorted({'pvlib', 'pandas', 'matplotlib', 'typst'} & sys.modules.keys()),"
        " code, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stderr.strip() == "[] 0"
