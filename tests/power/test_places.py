"""Places for the supply: hard noes first, then what decides."""

import math
from dataclasses import replace

import pytest
from tests.power.blocks import BLOCK, MODELS

from eavelight.power.battery import TemperatureTable
from eavelight.power.places import (
    Place,
    Supply,
    compare_places,
    place_result,
    year_of_temperatures_c,
)

SUPPLY = Supply(
    models=MODELS,
    block=BLOCK,
    profile=((0.0, 4.5),),
    idle_w=4.5,
    peak_w=8.0,
    terminal_min_v=10.0,
    cutoff_v=11.0,
    loop_ohm_per_km=41.9,
    temperature=TemperatureTable(
        temperature_c=(-20.0, 0.0, 25.0),
        low=(0.48, 0.71, 1.0),
        high=(0.73, 0.85, 1.0),
        covered_c=(-3.9, 51.7),
    ),
    reference_years=(3.0, 5.0),
    halving_k=(8.0, 10.0),
    reference_c=25.0,
    charge_window_c=(-20.0, 50.0),
    empty_freezes_c=-8.0,
    refused=("splash", "floods", "switched outlet", "sealed space", "fuel appliance"),
)
GARAGE = Place(
    name="garage", length_m=25.0, low_c=-5.0, high_c=38.0, hazards=("vehicles",)
)
CLOSET = Place(name="closet", length_m=12.0, low_c=16.0, high_c=27.0)


def test_a_refused_place_comes_last_whatever_its_hours() -> None:
    wet = replace(CLOSET, name="laundry", hazards=("splash",), length_m=5.0)
    order = [
        r.name for r in compare_places([wet, GARAGE, CLOSET], SUPPLY, target_h=4.0)
    ]
    assert order == ["closet", "garage", "laundry"]
    assert place_result(wet, SUPPLY, target_h=4.0).deciding == "refused: splash"


def test_a_hazard_that_is_not_a_refusal_is_a_caution() -> None:
    result = place_result(GARAGE, SUPPLY, target_h=4.0)
    assert result.cautions == ("vehicles",)
    assert result.refusals == ()


def test_below_the_table_the_hours_are_marked_as_not_covered() -> None:
    assert place_result(GARAGE, SUPPLY, target_h=4.0).covered is False
    assert place_result(CLOSET, SUPPLY, target_h=4.0).covered is True


def test_the_longest_cord_is_where_the_volts_give_out() -> None:
    result = place_result(CLOSET, SUPPLY, target_h=1.0)
    near = replace(CLOSET, length_m=result.longest_m * 0.99)
    far = replace(CLOSET, length_m=result.longest_m * 1.01)
    assert place_result(near, SUPPLY, target_h=1.0).cutoff_peak_v >= 10.0
    worse = place_result(far, SUPPLY, target_h=1.0)
    assert worse.deciding == "volts"
    assert not worse.meets_target


def test_a_cord_far_too_long_collapses() -> None:
    result = place_result(replace(CLOSET, length_m=200.0), SUPPLY, target_h=1.0)
    assert math.isnan(result.cutoff_peak_v)


def test_a_joint_takes_its_share_of_the_length() -> None:
    joint = replace(SUPPLY, joint_ohm=0.419)
    whole = place_result(CLOSET, SUPPLY, target_h=1.0).longest_m
    assert place_result(CLOSET, joint, target_h=1.0).longest_m == pytest.approx(
        whole - 10.0
    )


def test_lithium_in_a_cold_garage_is_refused() -> None:
    lithium = replace(SUPPLY, charge_window_c=(0.0, 45.0))
    assert place_result(GARAGE, lithium, target_h=1.0).deciding == "charging"


def test_too_cold_for_an_empty_battery_is_told() -> None:
    cold = replace(CLOSET, low_c=-15.0, high_c=60.0)
    assert place_result(cold, SUPPLY, target_h=1.0).cautions == (
        "charging hot",
        "freezes when empty",
    )


def test_a_hot_place_ages_the_battery() -> None:
    hot = replace(CLOSET, low_c=20.0, high_c=45.0)
    cool = place_result(CLOSET, SUPPLY, target_h=1.0).life
    assert place_result(hot, SUPPLY, target_h=1.0).life[0] < cool[0]


def test_hours_decide_when_the_target_is_out_of_reach() -> None:
    assert place_result(CLOSET, SUPPLY, target_h=24.0).deciding == "hours"
    assert place_result(CLOSET, SUPPLY, target_h=4.0).deciding == "none"


def test_without_a_peak_no_length_is_too_long() -> None:
    dark = replace(SUPPLY, idle_w=0.0, peak_w=0.0)
    assert place_result(CLOSET, dark, target_h=1.0).longest_m == math.inf


def test_a_year_lies_between_its_extremes() -> None:
    year = year_of_temperatures_c(-5.0, 38.0)
    assert year.min() >= -5.0
    assert year.max() <= 38.0
    with pytest.raises(ValueError, match="high_c"):
        year_of_temperatures_c(10.0, 0.0)
