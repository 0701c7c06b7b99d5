"""End faces on whole visits: a graded picture outranks a statement.

Pictures come from the project's own renderer, whose marks are the truth.
"""

from datetime import timedelta

import pytest

from eavelight.app.assess_visit import assess_visit
from eavelight.demo.evidence import face_bytes

pytest.importorskip("PIL")


def face(folder, side="plug"):
    result = assess_visit(str(folder), alone=True).assessment
    return next(
        item
        for item in result.findings
        if item.requirement == "endface.grade"
        and item.subject == "terminal"
        and item.because.values["side"] == side
    )


def attach(table, folder, data, name="face.png", minutes=45, **keys):
    (folder / "evidence").mkdir(parents=True, exist_ok=True)
    (folder / "evidence" / name).write_bytes(data)
    table["evidence"].append(
        {
            "file": f"evidence/{name}",
            "what": "endface",
            "at": "terminal",
            "side": "plug",
            "um_per_px": 0.5,
            "time": table["visit"]["started"] + timedelta(minutes=minutes),
            **keys,
        }
    )


def stated(table, value):
    for item in table["reading"]:
        if item["what"] == "endface_stated" and item["at"] == "terminal":
            item["value"] = value


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "D-101"


def test_clean_picture_passes_with_edition_and_class(clean, save, folder):
    attach(clean, folder, face_bytes(3))
    save(clean)
    found = face(folder)
    assert (found.verdict, found.because.id) == ("pass", "endface.grade.pass.graded")
    assert "IEC 61300-3-35" in found.limit.edition


def test_dirty_picture_against_a_stated_pass_is_undecided(clean, save, folder):
    attach(clean, folder, face_bytes(3, dirty=True))
    save(clean)
    assert face(folder).because.id == "endface.grade.undecided.disagree"


def test_dirty_picture_fails_where_nobody_states_otherwise(clean, save, folder):
    clean["reading"] = [i for i in clean["reading"] if i["what"] != "endface_stated"]
    attach(clean, folder, face_bytes(3, dirty=True))
    save(clean)
    assert face(folder).verdict == "fail"


def test_the_picture_after_cleaning_counts(clean, save, folder):
    clean["reading"] = [i for i in clean["reading"] if i["what"] != "endface_stated"]
    attach(clean, folder, face_bytes(3, dirty=True), name="before.png", minutes=40)
    attach(
        clean, folder, face_bytes(4), name="after.png", minutes=44,
        cleaning=["dry"], cleaned=True,
    )  # fmt: skip
    save(clean)
    assert face(folder).verdict == "pass"


def test_pass_after_abrasion_is_not_enough(clean, save, folder):
    attach(clean, folder, face_bytes(4), cleaning=["dry", "abrasive"], cleaned=True)
    save(clean)
    assert face(folder).because.id == "endface.grade.undecided.abraded"


def test_refused_picture_leaves_the_statement_and_says_why(clean, save, folder):
    import numpy as np
    from PIL import Image

    path = folder / "grey.png"
    folder.mkdir(parents=True)
    Image.fromarray(np.full((480, 640), 128, np.uint8)).save(path)
    attach(clean, folder, path.read_bytes())
    path.unlink()
    save(clean)
    found = face(folder)
    assert found.because.id == "endface.grade.pass.stated_refused"
    stated(clean, "fail")
    save(clean)
    assert face(folder).verdict == "fail"


def test_picture_that_cannot_be_read_is_said_and_stops_nothing(clean, save, folder):
    attach(clean, folder, b"no picture at all")
    save(clean)
    visit = assess_visit(str(folder), alone=True)
    assert any("face.png" in note for note in visit.notes)
    assert face(folder).because.id == "endface.grade.pass.stated_picture"
