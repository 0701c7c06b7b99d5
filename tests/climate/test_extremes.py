"""The ladder, the bundled grid and its file."""

import dataclasses
import hashlib
import importlib.resources
import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.climate.extremes import (
    best_extremes,
    grid_extremes,
    nearest_cell,
    night_humidity,
    percentile_extremes,
    return_extremes,
    return_factor,
    stated_extremes,
)
from eavelight.climate.humidity import vapour_pressure
from eavelight.standards.climate import climate_practice

PRACTICE = climate_practice()
GRID, NIGHT = PRACTICE.grid, PRACTICE.night
WIDEST = stated_extremes(-45.0, 45.0, source="widest class")


def grid_bytes():
    place = importlib.resources.files("eavelight.climate") / "data" / "extremes.npz"
    return place.read_bytes()


def test_the_grid_file_is_small_and_needs_no_unpickling():
    content = grid_bytes()
    assert len(content) < 2_000_000
    with np.load(io.BytesIO(content), allow_pickle=False) as stored:
        assert all(stored[name].dtype != object for name in stored.files)
        assert stored["low_step_tenths_c"].size == 230_742


def test_the_grid_file_is_the_one_that_was_built():
    digest = hashlib.sha256(grid_bytes()).hexdigest()
    assert digest == "4f2aa8e6dc0118e679667039488c62a651950b916fac7f8c3774f0f7e663d6c0"


def test_its_origin_and_licence_lie_beside_it():
    place = importlib.resources.files("eavelight.climate") / "data" / "extremes.md"
    text = place.read_text(encoding="utf-8")
    for word in ("MIT License", "Todd Karin", "GLDAS", "build_extremes_grid.py"):
        assert word in text


@settings(deadline=None, max_examples=50)
@given(latitude=st.floats(-90.0, 90.0), longitude=st.floats(-180.0, 180.0))
def test_every_place_has_a_nearest_cell_with_sane_figures(latitude, longitude):
    cell = nearest_cell(latitude, longitude)
    assert -75.0 < cell.low_c < cell.mean_c < cell.high_c < 60.0
    assert 0.0 <= cell.distance_km < 20_100.0


def test_both_sides_of_the_date_line_are_neighbours():
    east, west = nearest_cell(66.0, 179.99), nearest_cell(66.0, -179.99)
    assert east.distance_km == pytest.approx(west.distance_km, abs=0.1)
    assert west.longitude_deg == -east.longitude_deg


def test_the_grid_answers_with_margin_and_shows_the_raw_figures():
    found = grid_extremes(33.43, -112.02, margins=GRID)
    assert found.rung == "grid"
    assert found.low_c == pytest.approx(-6.6)
    assert found.high_c == pytest.approx(50.2)
    assert found.details["raw_high_c"] == pytest.approx(47.2)
    assert found.details["height_correction_k"] == 0.0


def test_oceanic_europe_gets_the_larger_hot_margin():
    london = grid_extremes(51.48, -0.45, margins=GRID)
    assert london.details["hot_margin_k"] == 6.0
    assert london.high_c == pytest.approx(37.7)
    assert grid_extremes(44.88, -93.22, margins=GRID).details["hot_margin_k"] == 3.0


def test_a_house_above_its_cell_is_colder():
    low = grid_extremes(
        46.0, 8.0, margins=GRID, elevation_m=500.0, cell_elevation_m=500.0
    )
    high = grid_extremes(
        46.0, 8.0, margins=GRID, elevation_m=1500.0, cell_elevation_m=500.0
    )
    assert low.high_c - high.high_c == pytest.approx(6.5)


def test_the_middle_of_an_ocean_has_no_grid():
    assert grid_extremes(30.0, -40.0, margins=GRID) is None


def test_the_ladder_takes_the_best_source_there_is():
    rungs = {
        "grid": grid_extremes(33.43, -112.02, margins=GRID),
        "station": percentile_extremes(5.2, 42.3, steps=PRACTICE.station),
        "stated": stated_extremes(-1.0, 47.0, source="operator"),
    }
    for expected in ("stated", "station", "grid"):
        assert best_extremes(rungs, last_resort=WIDEST).rung == expected
        del rungs[expected]
    assert best_extremes(rungs, last_resort=WIDEST).rung == "last resort"


def test_a_class_stands_before_the_last_resort():
    cold = stated_extremes(-65.0, 35.0, source="class for extreme cold")
    found = best_extremes({"grid": None, "class": cold}, last_resort=WIDEST)
    assert (found.rung, found.low_c) == ("class", -65.0)


def test_an_unknown_rung_is_refused():
    with pytest.raises(ValueError, match="guess"):
        best_extremes({"guess": WIDEST}, last_resort=WIDEST)


def test_design_percentiles_are_not_extremes():
    found = percentile_extremes(5.2, 42.3, steps=PRACTICE.station)
    assert found.low_c < 5.2 - 8.0
    assert found.high_c > 42.3 + 5.0


@settings(deadline=None, max_examples=30)
@given(years=st.floats(1.5, 500.0), more=st.floats(1.0, 100.0))
def test_rarer_years_are_more_extreme(years, more):
    assert return_factor(years + more) > return_factor(years)


def test_rare_years_spread_both_ways():
    rare = return_extremes(0.0, 40.0, deviation_low_k=2.0, deviation_high_k=1.0)
    assert rare.low_c == pytest.approx(-2.0 * (rare.high_c - 40.0))


def test_a_return_period_of_a_year_is_refused():
    with pytest.raises(ValueError, match="years"):
        return_factor(1.0)


def test_stated_extremes_in_the_wrong_order_are_refused():
    with pytest.raises(ValueError, match="low_c"):
        stated_extremes(40.0, -20.0, source="operator")


def test_a_place_off_the_globe_is_refused():
    with pytest.raises(ValueError, match="longitude_deg"):
        nearest_cell(10.0, 200.0)


def test_desert_nights_are_drier_than_coastal_nights():
    desert, coast = nearest_cell(33.43, -112.02), nearest_cell(53.2, -9.3)
    assert (
        night_humidity(desert, night=NIGHT)
        < 0.6
        < 0.9
        < night_humidity(coast, night=NIGHT)
    )


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
@settings(deadline=None, max_examples=50)
def test_the_quick_search_finds_the_nearest_cell_of_all(latitude, longitude):
    found = nearest_cell(latitude, longitude)
    with np.load(io.BytesIO(grid_bytes()), allow_pickle=False) as stored:
        land = np.unpackbits(stored["land"], count=600 * 1440).astype(bool)
    row, column = np.divmod(np.flatnonzero(land), 1440)
    there = np.radians(-59.875 + 0.25 * row)
    east = np.radians(-179.875 + 0.25 * column - longitude)
    here = np.radians(latitude)
    cosine = np.sin(here) * np.sin(there) + np.cos(here) * np.cos(there) * np.cos(east)
    nearest_km = 6371.0 * np.arccos(np.clip(cosine.max(), -1.0, 1.0))
    assert found.distance_km == pytest.approx(nearest_km, abs=0.5)


def test_mean_humidity_of_many_days_is_brought_back_to_an_ordinary_one():
    # truth by construction: 70 % all year, temperatures spread by 11 K around 10 °C
    rng = np.random.default_rng(4)
    air = rng.normal(10.0, 11.0, 20_000)
    water = 622.0 * 0.7 * vapour_pressure(air) / 101_325.0
    cell = dataclasses.replace(
        nearest_cell(41.2, -81.4), mean_c=10.0, low_c=-23.0, high_c=43.0,
        humidity_g_per_kg=float(water.mean()),
    )  # fmt: skip
    still = dataclasses.replace(NIGHT, below_mean_k=0.0)
    assert night_humidity(cell, night=still) == pytest.approx(0.70, abs=0.03)
