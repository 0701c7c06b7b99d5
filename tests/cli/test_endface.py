"""`eavelight endface`: exit codes, JSON of the contract, several pictures."""

import json

import pytest

from eavelight.cli.entry import run
from eavelight.demo.evidence import face_bytes

pytest.importorskip("PIL")


@pytest.fixture
def pictures(tmp_path):
    paths = {}
    for name, dirty in (("clean", False), ("dirty", True)):
        path = tmp_path / f"{name}.png"
        path.write_bytes(face_bytes(8, dirty=dirty))
        paths[name] = str(path)
    paths["text"] = str(tmp_path / "text.png")
    (tmp_path / "text.png").write_bytes(b"hello")
    return paths


def test_exit_code_is_the_verdict(pictures, capsys):
    assert run(["endface", pictures["clean"]]) == 0
    assert run(["endface", pictures["dirty"]]) == 1
    assert run(["endface", pictures["text"]]) == 65
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_json_is_the_contract(pictures, capsys):
    assert run(["endface", pictures["dirty"], "--um-per-px", "0.5", "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert set(data) >= {
        "schema", "file", "verdict", "because", "fibre", "um_per_px", "sharpness_um",
        "marks", "criteria", "predicted_loss_db",
    }  # fmt: skip
    assert set(data["fibre"]) == {"row_px", "col_px", "radius_px"}
    assert set(data["marks"][0]) >= {
        "kind", "zone", "size_um", "size_u_um", "row_um", "col_um", "counts", "fate",
        "kinds",
    }  # fmt: skip
    assert {"edition", "class", "confidence"} <= set(data["criteria"])
    assert set(data["predicted_loss_db"]) == {"1310", "1550"}


def test_several_exit_with_the_worst_and_the_rest_go_on(pictures, capsys):
    files = [pictures["clean"], pictures["text"], pictures["dirty"]]
    assert run(["endface", *files, "--json"]) == 65
    first, second, third = json.loads(capsys.readouterr().out)["faces"]
    assert (first["verdict"], third["verdict"]) == ("pass", "fail")
    assert "expected" in second["error"]


def test_stated_scale_that_contradicts_the_glass_is_refused(pictures):
    assert run(["endface", pictures["clean"], "--um-per-px", "0.9"]) == 3


def test_before_gives_every_mark_a_fate(pictures, capsys):
    run(["endface", pictures["clean"], "--before", pictures["dirty"], "--json"])
    data = json.loads(capsys.readouterr().out)
    assert {mark["fate"] for mark in data["marks"]} >= {"gone"}


def test_overlay_is_a_picture(pictures, tmp_path):
    target = tmp_path / "overlay.png"
    run(["endface", pictures["dirty"], "--overlay", str(target)])
    assert target.read_bytes()[:4] == b"\x89PNG"
