"""The clear sky from optical depths: editions do not mix."""

import pytest

from eavelight.climate.clear_sky_ashrae import (
    air_mass,
    clear_sky_ashrae,
    solar_altitude,
    wall_sun_ashrae,
)


def test_mixing_editions_shows_in_the_diffuse_light():
    december = {
        "day_of_year": 355, "altitude_deg": float(solar_altitude(33.43, 355)),
    }  # fmt: skip
    right = clear_sky_ashrae(0.298, 2.592, **december, edition="2009")
    wrong = clear_sky_ashrae(0.298, 2.592, **december, edition="2013")
    assert float(right.diffuse_w_per_m2) == pytest.approx(81.0, abs=0.6)
    assert float(wrong.diffuse_w_per_m2) == pytest.approx(74.0, abs=0.6)


def test_an_unknown_edition_is_refused():
    with pytest.raises(ValueError, match="edition"):
        clear_sky_ashrae(0.3, 2.5, day_of_year=1, altitude_deg=30.0, edition="1997")


def test_air_mass_below_the_horizon_is_refused():
    with pytest.raises(ValueError, match="altitude_deg"):
        air_mass([10.0, 0.0])


def test_a_wall_behind_the_sun_gets_diffuse_light_only():
    wall = wall_sun_ashrae(800.0, 100.0, altitude_deg=40.0, off_normal_deg=180.0)
    assert wall < 130.0
