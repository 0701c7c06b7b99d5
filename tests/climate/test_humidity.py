"""Moist air against psychrolib, and the three answers below freezing."""

import sys

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.climate.humidity import (
    _psychrolib,
    breathing,
    dew_point,
    dew_point_ashrae,
    frost_point,
    pressure_at,
    relative_humidity_from_specific,
    vapour_density,
    vapour_pressure,
    water_dropped,
)
from eavelight.errors import MissingFeatureError

# The Magnus form is good to 0.3 % of the vapour pressure: 0.05 K of dew point.
MAGNUS_K = 0.06


@settings(deadline=None, max_examples=50)
@given(air=st.floats(5.0, 45.0), humidity=st.floats(0.35, 1.0))
def test_dew_point_is_that_of_psychrolib(air, humidity):
    expected = dew_point_ashrae(air, humidity)
    if expected > 0:
        assert float(dew_point(air, humidity)) == pytest.approx(expected, abs=MAGNUS_K)


@settings(deadline=None, max_examples=30)
@given(air=st.floats(-35.0, -1.0), humidity=st.floats(0.4, 1.0))
def test_frost_point_over_ice_is_that_of_psychrolib(air, humidity):
    ours = float(frost_point(air, humidity, humidity_over="ice"))
    assert ours == pytest.approx(dew_point_ashrae(air, humidity), abs=MAGNUS_K)


@settings(deadline=None, max_examples=30)
@given(
    air=st.floats(0.0, 40.0), share=st.floats(2.0, 15.0), height=st.floats(0.0, 2500.0)
)
def test_humidity_from_specific_is_that_of_psychrolib(air, share, height):
    dew_point_ashrae(20.0, 0.5)  # sets SI once, as the room does
    pressure = pressure_at(height)
    ratio = psychrolib.GetHumRatioFromSpecificHum(share / 1000.0)
    vapour = psychrolib.GetVapPresFromHumRatio(ratio, pressure)
    expected = min(1.0, vapour / psychrolib.GetSatVapPres(air))
    ours = relative_humidity_from_specific(share, air, pressure_pa=pressure)
    assert ours == pytest.approx(expected, rel=0.004)


def test_pressure_of_the_standard_atmosphere_is_that_of_psychrolib():
    dew_point_ashrae(20.0, 0.5)
    for height in (0.0, 500.0, 1650.0, 3000.0):
        expected = psychrolib.GetStandardAtmPressure(height)
        assert pressure_at(height) == pytest.approx(expected, rel=1e-5)


def test_below_freezing_three_definitions_give_three_answers():
    over_water = float(frost_point(-5.0, 0.8, humidity_over="water"))
    over_ice = float(frost_point(-5.0, 0.8, humidity_over="ice"))
    dew = float(dew_point(-5.0, 0.8))
    assert over_water > over_ice > dew
    assert over_water - dew == pytest.approx(0.9, abs=0.1)


def test_frost_point_asks_what_the_humidity_is_over():
    with pytest.raises(ValueError, match="humidity_over"):
        frost_point(-5.0, 0.8, humidity_over="steel")


@pytest.mark.parametrize("humidity", [0.0, -0.1, 60.0, float("nan")])
def test_a_humidity_that_is_no_fraction_is_refused(humidity):
    with pytest.raises(ValueError, match="relative_humidity"):
        dew_point(20.0, humidity)


def test_saturated_air_is_at_its_dew_point():
    assert float(dew_point(12.3, 1.0)) == pytest.approx(12.3, abs=1e-9)


def test_ice_and_water_meet_at_freezing():
    water, ice = vapour_pressure(0.0), vapour_pressure(0.0, over="ice")
    assert float(water) == pytest.approx(float(ice))


def test_a_box_that_stays_above_its_dew_point_drops_nothing():
    dropped = water_dropped(25.0, 0.3, cooled_to_c=15.0, volume_m3=0.0075)
    assert dropped == 0.0


def test_a_box_that_does_not_cool_draws_nothing_in():
    assert breathing(20.0, 20.0, pressure_pa=101_325.0) == (0.0, 0.0)


def test_warm_air_holds_more_water():
    assert vapour_density(30.0, 0.5) > vapour_density(10.0, 0.9)


@pytest.mark.parametrize("share", [0.0, 150.0])
def test_an_impossible_share_of_vapour_is_refused(share):
    with pytest.raises(ValueError, match="specific_humidity"):
        relative_humidity_from_specific(share, 20.0, pressure_pa=101_325.0)


def test_heights_outside_the_lower_atmosphere_are_refused():
    with pytest.raises(ValueError, match="elevation_m"):
        pressure_at(20_000.0)


def test_without_its_library_the_handbook_curve_names_the_part_it_needs(monkeypatch):
    monkeypatch.setitem(sys.modules, "psychrolib", None)
    _psychrolib.cache_clear()
    with pytest.raises(MissingFeatureError, match="sun"):
        dew_point_ashrae(20.0, 0.5)
    _psychrolib.cache_clear()
