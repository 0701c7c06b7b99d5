"""The plan in JSON: the keys of the contract, plain numbers, nothing unplanned."""

import json
from typing import Any

import pytest

from eavelight.app.plan_json import plan_json
from eavelight.app.plan_visit import plan_visit

SECTIONS = {
    "feed": {"feed", "places", "conductors", "status"},
    "tray": {"tray"},
    "housing": {"housing", "walls"},
    "entry": {"entries", "entry_slack_m", "sheath_movement_mm"},
}


@pytest.fixture
def dry(clean: dict[str, Any]) -> dict[str, Any]:
    """The clean visit without the sun, which other tests have."""
    for key in ("reading", "evidence", "housing"):
        clean.pop(key)
    return clean


@pytest.fixture
def made(save):
    def make(table: dict[str, Any]) -> Any:
        data = plan_json(plan_visit(str(save(table))))
        return json.loads(json.dumps(data, allow_nan=False))

    return make


def test_every_key_of_the_contract_is_there(clean, made):
    pytest.importorskip("pvlib")
    data = made(clean)
    assert data["schema"] == "eavelight.plan/1"
    level = data["expected_level_dbm"]["terminal"]["1490"]
    assert {"value", "u"} <= level.keys()
    assert {"drop", "path"} <= data["expected_loss_db"].keys()
    window = ("odn_min_db", "odn_max_db", "floor_dbm", "ceiling_dbm")
    assert [data["class"][key] for key in window] == [13.0, 28.0, -26.5, -8.0]
    feed = data["feed"]
    for state in ("float", "cutoff"):
        assert {"idle", "peak"} == feed["volts_at_terminal"][state].keys()
    assert {"loop_ohm", "collapse_v", "min_supply_v", "max_length_m"} <= feed.keys()
    for case in ("today", "cold", "end_of_life"):
        low, high = feed["runtime_h"][case]
        assert 0 < low <= high
    housing = data["housing"]
    assert {"hot", "cold"} <= housing["air_c"].keys()
    assert "hot" in housing["skin_c"]
    assert {"hot", "cold", "source"} <= housing["outside_c"].keys()
    fibre = {"scheme", "tube", "tube_colour", "fibre", "fibre_colour", "code"}
    assert fibre <= data["fibre_identity"].keys()
    for name in ("places", "walls", "conductors", "bring", "cautions"):
        assert isinstance(data[name], list)
        assert data[name]
    assert len(data["walls"]) == 12


@pytest.mark.parametrize("section", ["feed", "tray", "entry"])
def test_a_section_that_was_not_planned_is_absent(dry, made, section):
    before = made(dry)
    dry.pop(section)
    if section == "feed":
        dry.pop("supply_place")
    gone = before.keys() - made(dry).keys()
    assert gone == SECTIONS[section] & before.keys()
    assert section in before or section == "entry"


def test_a_feed_without_a_battery_has_volts_and_no_hours(dry, made):
    del dry["feed"]["battery"]
    data = made(dry)
    assert "runtime_h" not in data["feed"]
    assert data["feed"]["volts_at_terminal"]["float"]["idle"] > 13


def test_a_collapse_is_null(dry, made):
    dry["feed"] |= {"awg": 28, "length_m": 300}
    volts = made(dry)["feed"]["volts_at_terminal"]
    assert volts["cutoff"]["peak"] is None


def test_fibre_is_told_by_number_colour_code_and_position(dry, made):
    dry["assignment"] |= {"tube": 2, "fibre": 5}
    found = made(dry)["fibre_identity"]
    shown = [found[k] for k in ("tube_colour", "fibre_colour", "code", "position")]
    assert shown == ["orange", "slate", "OR-SL", 17]


def test_without_a_tube_none_is_made_up(dry, made):
    del dry["assignment"]["tube"]
    found = made(dry)["fibre_identity"]
    assert found["tube"] is None
    assert found["tube_colour"] is None
    assert found["code"] == "BL"


def test_a_class_without_limits_gives_null_and_no_level(dry, made):
    dry["plant"]["pon_class"] = "epon-px30"
    del dry["plant"]["launch_dbm"]
    data = made(dry)
    assert data["class"]["floor_dbm"] is None
    assert "expected_level_dbm" not in data
    assert any("launch" in text for text in data["incomplete"])


def test_other_light_stands_at_its_own_wavelength(dry, made):
    dry["plant"]["service"] = [
        {"pon_class": "video", "launch_dbm": 18.0},
        {"pon_class": "xgspon-n1", "launch_dbm": 3.5},
    ]
    data = made(dry)
    hub = data["expected_level_dbm"]["hub"]
    assert hub["1550"]["value"] == 18.0
    assert hub["1577"]["value"] == 3.5
    assert hub["1490"]["value"] == 3.2
    found = data["coexistence"]
    strongest = found["services"][1]["level_dbm"]["terminal"]["value"]
    assert found["broadband_dbm"]["terminal"] > strongest


def test_without_coordinates_the_heat_is_null_and_the_cold_is_known(clean, made):
    for key in ("latitude", "longitude"):
        del clean["site"][key]
    clean["site"] |= {"low_c": -20, "high_c": 35, "extremes_source": "operator"}
    data = made(clean)
    assert data["housing"]["air_c"]["hot"] is None
    assert data["housing"]["outside_c"]["source"] == "operator"
    assert -25 < data["housing"]["air_c"]["cold"] < 0
    assert "walls" not in data


def test_an_outside_rating_is_held_against_outside_air(clean, made):
    clean["housing"]["rating_refers_to"] = "outside air"
    clean["site"] |= {"low_c": -20, "high_c": 35, "extremes_source": "operator"}
    for key in ("latitude", "longitude"):
        del clean["site"][key]
    held = made(clean)["housing"]["held"]
    assert held["hot"]["margin_k"] == pytest.approx(30.0)
    assert held["cold"]["margin_k"] == pytest.approx(20.0)
