"""Dew: margins with and without power, and no dry verdict for a bad entry."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.climate.dew import dew_hours, dew_risk, night_box


def test_three_watts_warm_the_air_but_not_the_lid():
    powered = night_box(5.0, power_w=3.0, sky_c=-12.0)
    assert powered.air_c == pytest.approx(7.13, abs=0.05)
    assert powered.lid_c == pytest.approx(4.28, abs=0.05)
    assert powered.lid_c < 5.0


def test_an_unpowered_box_is_wet_in_a_damp_night():
    risk = dew_risk(5.0, 0.95, power_w=0.0, sealed=True)
    assert risk.verdict == "wet"
    assert risk.because == ("lid below dew point",)


def test_a_powered_box_in_dry_air_is_dry():
    risk = dew_risk(12.0, 0.4, power_w=6.0, sealed=True)
    assert risk.verdict == "dry"
    assert risk.measures == ()


@settings(deadline=None, max_examples=40)
@given(
    air=st.floats(-25.0, 30.0),
    humidity=st.floats(0.05, 1.0),
    power=st.floats(0.0, 20.0),
)
def test_a_bad_or_unseen_entry_is_never_dry(air, humidity, power):
    for sealed in (False, None):
        assert dew_risk(air, humidity, power_w=power, sealed=sealed).verdict != "dry"


@settings(deadline=None, max_examples=30)
@given(air=st.floats(-25.0, 30.0), humidity=st.floats(0.1, 0.98))
def test_power_and_clouds_keep_the_lid_drier(air, humidity):
    off = dew_risk(air, humidity, power_w=0.0, sealed=True)
    on = dew_risk(air, humidity, power_w=6.0, sealed=True)
    cloud = dew_risk(air, humidity, power_w=0.0, sealed=True, cloud_tenths=10.0)
    assert on.lid_above_dew_k > off.lid_above_dew_k
    assert cloud.lid_above_dew_k > off.lid_above_dew_k
    assert on.unpowered_above_dew_k == pytest.approx(off.lid_above_dew_k)


def test_a_box_dry_with_power_can_be_wet_without():
    risk = dew_risk(8.0, 0.86, power_w=8.0, sealed=True)
    assert risk.verdict == "dry"
    assert risk.because == ("wet without power",)
    assert "vent and drain at the lowest point" in risk.measures


def test_a_vent_that_is_there_is_not_asked_for_again():
    risk = dew_risk(5.0, 0.95, power_w=3.0, sealed=True, vented=True)
    assert risk.measures == ("close in dry air",)


def test_below_freezing_the_frost_point_counts():
    risk = dew_risk(-5.0, 0.8, power_w=0.0, sealed=True)
    assert risk.wet_at_c == pytest.approx(-7.01, abs=0.03)


def test_an_unpowered_box_gets_wet_from_about_86_percent():
    night = night_box(5.0, power_w=0.0, sky_c=-12.0)
    just_wet = dew_risk(5.0, 0.99, power_w=0.0, sealed=True)
    assert night.wet_from_humidity == pytest.approx(0.86, abs=0.01)
    assert just_wet.lid_above_dew_k < 0.0


def test_hours_below_dew_are_counted():
    lid = np.array([4.0, 3.0, 2.0, 6.0])
    assert dew_hours(lid, 3.0, step_h=0.5) == 1.0
    assert dew_hours(lid, 3.0, step_h=0.5, margin_k=1.0) == 1.5
