"""The day runs of the reference sheet (pvlib Ineichen, Hay-Davies, explicit balance).

Sea level air, box 300 x 250 x 100 mm, back adiabatic. Tolerance 0.5 K: the sheet's own
independent repeat agrees to 0.1 K, and pvlib's turbidity map may move by a version.
"""

import numpy as np
import pytest

from eavelight.climate.design_day import (
    Box,
    Choice,
    Weather,
    air_over_day,
    box_sun,
    hottest_day,
    run_day,
    winter_days,
)
from eavelight.climate.practice import Shade
from eavelight.climate.sun import clear_day
from eavelight.standards.climate import climate_practice

SHADES = climate_practice().shades


def phoenix(box, choices, **options):
    day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    air = air_over_day(43.4, 12.0, time_h=day.time_h)
    return run_day(day, Weather(outside_c=air), box, choices=choices, **options)


def choice(facing, absorptance):
    return Choice(facing_deg=facing, absorptance=absorptance)


PHOENIX = [
    (270.0, 0.25, 56.7, 13.5), (270.0, 0.50, 63.6, 20.5), (270.0, 0.90, 74.4, 31.4),
    (0.0, 0.50, 59.1, 15.7), (90.0, 0.50, 60.2, 19.4), (180.0, 0.50, 61.2, 17.8),
]  # fmt: skip


@pytest.mark.parametrize(("facing", "absorptance", "peak", "rise"), PHOENIX)
def test_phoenix_peak_and_rise(facing, absorptance, peak, rise):
    run = phoenix(Box(), [choice(facing, absorptance)], density_ratio=1.0)
    assert run.peak(0).air_c == pytest.approx(peak, abs=0.5)
    assert run.peak(0).rise_k == pytest.approx(rise, abs=0.5)


def test_phoenix_peaks_come_when_the_sheet_says():
    run = phoenix(Box(), [choice(f, 0.5) for f in (0.0, 90.0, 180.0, 270.0)])
    hours = [run.peak(at).time_h for at in range(4)]
    expected = [15.0, 11.0 + 5 / 60, 14.0 + 20 / 60, 15.0 + 27 / 60]
    assert hours == pytest.approx(expected, abs=0.15)


def test_phoenix_on_standby():
    run = phoenix(Box(power_w=1.0), [choice(270.0, 0.5)], density_ratio=1.0)
    assert run.peak(0).air_c == pytest.approx(56.8, abs=0.5)


def test_berlin_west_wall():
    day = clear_day(52.4, 13.1, elevation_m=40.0, day_of_year=202)
    air = air_over_day(36.0, 12.0, time_h=day.time_h)
    run = run_day(
        day, Weather(outside_c=air), Box(), choices=[choice(270.0, 0.5)],
        density_ratio=1.0,
    )  # fmt: skip
    assert run.peak(0).air_c == pytest.approx(57.1, abs=0.5)
    assert run.peak(0).time_h == pytest.approx(15.25, abs=0.15)


def test_oulu_south_wall_over_snow():
    day = clear_day(64.93, 25.35, elevation_m=15.0, day_of_year=75)
    air = np.full(day.time_h.shape, -5.0)
    run = run_day(
        day, Weather(outside_c=air, dew_point_c=-10.0), Box(),
        choices=[choice(180.0, 0.5)], albedo=0.7, density_ratio=1.0,
    )  # fmt: skip
    # The sheet says 25.4, its repeat 25.9: the dew point was not written down.
    assert run.peak(0).air_c == pytest.approx(25.4, abs=1.0)
    assert run.front_sun_w_per_m2.max() == pytest.approx(1030.0, abs=15.0)


def test_colour_matters_more_than_the_wall():
    walls = [choice(f, a) for a in (0.25, 0.9) for f in (0.0, 90.0, 180.0, 270.0)]
    run = phoenix(Box(), walls)
    peaks = np.array([run.peak(at).air_c for at in range(8)]).reshape(2, 4)
    by_colour = (peaks[1] - peaks[0])[3]
    by_wall = np.ptp(peaks[0])
    assert by_colour > 15.0
    assert by_wall < 6.0


def test_two_kilometres_of_height_cost_one_to_three_kelvin():
    day = clear_day(33.43, -112.02, elevation_m=2000.0, day_of_year=202)
    weather = Weather(outside_c=air_over_day(35.0, 12.0, time_h=day.time_h))
    thick, thin = (
        run_day(
            day, weather, Box(), choices=[choice(270.0, 0.5)], density_ratio=ratio
        ).peak(0)
        for ratio in (1.0, None)
    )
    assert 1.0 < thin.air_c - thick.air_c < 3.0


def test_the_skin_of_a_dark_front_is_hotter_than_the_air_inside():
    run = phoenix(Box(), [choice(270.0, 0.9)])
    assert run.front_c.max() > run.air_c.max() + 4.0
    assert run.others_c.max() < run.front_c.max() - 10.0


def test_full_shade_leaves_little_more_than_the_electronics():
    shaded = phoenix(Box(shade=SHADES["full"]), [choice(270.0, 0.5)]).peak(0)
    open_air = phoenix(Box(), [choice(270.0, 0.5)]).peak(0)
    partial = phoenix(Box(shade=SHADES["partial"]), [choice(270.0, 0.5)]).peak(0)
    assert shaded.rise_k < 10.0
    assert shaded.air_c < partial.air_c < open_air.air_c


def test_one_run_of_many_choices_equals_many_runs():
    both = phoenix(Box(), [choice(270.0, 0.5), choice(10.0, 0.9)])
    alone = phoenix(Box(), [choice(10.0, 0.9)])
    np.testing.assert_allclose(both.air_c[:, 1], alone.air_c[:, 0], atol=1e-9)


def test_a_sunlit_wall_behind_heats_the_box_through_its_back():
    free = phoenix(Box(), [choice(270.0, 0.25)]).peak(0).air_c
    coupled = phoenix(Box(back_w_per_m2_k=4.0), [choice(270.0, 0.25)]).peak(0).air_c
    assert abs(coupled - free) > 0.5


def test_sun_on_the_other_faces_is_an_area_mean():
    day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    _, others = box_sun(day, Box(), facing_deg=270.0, albedo=0.2)
    assert others.min() >= 0.0
    assert others.max() < day.horizontal_w_per_m2.max()


def test_the_southern_half_has_its_summer_in_january():
    assert hottest_day(-23.7) == 21
    assert winter_days(-45.0) == (205, 231, 259)


@pytest.mark.parametrize("wrong", [{"width_m": 0.0}, {"power_w": -1.0}])
def test_an_impossible_box_is_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong)).partition("_")[0]):
        Box(**wrong)


def test_a_shade_that_makes_light_is_refused():
    with pytest.raises(ValueError, match="shade"):
        Shade(beam_passes=1.2)
