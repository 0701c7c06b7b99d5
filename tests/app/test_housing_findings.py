"""The box on whole visits: three invented houses, what their wall asks for, actions."""

import subprocess
import sys
from datetime import timedelta

import pytest

from eavelight.app.assess_visit import assess_visit
from eavelight.app.plan_visit import plan_visit
from eavelight.assess.actions import RULES
from eavelight.standards.actions import action_kinds
from eavelight.wording import catalogue, say

pytest.importorskip("pvlib")

HOUSES = {
    "desert": {
        "site": {"latitude": 33.0, "longitude": -113.1, "elevation_m": 300},
        "housing": {"facing_deg": 270, "internal_w": 8.0, "rated_high_c": 60},
    },
    "north": {
        "site": {"latitude": 65.6, "longitude": 23.4, "elevation_m": 20, "snow": True},
        "housing": {"facing_deg": 180, "internal_w": 6.0, "rated_high_c": 60},
    },
    "coast": {
        "site": {"latitude": 53.2, "longitude": -9.3, "elevation_m": 15},
        "housing": {"facing_deg": 225, "internal_w": 5.0, "colour": "white aged"},
    },
}


@pytest.fixture
def house(clean, save):
    def build(name):
        clean["site"] = {"key": "S-900", **HOUSES[name]["site"]}
        clean["housing"] |= {"shade": "none", **HOUSES[name]["housing"]}
        return save(clean)

    return build


def the(assessment, requirement):
    return next(f for f in assessment.findings if f.requirement == requirement)


def assessed(folder):
    return assess_visit(str(folder), alone=True).assessment


def advice(folder):
    return plan_visit(str(folder)).housing.house.advice


def test_the_desert_shades_the_top_and_paints_before_it_turns_the_box(house):
    folder = house("desert")
    result = assessed(folder)
    assert the(result, "housing.hot").verdict == "fail"
    assert result.state == "not ready"
    names = [action.action for action in result.next_actions]
    assert names[:2] == ["shade-top", "paint-light"]
    assert names.index("other-wall") > names.index("paint-light")
    planned = [item.advice for item in advice(folder)]
    assert planned[:2] == ["shade the top", "paint light"]
    assert the(result, "housing.dew").verdict == "pass"


def test_the_snowy_north_is_told_about_daily_cycling_not_heat(house):
    folder = house("north")
    assert the(assessed(folder), "housing.hot").verdict == "pass"
    planned = advice(folder)
    assert "daily cycling" in [item.advice for item in planned]
    assert "heat" not in {item.about for item in planned}


def test_the_mild_coast_is_told_about_dew_and_drain(house):
    folder = house("coast")
    result = assessed(folder)
    assert the(result, "housing.hot").verdict == "pass"
    dew = the(result, "housing.dew")
    assert "vent and drain at the lowest point" in say(dew.because)
    assert "vent and drain at the lowest point" in [i.advice for i in advice(folder)]
    assert result.state == "ready"
    assert result.next_actions[0].action == "close"


def test_plan_and_verdict_speak_of_the_same_box(house):
    folder = house("desert")
    planned = plan_visit(str(folder)).housing
    hot = the(assessed(folder), "housing.hot").expected.value
    assert hot == pytest.approx(planned.house.hot.air_c, abs=0.1)
    cold = the(assessed(folder), "housing.cold").expected.value
    assert cold == pytest.approx(planned.cold.air_c, abs=1e-6)


def test_an_accepted_hot_box_no_longer_blocks(clean, save, house):
    house("desert")
    clean["exception"] = [
        {"what": "housing.hot", "at": "box", "reason": "cover ordered",
         "accepted_by": "desk-2"}
    ]  # fmt: skip
    result = assessed(save(clean))
    assert the(result, "housing.hot").verdict == "fail"
    assert result.state == "ready"


def test_a_measured_box_is_part_of_the_record(clean, save):
    time = clean["reading"][0]["time"]
    for minutes, at, value in ((1, "outside", 9.0), (2, "box", 14.0)):
        clean["reading"].append(
            {"id": f"t-{at}", "what": "temperature", "at": at, "value": value,
             "unit": "°C", "time": time + timedelta(minutes=minutes)}
        )  # fmt: skip
    hot = the(assessed(save(clean)), "housing.hot")
    assert hot.measured.value == 14.0
    assert hot.observations == ("t-box", "t-outside")


def test_a_bad_entry_keeps_the_box_from_being_called_dry(clean, save):
    for item in clean["reading"]:
        if item["what"] == "entry_seen":
            item["value"] = "seal missing"
    result = assessed(save(clean))
    assert the(result, "housing.entry").verdict == "fail"
    assert the(result, "housing.dew").verdict != "pass"
    assert result.next_actions[0].action == "mend-entry"


def test_a_narrow_loop_of_the_plan_fails_although_it_was_called_good(clean, save):
    clean["entry"][1]["loop_width_mm"] = 100
    result = assessed(save(clean))
    assert the(result, "housing.entry").verdict == "fail"
    close = next(step for step in result.before if step.step == "close")
    assert close.against


def test_without_a_box_the_visit_is_judged_as_before(clean, save):
    del clean["housing"]
    result = assessed(save(clean))
    assert result.state == "ready"
    assert {
        str(item.verdict)
        for item in result.findings
        if item.requirement in {"housing.hot", "housing.cold", "housing.dew"}
    } == {"not measured"}


LOADED = """
import sys
from eavelight.app.assess_visit import assess_visit
from eavelight.app.plan_visit import plan_visit
assess_visit(sys.argv[1], alone=True)
plan_visit(sys.argv[1])
print([name for name in ("pvlib", "pandas", "h5py") if name in sys.modules])
"""


@pytest.mark.parametrize(("boxed", "loaded"), [(False, False), (True, True)])
def test_the_sun_is_loaded_only_for_a_box(clean, save, boxed, loaded):
    if not boxed:
        del clean["housing"]
    command = [sys.executable, "-c", LOADED, str(save(clean))]
    found = subprocess.run(command, capture_output=True, text=True, check=True)
    assert ("pvlib" in found.stdout) is loaded


@pytest.mark.parametrize(
    "requirement", ["housing.hot", "housing.cold", "housing.dew", "housing.entry"]
)
def test_every_housing_failure_has_an_action(requirement):
    assert requirement in RULES


def test_housing_actions_have_words():
    names = {
        "shade-top", "paint-light", "other-wall", "full-shade", "vent-and-drain",
        "measure-box", "ask-cold-start", "ask-heat-rating",
    }  # fmt: skip
    assert names <= set(action_kinds())
    assert {f"action.{name}" for name in names} <= set(catalogue())
