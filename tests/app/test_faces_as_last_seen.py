"""A face counts as last seen; what it was before cleaning stays in the record."""

from datetime import timedelta

import pytest

from eavelight.app.assess_visit import assess_visit, observe, open_visit
from eavelight.app.diagnosing.case import case_of
from eavelight.assess.assessment import context_of, findings_of
from eavelight.demo.evidence import face_bytes
from eavelight.standards.profiles import load_profile

pytest.importorskip("PIL")
CLEANED = {"cleaning": ["dry"], "cleaned": True}


def without(table, *kinds, at=None):
    table["reading"] = [
        item
        for item in table["reading"]
        if item["what"] not in kinds or at not in (None, item["at"])
    ]


def add(table, what, at, value, *, minutes, **keys):
    time = table["visit"]["started"] + timedelta(minutes=minutes)
    name = f"x{len(table['reading'])}"
    row = {"id": name, "what": what, "at": at, "value": value, "time": time}
    table["reading"].append(row | keys)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "D-101"


def attach(table, folder, data, name, *, minutes, **keys):
    path = folder / "evidence" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    row = {
        "file": f"evidence/{name}", "what": "endface", "at": "terminal",
        "side": "plug", "um_per_px": 0.5,
        "time": table["visit"]["started"] + timedelta(minutes=minutes),
    }  # fmt: skip
    table["evidence"].append(row | keys)


def faces(table, folder, *, before, minutes):
    """Both sides clean after cleaning, and dirty before it where that is kept."""
    without(table, "endface_stated", at="terminal")
    for number, side in enumerate(("plug", "adapter")):
        if before:
            data = face_bytes(3 + number, dirty=True)
            attach(table, folder, data, f"{side}_0.png", minutes=minutes, side=side)
        data = face_bytes(7 + number)
        attach(
            table, folder, data, f"{side}_1.png", minutes=minutes + 4, side=side,
            **CLEANED,
        )  # fmt: skip


def lossy(table, by):
    for item in table["reading"]:
        if item["what"] == "loss":
            item["value"] = round(item["value"] + by, 2)
        if item["what"] == "level" and item["at"] == "terminal":
            item["value"] = round(item["value"] - by, 2)


def marks(folder):
    opened = open_visit(str(folder))
    visit = opened.visit
    args = (visit.head.id, visit.plan, observe(opened), load_profile())
    context = context_of(*args)
    case = case_of(context, findings_of(context))
    return [m for m in case.marks if m.kind.startswith("face") and m.at == "terminal"]


def assessed(table, save):
    return assess_visit(str(save(table)), alone=True).assessment


def test_only_the_newest_picture_of_a_face_weighs(clean, save, folder):
    faces(clean, folder, before=True, minutes=40)
    save(clean)
    found = marks(folder)
    assert [(m.side, m.bad) for m in found] == [("plug", False), ("adapter", False)]
    assert all(m.ids[0].endswith("_1.png") for m in found)


def test_a_dirty_picture_before_cleaning_changes_neither_causes_nor_actions(
    clean, save, folder
):
    lossy(clean, 0.9)
    results = []
    for before in (True, False):
        clean["evidence"] = [e for e in clean["evidence"] if e["what"] != "endface"]
        faces(clean, folder, before=before, minutes=40)
        results.append(assessed(clean, save))
    told = [[(a.action, a.at, a.why.id) for a in one.next_actions] for one in results]
    assert told[0] == told[1]
    shares = [[(c["cause"], c["probability"]) for c in one.causes] for one in results]
    assert shares[0] == shares[1]


def test_the_older_picture_stays_in_the_record_of_the_finding(clean, save, folder):
    faces(clean, folder, before=True, minutes=40)
    grades = [f for f in assessed(clean, save).findings if f.subject == "terminal"]
    plug = next(f for f in grades if f.because.values.get("side") == "plug")
    assert set(plug.observations) == {"evidence/plug_0.png", "evidence/plug_1.png"}


def test_words_of_a_later_cleaning_overtake_a_picture_from_before(clean, save, folder):
    without(clean, "endface_stated", at="terminal")
    attach(clean, folder, face_bytes(3, dirty=True), "plug.png", minutes=40)
    add(
        clean, "endface_stated", "terminal", "pass", minutes=44, side="plug",
        state="after cleaning both sides",
    )  # fmt: skip
    save(clean)
    assert [(m.kind, m.bad) for m in marks(folder)] == [
        ("face after both sides", False)
    ]


def test_only_the_last_words_about_a_face_weigh(clean, save, folder):
    add(
        clean, "endface_stated", "terminal", "fail", minutes=5, side="plug",
        state="before cleaning",
    )  # fmt: skip
    save(clean)
    assert all(not mark.bad for mark in marks(folder))


def test_a_face_dirty_in_its_newest_picture_weighs(clean, save, folder):
    without(clean, "endface_stated", at="terminal")
    attach(clean, folder, face_bytes(7), "early.png", minutes=40)
    attach(clean, folder, face_bytes(3, dirty=True), "late.png", minutes=44)
    save(clean)
    assert [mark.bad for mark in marks(folder)] == [True]


def test_a_loss_from_before_the_cleaning_is_measured_again_not_cleaned_again(
    clean, save, folder
):
    lossy(clean, 0.9)
    faces(clean, folder, before=True, minutes=70)
    result = assessed(clean, save)
    told = [item.action for item in result.next_actions]
    assert told.index("measure-loss-closed") < told.index("clean-both-faces")
    assert result.causes[0]["cause"] == "contamination"
    assert result.causes[0]["detail"]["cleaned"] is True
