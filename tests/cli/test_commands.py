"""The command line as a script meets it: exit codes, one line of error, JSON."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from eavelight.cli.entry import COMMANDS, run
from eavelight.demo.crew import SCENARIOS, build_visit


@pytest.fixture(scope="module")
def crew(tmp_path_factory):
    folder = tmp_path_factory.mktemp("crew")
    return {scenario.number: build_visit(scenario, folder) for scenario in SCENARIOS}


@pytest.mark.parametrize(("number", "code"), [(1, 0), (2, 1), (4, 1), (5, 2)])
def test_exit_code_says_the_state(crew, capsys, number, code):
    assert run(["assess", str(crew[number])]) == code
    assert capsys.readouterr().err == ""


def test_page_says_state_first_action_and_reason(crew, capsys):
    run(["assess", str(crew[2])])
    out = capsys.readouterr().out
    first = out.splitlines()[0]
    assert first.startswith("D-102")
    assert first.endswith("NOT READY")
    assert "Do now" in out
    assert "a bend" in " ".join(out.split())
    assert "Invisible light" in out


def test_all_shows_passes_and_points_of_no_return(crew, capsys):
    run(["assess", str(crew[1]), "--all"])
    out = capsys.readouterr().out
    assert "Before the step that cannot be undone" in out
    assert "identity.port" in out


def test_json_is_the_contract_and_nothing_else(crew, capsys):
    assert run(["assess", str(crew[3]), "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["schema"] == "eavelight.assessment/1"
    assert data["state"] == "not ready"


def test_bad_folder_gives_one_line_per_mistake(tmp_path, capsys):
    assert run(["assess", str(tmp_path)]) == 65
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 1
    assert "expected" in lines[0]
    assert "found" in lines[0]


@pytest.mark.parametrize(
    "words", [["assess"], ["asses", "x"], ["assess", "x", "--jsn"], ["doctor", "extra"]]
)
def test_wrong_usage_is_one_line_and_64(words, capsys):
    assert run(words) == 64
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_help_lists_every_command(capsys):
    assert run(["--help"]) == 0
    out = capsys.readouterr().out
    assert all(name in out for name in COMMANDS)


def test_doctor_lists_features_and_needs(capsys):
    assert run(["doctor", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {"feature", "needs", "available", "because"} <= set(data["features"][0])


def test_help_loads_no_heavy_library():
    heavy = {"numpy", "scipy", "pydantic", "matplotlib", "pvlib", "pandas", "typst"}
    code = (
        "import sys; from eavelight.cli.entry import run; run(['--help']);"
        "print(','.join(sorted(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert not heavy & set(done.stderr.strip().split(","))


def test_closed_pipe_is_no_error(crew):
    line = f"{sys.executable} -m eavelight assess {crew[1]} --json | head -c 10"
    done = subprocess.run(
        ["bash", "-c", line], capture_output=True, text=True, check=False
    )
    assert "Traceback" not in done.stderr


def test_demo_writes_everything_and_names_the_next_command(tmp_path, capsys):
    pytest.importorskip("PIL")
    assert run(["demo", "--out", str(tmp_path / "out")]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[-1].startswith("Try next: eavelight assess")
    for number in range(1, 6):
        folder = Path(tmp_path / "out" / f"D-10{number}")
        assert (folder / "visit.toml").is_file()
        assert f"D-10{number}" in out
        if "no closeout" not in out:
            assert (folder / "closeout.pdf").stat().st_size > 10_000
