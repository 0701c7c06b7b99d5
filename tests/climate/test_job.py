"""Advice for the day only when the day calls for it."""

import pytest

from eavelight.climate.job import (
    Conditions,
    battery_at_place,
    copper_ratio,
    notes_for_the_day,
    seasonal_glass_change,
    wind_chill,
)
from eavelight.standards.climate import climate_practice

PRACTICE = climate_practice()


def ids(**day):
    return [
        item.note
        for item in notes_for_the_day(Conditions(**day), thresholds=PRACTICE.day)
    ]


def test_a_mild_day_calls_for_nothing():
    mild = {
        "air_c": 18.0,
        "relative_humidity": 0.5,
        "wind_m_per_s": 2.0,
        "skin_c": 25.0,
    }
    assert (
        ids(**mild, elevation_m=200.0, arc_checked_at_m=100.0, arc_checked_at_c=15.0)
        == []
    )


@pytest.mark.parametrize(
    ("day", "note"),
    [
        ({"air_c": 20.0, "thunder": True}, "stop for thunder"),
        ({"air_c": 20.0, "wind_m_per_s": 14.0}, "no ladder in this wind"),
        ({"air_c": 20.0, "wind_m_per_s": 6.0}, "shelter the splicer"),
        ({"air_c": -30.0, "wind_m_per_s": 8.0}, "frostbite"),
        ({"air_c": 35.0, "skin_c": 70.0}, "hot box"),
        ({"air_c": -2.0}, "frost on blade and end face"),
        ({"air_c": -12.0}, "splicer out of range"),
        ({"air_c": 20.0, "relative_humidity": 0.95}, "warm end faces above dew point"),
        ({"air_c": 42.0}, "meter drift"),
        ({"air_c": 5.0}, "no adhesive tape"),
        ({"air_c": -7.0}, "pvc sheath is brittle"),
        ({"air_c": -18.0}, "pe sheath is stiff"),
        (
            {"air_c": 20.0, "elevation_m": 1700.0, "arc_checked_at_m": 100.0},
            "arc check after change of height",
        ),
        (
            {"air_c": 2.0, "arc_checked_at_c": 20.0},
            "arc check after change of temperature",
        ),
    ],
)
def test_the_day_calls_for_its_note(day, note):
    assert note in ids(**day)


def test_dangers_come_first():
    assert ids(air_c=-5.0, thunder=True)[0] == "stop for thunder"


def test_a_garage_is_judged_by_its_own_temperatures():
    assert (
        battery_at_place("vrla", low_c=15.0, high_c=24.0, known=PRACTICE.battery) == ()
    )
    cold = battery_at_place("vrla", low_c=-10.0, high_c=24.0, known=PRACTICE.battery)
    assert cold[0].numbers["capacity_share"] == pytest.approx(0.675)
    hot = battery_at_place("lfp", low_c=5.0, high_c=40.0, known=PRACTICE.battery)
    assert hot[0].numbers["life_share"] == pytest.approx(0.25)


def test_lithium_is_not_charged_below_freezing():
    notes = battery_at_place("lfp", low_c=-1.0, high_c=20.0, known=PRACTICE.battery)
    assert [item.note for item in notes] == ["no charging below freezing"]


def test_a_drop_does_not_show_the_seasons():
    assert (
        seasonal_glass_change(100.0, change_db_per_km=PRACTICE.season_db_per_km) < 0.02
    )


def test_copper_cold_and_hot_is_a_third_apart():
    assert copper_ratio(60.0) / copper_ratio(-40.0) == pytest.approx(1.514, abs=0.002)


def test_still_or_warm_air_has_no_wind_chill():
    assert wind_chill(-10.0, 0.5) == -10.0
    assert wind_chill(15.0, 10.0) == 15.0
