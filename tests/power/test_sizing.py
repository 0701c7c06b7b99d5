"""Battery and conductor for a target."""

import math

import pytest
from tests.power.blocks import BLOCK, MODELS, circuit

from eavelight.power.conductor import awg_area_mm2, loop_resistance_ohm
from eavelight.power.discharge import runtime_band
from eavelight.power.feed import maximum_loop_ohm
from eavelight.power.sizing import (
    capacity_for_target_ah,
    required_capacity_ah,
    thinnest_gauge,
)


def test_the_sized_battery_just_meets_the_target() -> None:
    given = {"profile": [(0.0, 6.0)]}
    ah = capacity_for_target_ah(
        MODELS, BLOCK, circuit(1.3), target_h=8.0, rated_ah=7.2, capacity=0.57, **given
    )
    for scale, meets in ((1.0, True), (0.98, False)):
        models = [model.scaled(ah / 7.2 * scale) for model in MODELS]
        band = runtime_band(models, BLOCK, circuit(1.3), capacity=(0.57, 0.57), **given)
        assert (band.low_h >= 8.0) is meets


def test_no_battery_helps_a_cable_that_cannot_carry_the_load() -> None:
    ah = capacity_for_target_ah(
        MODELS,
        BLOCK,
        circuit(6.0),
        profile=[(0.0, 10.0)],
        target_h=8.0,
        rated_ah=7.2,
        capacity=1.0,
    )
    assert math.isnan(ah)


def test_warmth_is_not_credited_in_sizing() -> None:
    assert required_capacity_ah(5.0, temperature_factor=0.9) == 5.0


def test_the_thinnest_gauge_holds_and_the_next_thinner_does_not() -> None:
    most = float(maximum_loop_ohm(11.0, 8.0, 10.0))
    gauge = thinnest_gauge(range(10, 27), 25.0, maximum_loop_ohm=most)
    assert gauge is not None
    assert float(loop_resistance_ohm(25.0, awg_area_mm2(gauge))) <= most
    assert float(loop_resistance_ohm(25.0, awg_area_mm2(gauge + 1))) > most


def test_no_gauge_at_hand_may_be_thick_enough() -> None:
    assert thinnest_gauge([24, 26], 100.0, maximum_loop_ohm=1.0) is None


def test_two_pairs_allow_a_thinner_gauge() -> None:
    one = thinnest_gauge(range(10, 27), 25.0, maximum_loop_ohm=1.2)
    two = thinnest_gauge(range(10, 27), 25.0, maximum_loop_ohm=1.2, pairs=2)
    assert two == pytest.approx(one + 3, abs=0)
