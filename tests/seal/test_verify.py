"""Every way in which a record can stop being what was recorded is told by its name."""

import hashlib
from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.model.recorded import Recorded
from eavelight.seal import (
    DeviceKey,
    Head,
    Material,
    commit,
    heads_of,
    link,
    make_seal,
    verify,
)

ONE, TWO = DeviceKey.of_seed(b"1" * 32), DeviceKey.of_seed(b"2" * 32)
PHOTO = hashlib.sha256(b"photo").hexdigest()
NAME = commit("t08", visit="V-1", kind="person", salt=b"s" * 16)


def chain(key, bodies, *, head=None, kinds=None):
    head, items = head or Head(), []
    for index, body in enumerate(bodies):
        item = link(
            key,
            head,
            visit="V-1",
            kind=(kinds or {}).get(index, "reading"),
            body={"schema": 1, **body},
            recorded_at=f"2026-04-01T10:00:0{index}Z",
        )
        items.append(item)
        head = Head(number=item.number, id=item.id)
    return tuple(items)


def reading(value):
    return {"item": {"id": f"r{value}", "value": value}}


def sealed(items, **extra):
    heads = {
        device: {"number": head.number, "id": head.id}
        for device, head in heads_of(items).items()
    }
    body = {"schema": 1, "heads": heads, **extra}
    return make_seal(ONE, visit="V-1", body=body, sealed_at="2026-04-01T11:00:00Z")


def material(items=None, **change):
    if items is None:
        first = chain(
            ONE,
            [
                reading(1),
                {"item": {"file": "a.png", "sha256": PHOTO}},
                {
                    "item": {"id": "r3"},
                    "personal": {"value": {"kind": "person", "sha256": NAME.sha256}},
                },
            ],
            kinds={1: "evidence"},
        )
        items = (*first, *chain(TWO, [reading(7), reading(8)]))
    change.setdefault("seals", (sealed(items),))
    change.setdefault("evidence", {PHOTO: "kept"})
    change.setdefault("personal", {NAME.sha256: NAME})
    return Material(visit="V-1", observations=items, **change)


def kinds(found):
    return sorted({problem.kind for problem in verify(found).problems})


def changed(found, index, **values):
    items = list(found.observations)
    items[index] = replace(items[index], **values)
    return replace(found, observations=tuple(items))


def test_whole_record_is_clean_and_says_nothing():
    report = verify(material())
    assert report.clean
    assert report.remarks == ()
    assert report.counts == {
        "observations": 5, "chains": 2, "seals": 1, "unsealed": 0, "evidence": 1,
    }  # fmt: skip


@pytest.mark.parametrize("name", [field.name for field in fields(Recorded)])
def test_change_of_any_field_of_any_observation_is_found(name):
    found = material()
    for index, item in enumerate(found.observations):
        value = getattr(item, name)
        other = value + 1 if isinstance(value, int) else value + "0"
        assert not verify(changed(found, index, **{name: other})).clean


def test_changed_body_is_told_as_changed_and_where():
    found = material()
    body = found.observations[0].body.replace('"value":1', '"value":2')
    problem = verify(changed(found, 0, body=body)).problems[0]
    assert problem.kind == "changed"
    assert problem.place.startswith("observation 1 of device")


def test_body_with_one_space_more_is_changed():
    found = material()
    body = found.observations[0].body.replace(":", ": ", 1)
    assert kinds(changed(found, 0, body=body)) == ["changed"]


def test_forged_signature_is_told():
    found = material()
    assert "not signed" in kinds(changed(found, 0, signature="00" * 64))


def test_missing_middle_is_told_with_its_numbers():
    found = material()
    problems = verify(replace(found, observations=found.observations[2:])).problems
    gap = next(p for p in problems if p.kind == "missing")
    assert (gap.message.values["first"], gap.message.values["last"]) == (1, 2)


def test_missing_end_is_told_by_the_seal():
    found = material()
    assert kinds(replace(found, observations=found.observations[:-1])) == [
        "missing under seal"
    ]


def test_missing_end_without_a_seal_is_told_by_an_exported_head():
    found = replace(material(), seals=())
    cut = replace(found, observations=found.observations[:-1])
    assert verify(cut).clean
    last = found.observations[-1].id
    assert kinds(replace(cut, expected={last: "bundle.eave"})) == ["missing from"]


def test_whole_chain_taken_away_is_told():
    found = material()
    assert "missing under seal" in kinds(
        replace(found, observations=found.observations[:3])
    )


def test_two_observations_that_changed_places_are_reordered():
    items = chain(ONE, [reading(1), reading(2), reading(3)])
    swapped = (
        items[0],
        replace(items[2], number=2, prev=items[1].prev),
        replace(items[1], number=3, prev=items[2].prev),
    )
    found = kinds(material(swapped, seals=(), personal={}))
    assert "reordered" in found


def test_observation_slipped_in_with_another_key_breaks_or_stands_unsealed():
    found = material()
    forged = chain(DeviceKey.of_seed(b"3" * 32), [reading(99)])
    report = verify(
        replace(
            found,
            observations=(*found.observations, *forged),
            devices={ONE.device: "van", TWO.device: "desk"},
        )
    )
    assert [remark.id for remark in report.remarks] == [
        "verify.unknown_device",
        "verify.unsealed",
    ]


def test_second_history_of_a_device_is_told():
    found = material()
    fork = chain(ONE, [reading(55)])
    assert "two histories" in kinds(
        replace(found, observations=(*found.observations, *fork))
    )


def test_whole_record_rewritten_with_another_key_fails_the_seal():
    forged = chain(DeviceKey.of_seed(b"3" * 32), [reading(99)])
    assert "missing under seal" in kinds(
        replace(material(), observations=forged, evidence={}, personal={})
    )


def test_changed_seal_is_told():
    found = material()
    seal = replace(found.seals[0], body=found.seals[0].body.replace("5", "6"))
    assert "seal changed" in kinds(replace(found, seals=(seal,)))


def test_seal_that_a_later_one_names_may_not_go_missing():
    found = material()
    later = sealed(found.observations, after=[found.seals[0].id])
    assert verify(replace(found, seals=(*found.seals, later))).clean
    assert kinds(replace(found, seals=(later,))) == ["seal missing"]


@pytest.mark.parametrize(
    ("state", "kind"),
    [("changed", "evidence changed"), ("missing", "evidence missing")],
)
def test_changed_and_missing_evidence_are_told_apart(state, kind):
    assert kinds(material(evidence={PHOTO: state})) == [kind]


def test_personal_value_changed_missing_or_added_is_told():
    other = replace(NAME, value='"t09"')
    assert kinds(material(personal={NAME.sha256: other})) == ["personal changed"]
    assert kinds(material(personal={})) == ["personal missing"]
    added = commit("x", visit="V-1", kind="person", salt=b"t" * 16)
    both = {NAME.sha256: NAME, added.sha256: added}
    assert kinds(material(personal=both)) == ["personal added"]


def test_withheld_personal_values_verify_and_are_said():
    report = verify(material(personal={}, withheld=frozenset({NAME.sha256})))
    assert report.clean
    assert [r.id for r in report.remarks] == ["verify.withheld_personal"]


def test_purged_is_said_and_not_called_missing():
    found = material()
    last = found.observations[2]
    purge = chain(
        ONE,
        [{"item": {"evidence": [PHOTO], "personal": [NAME.sha256], "rule": "photo"}}],
        head=Head(number=last.number, id=last.id),
        kinds={0: "purge"},
    )
    items = (*found.observations, *purge)
    report = verify(material(items, evidence={PHOTO: "missing"}, personal={}))
    assert report.clean
    assert {r.id for r in report.remarks} == {
        "verify.purged_evidence",
        "verify.purged_personal",
    }


def test_unsealed_end_is_said_to_be():
    found = material()
    last = found.observations[2]
    head = Head(number=last.number, id=last.id)
    items = (*found.observations, *chain(ONE, [reading(9)], head=head))
    report = verify(replace(found, observations=items))
    assert report.clean
    assert report.remarks[0].values["count"] == 1


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_taking_away_any_sealed_observations_is_found(data):
    found = material()
    keep = data.draw(st.lists(st.booleans(), min_size=5, max_size=5))
    items = tuple(i for i, k in zip(found.observations, keep, strict=True) if k)
    report = verify(replace(found, observations=items))
    assert report.clean == all(keep)
