"""Films and sky: limits and refusals."""

import pytest

from eavelight.climate.films import (
    film_combined_ashrae,
    film_iso_6946,
    film_mowitt,
    wind_at_height,
)
from eavelight.climate.sky import sky_emissivity_clark_allen, sky_view


def test_wind_in_the_open_is_the_airport_wind():
    assert wind_at_height(5.0, height_m=10.0, terrain="open") == pytest.approx(5.0)


def test_airport_wind_is_four_times_the_wind_at_a_box_in_town():
    assert 1.0 / wind_at_height(1.0, height_m=1.5) == pytest.approx(4.2, abs=0.1)


def test_the_lee_side_is_cooled_less_in_strong_wind():
    lee = film_mowitt(5.0, 8.0, windward=False)
    assert float(lee) < float(film_mowitt(5.0, 8.0))


def test_a_face_that_looks_down_sees_no_sky():
    assert sky_view(180.0) == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: film_iso_6946(-1.0), "wind_m_per_s"),
        (lambda: film_combined_ashrae(1.0, surface="fur"), "surface"),
        (lambda: wind_at_height(1.0, height_m=2.0, terrain="moon"), "terrain"),
        (lambda: sky_emissivity_clark_allen(5.0, cloud_tenths=12.0), "cloud_tenths"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=name):
        call()
