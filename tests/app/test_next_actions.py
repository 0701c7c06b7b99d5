"""What to do next: danger first, then homes, guards, and cheap looks at hand."""

import json
from copy import deepcopy
from datetime import timedelta

import numpy as np
import pytest
from tests.app.visit_table import entry

from eavelight.app.assess_visit import assess_visit
from eavelight.app.assessment_json import assessment_json
from eavelight.cli.assess_text import assessment_text
from eavelight.model.finding import Standing
from eavelight.standards.actions import action_kinds

ORDER = tuple(Standing)


def without(table, *kinds, at=None):
    table["reading"] = [
        item
        for item in table["reading"]
        if item["what"] not in kinds or at not in (None, item["at"])
    ]


def add(table, what, at, value, *, minutes=95, **keys):
    time = table["visit"]["started"] + timedelta(minutes=minutes)
    name = f"x{len(table['reading'])}"
    row = {"id": name, "what": what, "at": at, "value": value, "time": time}
    table["reading"].append(row | keys)


def early(table, minutes):
    """The same work, stopped after some minutes; pictures not taken yet."""
    end = table["visit"]["started"] + timedelta(minutes=minutes)
    table["reading"] = [item for item in table["reading"] if item["time"] <= end]
    table["evidence"] = []
    table["visit"].pop("ended", None)


# ---- faults ---------------------------------------------------------------
def foreign_ac(t):
    entry(t, "foreign_volts", kind="ac")["value"] = 40.0


def foreign_unsure(t):
    entry(t, "foreign_volts", kind="dc")["value"] = 2.0


def reversed_pair(t):
    for item in t["reading"]:
        if item["what"] == "volts" and item["at"] == "terminal":
            item["value"] = -abs(item["value"])


def too_many_volts(t):
    for item in t["reading"]:
        if item["what"] == "volts" and item["at"] in {"terminal", "supply"}:
            item["value"] = float(np.copysign(24.0, item["value"]))


def bright_port(t):
    add(t, "level", "port", 14.0, unit="dBm", wavelength_nm=1550)


def wrong_label(t):
    entry(t, "port_label")["value"] = "4/9"


def neighbour_down(t):
    entry(t, "neighbours_affected")["value"] = True


def bend(t):
    entry(t, "loss", "drop", wavelength_nm=1550)["value"] = 4.35
    entry(t, "loss", "drop", wavelength_nm=1310)["value"] = 0.64


def low_port(t, by=4.0):
    for item in t["reading"]:
        if item["what"] in {"level", "level_reported", "level_upstream"}:
            item["value"] = round(item["value"] - by, 2)


def dirty_plug(t):
    entry(t, "endface_stated", "terminal", side="plug")["value"] = "fail"


def poor_splice(t):
    for item in t["reading"]:
        if item["what"] == "splice_estimate":
            item["value"] = 0.25


def bad_crimp(t):
    entry(t, "volts", "terminal", state="loaded")["value"] = 12.3


def no_outlet(t):
    entry(t, "volts", "supply")["value"] = 9.0


def bad_entry(t):
    entry(t, "entry_seen")["value"] = "seal missing"


# what each dangerous thing must put in front
DANGERS = {
    foreign_ac: "stop-foreign-voltage",
    foreign_unsure: "stop-foreign-voltage",
    reversed_pair: "swap-conductors",
    too_many_volts: "stop-overvoltage",
    bright_port: "no-magnifier",
}
OTHERS = (
    wrong_label, neighbour_down, bend, low_port, dirty_plug, poor_splice, bad_crimp,
    no_outlet, bad_entry,
)  # fmt: skip


def actions(table, save):
    return assess_visit(str(save(table)), alone=True).assessment.next_actions


def names(found):
    return [item.action for item in found]


# ---- danger first ---------------------------------------------------------
@pytest.mark.parametrize("danger", DANGERS, ids=lambda fault: fault.__name__)
def test_danger_comes_before_a_wrong_port_a_neighbour_and_a_bend(danger, clean, save):
    for fault in (wrong_label, neighbour_down, bend, danger):
        fault(clean)
    found = actions(clean, save)
    assert found[0].action == DANGERS[danger]
    assert found[0].standing is Standing.DANGER
    assert "restore-neighbour" in names(found)


def test_foreign_voltage_that_cannot_be_told_yet_comes_before_closing(clean, save):
    foreign_unsure(clean)
    found = actions(clean, save)
    assert found[0].action == "stop-foreign-voltage"
    assert "close" not in names(found)


def test_an_unsure_foreign_voltage_is_told_beside_a_reversed_pair(clean, save):
    reversed_pair(clean)
    foreign_unsure(clean)
    assert names(actions(clean, save))[:2] == [
        "stop-foreign-voltage",
        "swap-conductors",
    ]


def test_danger_is_told_once_whatever_place_the_diagnosis_gives_it(clean, save):
    reversed_pair(clean)
    found = names(actions(clean, save))
    assert found.count("swap-conductors") == 1
    assert "thicker-feed" not in found


def test_the_pair_is_not_touched_before_foreign_voltage_was_looked_for(clean, save):
    without(clean, "foreign_volts")
    reversed_pair(clean)
    assert names(actions(clean, save))[:2] == ["measure-foreign", "swap-conductors"]


def test_too_many_volts_are_no_reason_for_a_thicker_cord(clean, save):
    too_many_volts(clean)
    found = actions(clean, save)
    assert found[0].action == "stop-overvoltage"
    assert found[0].why.values["value"] == pytest.approx(24.0)
    assert "thicker-feed" not in names(found)


def test_volts_put_right_are_no_danger_any_more(clean, save):
    too_many_volts(clean)
    for place in ("supply", "terminal"):
        add(clean, "volts", place, 13.5, unit="V", state="no load")
    assert "stop-overvoltage" not in names(actions(clean, save))


def test_foreign_voltage_that_was_accepted_as_it_is_is_left_to_whoever_did(clean, save):
    foreign_ac(clean)
    clean["exception"] = [
        {
            "what": "feed.polarity",
            "at": "box",
            "reason": "induced, bonded since",
            "accepted_by": "desk-2",
        }
    ]
    assert "stop-foreign-voltage" not in names(actions(clean, save))


def test_light_that_was_read_too_strong_closes_the_end_to_everybody(clean, save):
    bend(clean)
    add(clean, "level", "port", 24.0, unit="dBm", wavelength_nm=1550)
    first = actions(clean, save)[0]
    assert (first.action, first.at) == ("light-off", "port")


def test_strong_light_of_the_plan_counts_where_an_end_is_to_be_opened(clean, save):
    for part in clean["plant"]["part"]:
        if part["kind"] == "splitter":
            part["ratio"], part["loss_db"] = 2, 3.4
    clean["plant"]["service"] = [{"pon_class": "video", "launch_dbm": 20.0}]
    without(clean, "level", "level_reported", "level_upstream")
    found = actions(clean, save)
    assert found[0].action == "no-magnifier"
    assert {item.at for item in found if item.standing is Standing.DANGER} == {
        "port",
        "terminal",
    }


def test_gas_or_water_at_the_supply_is_told_until_the_power_is_on(clean, save):
    place = next(
        p for p in clean["supply_place"] if p["name"] == clean["feed"]["place"]
    )
    place["hazards"] = ["sealed space"]
    begun = deepcopy(clean)
    early(begun, 40)
    first = actions(begun, save)[0]
    assert (first.action, first.standing) == ("move-supply", Standing.DANGER)
    assert "move-supply" not in names(actions(clean, save))


def test_danger_in_text_says_so_and_carries_its_cautions(clean, save):
    wrong_label(clean)
    foreign_ac(clean)
    text = assessment_text(assess_visit(str(save(clean)), alone=True))
    assert "1  Danger" in text
    assert "care    Foreign voltage: measure ac and dc" in text
    assert text.index("Danger") < text.index("Then")


def test_json_of_an_action_adds_its_class_and_keeps_what_was(clean, save):
    foreign_ac(clean)
    bend(clean)
    result = assess_visit(str(save(clean)), alone=True).assessment
    data = json.loads(json.dumps(assessment_json(result), allow_nan=False))
    first = data["next_actions"][0]
    assert {"action", "at", "why", "text", "minutes", "resolves"} <= set(first)
    assert first["standing"] == "danger"
    assert first["guards"] is None
    assert any("Mains" in text for text in first["cautions"])
    assert all(item["passed"] for item in data["before"])


@pytest.mark.parametrize("seed", range(60))
def test_whatever_else_is_wrong_danger_leads(seed, clean, save):
    rng = np.random.default_rng(seed)
    dangers = [f for f in DANGERS if rng.uniform() < 0.3] or [foreign_ac]
    others = [f for f in OTHERS if rng.uniform() < 0.4]
    for fault in rng.permutation(np.array([*others, *dangers], dtype=object)):
        fault(clean)
    if rng.uniform() < 0.4:
        early(clean, int(rng.integers(55, 75)))
        add(clean, "volts", "terminal", -13.0, minutes=76, unit="V", state="no load")
        dangers = [f for f in dangers if f is foreign_ac] + [reversed_pair]
    found = actions(clean, save)
    classes = [ORDER.index(item.standing) for item in found]
    assert classes == sorted(classes)
    told = {item.action for item in found if item.standing is Standing.DANGER}
    assert {DANGERS[fault] for fault in dangers} <= told
    plain = [item for item in found if item.standing is Standing.PLAIN]
    away = [i for i, a in enumerate(plain) if action_kinds()[a.action].away]
    near = [i for i, item in enumerate(plain) if item.nearby]
    assert not away or not near or max(near) < min(away)


# ---- points of no return --------------------------------------------------
def test_the_fibre_is_proven_before_it_is_cut_and_foreign_volts_before_power(
    clean, save
):
    early(clean, 12)
    found = actions(clean, save)
    guards = [(item.action, item.guards) for item in found if item.guards]
    assert guards[0] == ("prove-fibre", "cut")
    assert ("measure-foreign", "plug in") in guards


def test_a_dirty_plug_is_cleaned_before_mating_and_not_told_so_after(clean, save):
    dirty_plug(clean)
    begun = deepcopy(clean)
    early(begun, 45)
    first = actions(begun, save)[0]
    assert (first.action, first.at) == ("clean-both-faces", "terminal")
    assert (first.standing, first.guards) == (Standing.GUARD, "mate")
    assert all(item.guards is None for item in actions(clean, save))


def test_what_cannot_be_undone_guards_nothing(clean, save):
    poor_splice(clean)
    early(clean, 45)
    splices = [a for a in actions(clean, save) if a.action == "re-splice"]
    assert [item.guards for item in splices] == [None]


def test_an_audit_waits_for_no_step(clean, save):
    clean["visit"]["purpose"] = "audit"
    early(clean, 12)
    assert all(item.guards is None for item in actions(clean, save))


# ---- cheap looks at hand before the street --------------------------------
STREET = {"check-port", "call-desk-registration", "call-desk-upstream"}


def before_the_street(found):
    far = [i for i, item in enumerate(found) if item.action in STREET]
    return [(item.action, item.at) for item in found[: min(far)]]


def test_a_port_face_that_nobody_looked_at_comes_before_the_street(clean, save):
    low_port(clean)
    without(clean, "endface_stated", at="port")
    assert ("look-at-faces", "port") in before_the_street(actions(clean, save))


def test_a_dirty_port_face_is_cleaned_before_the_street(clean, save):
    low_port(clean)
    entry(clean, "endface_stated", "port", side="plug")["value"] = "fail"
    assert ("clean-both-faces", "port") in before_the_street(actions(clean, save))


def test_a_level_that_no_second_one_bears_out_is_read_again_first(clean, save):
    low_port(clean)
    without(clean, "level", "level_reported", at="terminal")
    assert ("measure-level", "port") in before_the_street(actions(clean, save))


def test_with_the_label_read_right_a_call_comes_before_the_walk(clean, save):
    low_port(clean)
    found = names(actions(clean, save))
    assert found.index("call-desk-registration") < found.index("check-port")


def test_what_settles_a_cause_is_no_walk_to_a_label_read_right(clean, save):
    low_port(clean)
    first = assess_visit(str(save(clean)), alone=True).assessment.causes[0]
    assert first["cause"] == "wrong-split"
    assert first["settle"].id == "action.call-desk-registration"


def test_a_wrong_label_still_leads_to_the_street_at_once(clean, save):
    low_port(clean)
    wrong_label(clean)
    without(clean, "endface_stated", at="port")
    first = actions(clean, save)[0]
    assert (first.action, first.standing) == ("check-port", Standing.OTHER_HOME)


def test_the_network_is_not_asked_of_a_terminal_without_power(clean, save):
    early(clean, 35)
    order = names(actions(clean, save))
    assert "call-desk-registration" in order
    for sooner in ("measure-level", "measure-loss-closed", "measure-loaded"):
        assert order.index(sooner) < order.index("call-desk-registration")


def test_a_clock_that_cannot_be_leads_where_nothing_else_is_wrong(clean, save):
    entry(clean, "seconds_stable")["value"] = 90000.0
    found = actions(clean, save)
    assert found[0].action == "correct-times"
