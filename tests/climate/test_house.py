"""Three invented houses get the advice that their own physics calls for."""

import pytest

from eavelight.climate.design_day import Box, Choice
from eavelight.climate.extremes import grid_extremes, nearest_cell, night_humidity
from eavelight.climate.house import Cover, Night, Rating, study_house
from eavelight.climate.housing import Place
from eavelight.climate.mounting import wall_curves
from eavelight.climate.paint import ABSORPTANCE, solar_absorptance
from eavelight.standards.climate import climate_practice

PRACTICE = climate_practice()

RATING = Rating(low_c=-40.0, high_c=60.0, refers_to="air in box")


def house(place, box, mounted):
    cell = nearest_cell(place.latitude_deg, place.longitude_deg)
    humidity = night_humidity(cell, night=PRACTICE.night, elevation_m=place.elevation_m)
    return study_house(
        place, box, mounted=mounted, rating=RATING,
        cover=Cover(sealed=True),
        tried=PRACTICE.mounting,
        extremes=grid_extremes(
            place.latitude_deg, place.longitude_deg, margins=PRACTICE.grid
        ),
        night=Night(air_c=cell.mean_c - 5.0, relative_humidity=humidity),
    )  # fmt: skip


@pytest.fixture(scope="module")
def desert():
    place = Place(latitude_deg=33.0, longitude_deg=-113.1, elevation_m=300.0)
    return house(place, Box(), Choice(facing_deg=270.0, absorptance=0.5))


@pytest.fixture(scope="module")
def north():
    place = Place(latitude_deg=65.6, longitude_deg=23.4, elevation_m=20.0, snow=True)
    return house(place, Box(power_w=6.0), Choice(facing_deg=180.0, absorptance=0.5))


@pytest.fixture(scope="module")
def coast():
    place = Place(latitude_deg=53.2, longitude_deg=-9.3, elevation_m=15.0)
    return house(place, Box(power_w=5.0), Choice(facing_deg=225.0, absorptance=0.4))


def ids(found):
    return [item.advice for item in found.advice]


def test_the_desert_shades_the_top_and_paints_before_it_turns_the_box(desert):
    advice = ids(desert)
    assert advice[:2] == ["shade the top", "paint light"]
    assert advice.index("other wall") > advice.index("shade the top and paint light")
    assert desert.hot_held.margin_k < 0.0


def test_the_desert_is_not_told_about_dew_or_snow(desert):
    assert {item.about for item in desert.advice} == {"heat"}


def test_the_north_is_told_about_daily_cycling_and_not_about_heat(north):
    about = {item.about for item in north.advice}
    assert "daily cycling" in ids(north)
    assert "heat" not in about
    cycling = next(item for item in north.advice if item.about == "winter")
    assert cycling.numbers["swing_k"] > 20.0


def test_the_coast_is_told_to_vent_and_drain_and_nothing_else(coast):
    assert ids(coast) == ["vent and drain at the lowest point", "close in dry air"]


def test_the_table_has_four_walls_and_three_colours(desert):
    assert len(desert.walls) == 12
    hottest = max(desert.walls, key=lambda row: row.peak.air_c)
    assert (hottest.wall, hottest.colour) == ("west", "dark brown")
    assert desert.walls_run.air_c.shape == (289, 12)


def test_every_change_keeps_its_promise_in_numbers(desert):
    for item in desert.changes:
        assert item.air_c + item.gain_k == pytest.approx(desert.hot.air_c, abs=0.01)


def test_a_dark_box_is_painted_first():
    place = Place(latitude_deg=33.0, longitude_deg=-113.1, elevation_m=300.0)
    found = house(place, Box(), Choice(facing_deg=270.0, absorptance=0.9))
    assert ids(found)[0] == "paint light"


def test_a_white_box_is_not_told_to_paint():
    place = Place(latitude_deg=33.0, longitude_deg=-113.1, elevation_m=300.0)
    found = house(place, Box(), Choice(facing_deg=270.0, absorptance=0.25))
    assert "paint light" not in ids(found)


def test_without_a_rating_nothing_is_held_against_it():
    place = Place(latitude_deg=53.2, longitude_deg=-9.3, elevation_m=15.0)
    found = study_house(
        place, Box(), mounted=Choice(facing_deg=0.0, absorptance=0.25),
        tried=PRACTICE.mounting,
        extremes=grid_extremes(53.2, -9.3, margins=PRACTICE.grid),
    )  # fmt: skip
    assert found.hot_held is None
    assert found.dew is None
    assert found.advice == ()


def test_an_arctic_box_may_not_start_after_a_power_cut():
    place = Place(latitude_deg=62.1, longitude_deg=129.8, elevation_m=100.0)
    found = house(place, Box(), Choice(facing_deg=0.0, absorptance=0.4))
    assert "cold start after a power cut" in ids(found)


def test_every_colour_of_the_plan_has_an_absorptance():
    stated = "white|white aged|light grey|beige|mid grey|dark grey|dark brown"
    assert set(stated.split("|")) | {"dark green", "black"} == set(ABSORPTANCE)
    assert solar_absorptance("white") < solar_absorptance("white aged")


def test_an_unknown_colour_is_refused():
    with pytest.raises(ValueError, match="colour"):
        solar_absorptance("sky blue pink")


def test_the_picture_of_a_day_has_a_line_per_wall_that_reaches_its_peak(desert):
    lines = wall_curves(desert.walls, desert.walls_run, colour="light grey")
    assert [line.wall for line in lines] == ["north", "east", "south", "west"]
    for line in lines:
        assert line.air_c.max() == line.peak.air_c


def test_a_colour_that_was_not_compared_is_refused(desert):
    with pytest.raises(ValueError, match="colour"):
        wall_curves(desert.walls, desert.walls_run, colour="black")
