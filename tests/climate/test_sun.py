"""Clear-sky maxima on walls of seven places, shade of a cover, and refusals."""

import sys

import numpy as np
import pytest

from eavelight.climate.design_day import hood_shading
from eavelight.climate.sun import (
    _pvlib,
    clear_day,
    ground_height,
    plane_sun,
    zone_offset,
)
from eavelight.errors import MissingFeatureError

# Pvlib 0.16 Ineichen with its own turbidity, Hay-Davies, albedo 0.2, repeated
# independently within 2 % (site longitudes were not recorded): reference sheet.
ORDER = ("N", "E", "S", "W", "up")
WALLS = {
    "Miami": (25.8, -80.3, 2.0, (203, 731, 797, 732, 965)),
    "Phoenix": (33.4, -112.0, 337.0, (218, 809, 916, 810, 1005)),
    "Seville": (37.4, -5.9, 30.0, (217, 817, 929, 818, 980)),
    "Denver": (39.8, -104.9, 1650.0, (220, 842, 967, 842, 1047)),
    "Minneapolis": (44.9, -93.2, 255.0, (186, 755, 871, 756, 914)),
    "Berlin": (52.4, 13.4, 40.0, (194, 732, 852, 732, 849)),
    "Oulu": (64.9, 25.4, 15.0, (267, 830, 932, 832, 724)),
}
FACING = {"N": 0.0, "E": 90.0, "S": 180.0, "W": 270.0}


@pytest.mark.parametrize("place", WALLS)
def test_clear_sky_maximum_on_each_wall(place):
    latitude, longitude, elevation, values = WALLS[place]
    expected = dict(zip(ORDER, values, strict=True))
    found = dict.fromkeys(expected, 0.0)
    for day_of_year in range(3, 366, 5):
        day = clear_day(
            latitude, longitude, elevation_m=elevation, day_of_year=day_of_year,
            step_s=600.0,
        )  # fmt: skip
        for wall, facing in FACING.items():
            sun = plane_sun(day, tilt_deg=90.0, facing_deg=facing)
            found[wall] = max(found[wall], float(sun.total_w_per_m2.max()))
        found["up"] = max(found["up"], float(day.horizontal_w_per_m2.max()))
    for wall, value in expected.items():
        assert found[wall] == pytest.approx(value, rel=0.02), wall


def test_our_transposition_is_that_of_pvlib():
    import pvlib

    day = clear_day(45.0, 7.0, elevation_m=300.0, day_of_year=100)
    ours = plane_sun(day, tilt_deg=90.0, facing_deg=200.0, albedo=0.35)
    theirs = pvlib.irradiance.get_total_irradiance(
        90.0, 200.0, day.zenith_deg, day.azimuth_deg, day.beam_w_per_m2,
        day.horizontal_w_per_m2, day.diffuse_w_per_m2,
        dni_extra=day.beyond_air_w_per_m2, albedo=0.35, model="haydavies",
    )  # fmt: skip
    np.testing.assert_allclose(
        ours.total_w_per_m2, np.nan_to_num(theirs["poa_global"]), atol=1e-6
    )


def test_a_face_that_looks_down_gets_only_light_from_the_ground():
    day = clear_day(52.4, 13.1, elevation_m=40.0, day_of_year=180)
    sun = plane_sun(day, tilt_deg=180.0, facing_deg=0.0, albedo=0.2)
    np.testing.assert_allclose(
        sun.total_w_per_m2, 0.2 * day.horizontal_w_per_m2, atol=1e-6
    )


def test_snow_brightens_a_wall():
    day = clear_day(64.9, 25.4, elevation_m=15.0, day_of_year=75)
    bare, snow = (
        plane_sun(day, tilt_deg=90.0, facing_deg=180.0, albedo=albedo)
        for albedo in (0.2, 0.7)
    )
    assert snow.total_w_per_m2.max() > bare.total_w_per_m2.max() + 50.0


def test_polar_night_is_dark_and_not_an_error():
    day = clear_day(78.2, 15.6, elevation_m=20.0, day_of_year=355)
    assert day.horizontal_w_per_m2.max() == 0.0


def test_west_and_east_mirror_each_other_about_noon():
    day = clear_day(40.0, 15.0, elevation_m=0.0, day_of_year=172, step_s=60.0)
    east, west = (
        plane_sun(day, tilt_deg=90.0, facing_deg=facing).total_w_per_m2.max()
        for facing in (90.0, 270.0)
    )
    assert east == pytest.approx(west, rel=0.005)


def test_a_cover_shades_more_the_higher_the_sun_stands():
    day = clear_day(33.4, -112.0, elevation_m=337.0, day_of_year=202)
    shaded, hidden = hood_shading(day, facing_deg=270.0, reach_m=0.15, height_m=0.3)
    at_13, at_18 = (int(np.argmin(abs(day.time_h - hour))) for hour in (13.5, 18.0))
    assert shaded[at_13] == 1.0
    assert shaded[at_18] < 0.5
    assert 0.0 < hidden < 0.5


def test_coordinates_outside_the_globe_are_refused():
    with pytest.raises(ValueError, match="latitude_deg"):
        clear_day(95.0, 0.0, elevation_m=0.0, day_of_year=1)


def test_a_step_that_does_not_divide_the_day_is_refused():
    with pytest.raises(ValueError, match="step_s"):
        clear_day(45.0, 0.0, elevation_m=0.0, day_of_year=1, step_s=7000.0)


def test_the_date_line_has_a_zone_and_a_height():
    assert zone_offset(179.9) == 12
    assert abs(ground_height(0.0, 179.9)) < 500.0


def test_without_pvlib_the_sun_names_the_part_it_needs(monkeypatch):
    monkeypatch.setitem(sys.modules, "pvlib", None)
    _pvlib.cache_clear()
    with pytest.raises(MissingFeatureError, match="sun"):
        ground_height(45.0, 7.0)
    _pvlib.cache_clear()


def test_a_stated_turbidity_replaces_the_map():
    clean, hazy = (
        clear_day(
            45.0, 7.0, elevation_m=300.0, day_of_year=100, turbidity=turbidity
        ).beam_w_per_m2.max()
        for turbidity in (2.0, 5.0)
    )
    assert clean > hazy + 100.0
