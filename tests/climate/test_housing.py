"""Cold, rating and measurement: what is held against what."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.climate.design_day import Box, Choice
from eavelight.climate.housing import (
    MODEL_U_K,
    Place,
    bright_winter_day,
    case_rise,
    cold_night,
    held_against,
    hot_day,
    measured_peak,
    measured_peak_any_sky,
    overcast,
    rise_at,
)
from eavelight.climate.sun import clear_day

PHOENIX = Place(latitude_deg=33.43, longitude_deg=-112.02, elevation_m=337.0)
WEST = Choice(facing_deg=270.0, absorptance=0.5)


def test_cold_night_is_case_e_of_the_sheet():
    cold = cold_night(-40.0, Box(power_w=10.0))
    # The sheet's sky of -62 °C is that of saturated air; ours comes out 0.4 K colder.
    assert cold.air_c == pytest.approx(-27.45, abs=0.1)
    assert cold.unpowered_air_c < -40.0


def test_hot_day_gives_the_peak_of_the_run():
    hot = hot_day(PHOENIX, Box(), mounted=WEST, high_c=43.4)
    assert hot.air_c == pytest.approx(63.6, abs=0.5)
    assert hot.skin_c == pytest.approx(hot.run.front_c.max())


def held(refers_to, **changed):
    values = {"outside_c": 43.0, "air_c": 64.0, "power_w": 6.0, "hot": True}
    return held_against(60.0, refers_to=refers_to, **(values | changed))


def test_a_rating_is_held_against_what_it_is_about():
    assert held("outside air").margin_k == pytest.approx(17.0)
    assert held("air in box").margin_k == pytest.approx(-4.0)
    assert held("case").compared_c == pytest.approx(64.0 + case_rise(6.0))


def test_a_rating_about_outside_air_has_no_doubt_of_the_model():
    assert held("outside air", outside_u_k=2.0).u_k == 2.0
    assert held("air in box", outside_u_k=2.0).u_k == pytest.approx(3.2, abs=0.01)


def test_the_case_is_known_less_well_than_the_air():
    assert held("case").u_k > held("air in box").u_k == MODEL_U_K


def test_a_cold_rating_counts_the_other_way():
    cold = held_against(
        -40.0, refers_to="air in box", outside_c=-35.0, air_c=-30.0, power_w=6.0,
        hot=False,
    )  # fmt: skip
    assert cold.margin_k == pytest.approx(10.0)


def test_an_unknown_reference_is_refused():
    with pytest.raises(ValueError, match="refers_to"):
        held("board")


def test_snow_swings_a_northern_box_by_tens_of_kelvin():
    place = Place(latitude_deg=64.93, longitude_deg=25.35, elevation_m=15.0, snow=True)
    south = Choice(facing_deg=180.0, absorptance=0.5)
    snow = bright_winter_day(place, Box(), mounted=south)
    bare = bright_winter_day(
        Place(latitude_deg=64.93, longitude_deg=25.35, elevation_m=15.0), Box(),
        mounted=south,
    )  # fmt: skip
    assert snow.high_c - snow.outside_c == pytest.approx(30.4, abs=1.5)
    assert snow.swing_k > bare.swing_k
    assert snow.run.front_sun_w_per_m2.max() == pytest.approx(1030.0, abs=20.0)


def rise(time_h, sky, day_of_year=202):
    return rise_at(
        PHOENIX, Box(), mounted=WEST, day_of_year=day_of_year, time_h=time_h,
        outside_c=40.0, sky=sky,
    )  # fmt: skip


def test_the_sky_decides_what_a_measurement_is_compared_with():
    clear, grey, night = rise(15.5, "clear"), rise(15.5, "overcast"), rise(2.0, "night")
    assert clear > grey > night > 0.0


def test_an_unstated_sky_is_refused():
    with pytest.raises(ValueError, match="sky"):
        rise(15.5, "")


def test_a_measurement_that_agrees_confirms_the_model_and_narrows_it():
    found = measured_peak(
        60.0, 40.0, model_rise_then_k=20.0, model_rise_design_k=20.0,
        design_outside_c=45.0, u_measured_k=1.4,
    )  # fmt: skip
    assert found.air_c == pytest.approx(65.0)
    assert found.coverage == 1.0
    assert found.u_k == pytest.approx(1.4)


def test_a_night_measurement_leaves_most_of_the_doubt():
    found = measured_peak(
        22.0,
        15.0,
        model_rise_then_k=6.0,
        model_rise_design_k=24.0,
        design_outside_c=45.0,
    )
    assert found.coverage == pytest.approx(0.25)
    assert found.u_k > 2.5


def test_a_box_that_barely_warms_is_compared_by_difference():
    found = measured_peak(
        11.0,
        10.0,
        model_rise_then_k=0.5,
        model_rise_design_k=20.0,
        design_outside_c=40.0,
    )
    assert found.air_c == pytest.approx(60.5)
    assert found.scale == 1.0


@settings(deadline=None, max_examples=40)
@given(
    inside=st.floats(-20.0, 90.0),
    then=st.floats(-5.0, 40.0),
    design=st.floats(0.0, 45.0),
)
def test_a_hotter_measurement_never_predicts_a_cooler_box(inside, then, design):
    cooler, hotter = (
        measured_peak(
            t, 20.0, model_rise_then_k=then, model_rise_design_k=design,
            design_outside_c=40.0,
        )
        for t in (inside, inside + 5.0)
    )  # fmt: skip
    assert hotter.air_c >= cooler.air_c
    assert np.isfinite(hotter.u_k)


def test_a_closed_cover_lets_a_quarter_through():
    day = clear_day(52.4, 13.1, elevation_m=40.0, day_of_year=202)
    grey = overcast(day)
    np.testing.assert_allclose(grey.horizontal_w_per_m2, 0.25 * day.horizontal_w_per_m2)
    np.testing.assert_allclose(grey.diffuse_w_per_m2, grey.horizontal_w_per_m2)


def any_sky(rise_k):
    return measured_peak_any_sky(
        40.0 + rise_k, 40.0, clear_rise_k=20.0, overcast_rise_k=7.0,
        model_rise_design_k=20.0, design_outside_c=45.0,
    )  # fmt: skip


def test_a_rise_above_a_clear_sky_is_a_warmer_box_whatever_the_sky():
    stated = measured_peak(
        65.0, 40.0, model_rise_then_k=20.0, model_rise_design_k=20.0,
        design_outside_c=45.0,
    )  # fmt: skip
    assert any_sky(25.0) == stated
    assert any_sky(25.0).air_c == pytest.approx(70.0)


def test_a_rise_that_clouds_explain_neither_clears_nor_condemns():
    # clear sky would say 55 °C, the model says 65 °C
    found = any_sky(10.0)
    assert 55.0 < found.air_c < 65.0
    assert found.u_k > MODEL_U_K


def test_a_rise_below_that_of_clouds_is_a_cooler_box():
    assert any_sky(2.0).air_c < 45.0 + 20.0 * 2.0 / 7.0 + 0.1


@given(st.floats(0.0, 40.0), st.floats(0.1, 5.0))
@settings(deadline=None, max_examples=50)
def test_a_warmer_box_never_makes_a_cooler_design_day(rise, more):
    assert any_sky(rise + more).air_c >= any_sky(rise).air_c - 1e-9


def test_coarse_steps_find_the_same_peak():
    fine = hot_day(PHOENIX, Box(), mounted=WEST, high_c=43.4)
    coarse = hot_day(PHOENIX, Box(), mounted=WEST, high_c=43.4, step_s=900.0)
    assert coarse.air_c == pytest.approx(fine.air_c, abs=0.1)
