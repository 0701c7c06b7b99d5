"""`eavelight trace`: JSON of the contract, many files, one bad among them."""

import json

import numpy as np
import pytest

from eavelight.cli.entry import run
from eavelight.demo.evidence import LEAD_M, trace_bytes
from eavelight.demo.plans import start_of
from eavelight.demo.truth import House


@pytest.fixture
def record(tmp_path):
    data = trace_bytes(
        House(drop_m=60.0), 1550, visit="D-1", time=start_of(1),
        rng=np.random.default_rng(5),
    )  # fmt: skip
    path = tmp_path / "drop.sor"
    path.write_bytes(data)
    return path


def json_of(capsys):
    return json.loads(capsys.readouterr().out)


def test_one_file_gives_one_object_of_the_contract(record, capsys):
    assert run(["trace", str(record), "--lead-m", str(LEAD_M), "--json"]) == 0
    data = json_of(capsys)
    assert data["schema"] == "eavelight.trace/1"
    assert set(data) >= {
        "file", "wavelength_nm", "pulse_ns", "group_index", "sample_spacing_m",
        "events", "sections", "length_m", "loss_db", "orl_db", "noise_floor_db",
        "points", "stored_events", "notes",
    }  # fmt: skip
    for event in data["events"]:
        assert set(event) >= {
            "position_m", "position_u_m", "kind", "reflective", "loss_db",
            "loss_u_db", "reflectance_db", "reflectance_is_bound", "merged",
        }  # fmt: skip


def test_positions_count_from_the_end_of_the_lead(record, capsys):
    run(["trace", str(record), "--json"])
    whole = json_of(capsys)
    run(["trace", str(record), "--lead-m", str(LEAD_M), "--json"])
    behind = json_of(capsys)
    kinds = [event["kind"] for event in behind["events"]]
    assert kinds[0] == "launch"
    ends = [data["events"][-1]["position_m"] for data in (whole, behind)]
    assert ends[0] - ends[1] == pytest.approx(LEAD_M, abs=2.0)


def test_an_unreadable_file_does_not_stop_the_others(record, tmp_path, capsys):
    bad = tmp_path / "bad.sor"
    bad.write_bytes(b"Map\0nonsense")
    assert run(["trace", str(bad), str(record), "--json"]) == 65
    first, second = json_of(capsys)["traces"]
    assert "expected" in first["error"]
    assert second["events"]


def test_an_unreadable_file_is_one_line(tmp_path, capsys):
    assert run(["trace", str(tmp_path / "absent.sor")]) == 65
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_table_names_kind_loss_and_totals(record, capsys):
    assert run(["trace", str(record), "--lead-m", str(LEAD_M)]) == 0
    out = capsys.readouterr().out
    assert "length" in out
    assert "return loss" in out
    assert "launch" in out


def written(tmp_path, wavelength, name, **keys):
    data = trace_bytes(
        House(drop_m=60.0), wavelength, visit="D-1", time=start_of(1),
        rng=np.random.default_rng(wavelength), **keys,
    )  # fmt: skip
    path = tmp_path / name
    path.write_bytes(data)
    return str(path)


def test_two_wavelengths_together_tell_a_bend(tmp_path, capsys):
    short = written(tmp_path, 1310, "a.sor", bend_db=0.05)
    long = written(tmp_path, 1550, "b.sor", bend_db=1.5)
    lead = ["--lead-m", str(LEAD_M)]
    assert run(["trace", short, long, *lead, "--join", "--json"]) == 0
    data = json_of(capsys)
    assert len(data["traces"]) == 2
    first = data["joined"]["events"][0]
    assert set(first) >= {
        "position_m", "position_u_m", "kind", "merged", "loss_db", "two_way_loss_db",
        "two_way_loss_u_db", "mode_field_step_db", "bend_probability", "change",
        "change_db", "change_u_db",
    }  # fmt: skip
    assert first["bend_probability"] > 0.9
    assert set(first["loss_db"]) == {"1310", "1550"}


def test_baseline_tells_what_is_new(tmp_path, capsys):
    now = written(tmp_path, 1550, "now.sor", bend_db=1.5)
    then = written(tmp_path, 1550, "then.sor")
    lead = ["--lead-m", str(LEAD_M)]
    run(["trace", now, *lead, "--join", "--baseline", then, "--json"])
    first = json_of(capsys)["joined"]["events"][0]
    assert first["change"] == "changed"
    assert first["change_db"] == pytest.approx(1.5, abs=0.2)


def test_reverse_without_join_is_wrong_usage(record):
    assert run(["trace", str(record), "--reverse", str(record)]) == 64


@pytest.mark.parametrize("suffix", [".svg", ".png", ".pdf"])
def test_plot_is_written_in_the_form_of_its_name(record, tmp_path, suffix):
    pytest.importorskip("matplotlib")
    target = tmp_path / f"figure{suffix}"
    assert run(["trace", str(record), "--plot", str(target)]) == 0
    assert target.stat().st_size > 3000


def test_plot_of_unknown_form_is_refused(record, tmp_path, capsys):
    assert run(["trace", str(record), "--plot", str(tmp_path / "x.bmp")]) == 65
    assert ".svg" in capsys.readouterr().err
