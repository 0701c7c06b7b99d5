import json

import numpy as np

from eavelight.demo.endface_simulator import Disc, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.compare import compare_marks
from eavelight.endface.report import as_contract, reasons
from eavelight.standards.endface_criteria import load
from eavelight.standards.endface_dirt import load_words


def face(*marks, seed=1, **changes):
    pixels = draw(Scene(marks=marks, **changes), np.random.default_rng(seed))
    return grade_picture(picture_from_array(pixels), load("pc"))


SPECK = Disc(row_um=3, col_um=-4, diameter_um=3)
PARTICLE = Disc(row_um=70, col_um=70, diameter_um=13)


def test_contract_has_its_keys_and_is_plain_json() -> None:
    found = json.loads(
        json.dumps(as_contract(face(SPECK), "a spot in A"), allow_nan=False)
    )
    assert found["schema"] == "eavelight.endface/1"
    assert found["verdict"] == "fail"
    assert set(found["fibre"]) == {"row_px", "col_px", "radius_px"}
    assert set(found["predicted_loss_db"]) == {"1310", "1550"}
    assert {"edition", "class", "confidence"} <= set(found["criteria"])
    mark = found["marks"][0]
    assert (mark["kind"], mark["zone"], mark["counts"]) == ("spot", "A", True)
    assert abs(mark["row_um"] - 3) < 0.4
    assert abs(mark["col_um"] + 4) < 0.4


def test_refused_face_has_reason_and_no_marks() -> None:
    found = as_contract(face(psf_um=6.0), "blurred")
    assert found["verdict"] == "refused"
    assert found["marks"] == []
    assert found["predicted_loss_db"] is None


def test_fates_and_gone_marks_are_listed() -> None:
    before, after = face(SPECK, PARTICLE), face(SPECK, seed=2)
    comparison = compare_marks(before.marks, after.marks)
    rows = as_contract(after, "", comparison=comparison, before=before)["marks"]
    assert [(row["fate"], row["counts"]) for row in rows] == [
        ("stayed", True), ("gone", False),
    ]  # fmt: skip


def test_every_reason_has_words_that_take_its_values() -> None:
    words = load_words()["reason"]
    for found in (face(), face(SPECK), face(psf_um=6.0), face(um_per_px=0.9)):
        for reason in reasons(found):
            assert words[reason["id"]].format(**reason)
