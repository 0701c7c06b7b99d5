"""How long the wall takes: a design day of twelve choices, a whole house, imports."""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable

from eavelight.climate.design_day import (
    WALLS_DEG,
    Box,
    Choice,
    Weather,
    air_over_day,
    run_day,
)
from eavelight.climate.extremes import nearest_cell, stated_extremes
from eavelight.climate.house import Night, study_house
from eavelight.climate.housing import Place
from eavelight.climate.sun import clear_day
from eavelight.standards.climate import climate_practice

ABSORPTANCES = (0.25, 0.50, 0.90)


def median_s(task: Callable[[], object], times: int = 7) -> float:
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        task()
        spent.append(time.perf_counter() - begin)
    return statistics.median(spent)


def twelve_choices() -> object:
    day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    air = air_over_day(43.4, 12.0, time_h=day.time_h)
    choices = [
        Choice(facing_deg=facing, absorptance=absorptance)
        for facing in WALLS_DEG.values()
        for absorptance in ABSORPTANCES
    ]
    return run_day(day, Weather(outside_c=air), Box(), choices=choices)


def whole_house() -> object:
    return study_house(
        Place(latitude_deg=33.43, longitude_deg=-112.02, elevation_m=337.0),
        Box(),
        mounted=Choice(facing_deg=270.0, absorptance=0.5),
        extremes=stated_extremes(-3.0, 47.0, source="operator"),
        tried=climate_practice().mounting,
        night=Night(air_c=18.0, relative_humidity=0.5),
    )


def loaded_without_sun() -> str:
    """Heavy libraries that are loaded before a sun is asked for, in a new process."""
    code = (
        "import sys, eavelight.climate.house, eavelight.climate.entry\n"
        "import eavelight.climate.job\n"
        "from eavelight.climate.extremes import nearest_cell\n"
        "nearest_cell(45, 7)\n"
        "print([m for m in ('pvlib', 'pandas', 'psychrolib') if m in sys.modules])"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return found.stdout.strip()


def run() -> list[tuple[str, str, str]]:
    twelve_choices()
    begin = time.perf_counter()
    nearest_cell(60.0, 20.0)
    first = time.perf_counter() - begin
    day = median_s(twelve_choices)
    house = median_s(whole_house, 3)
    again = median_s(lambda: nearest_cell(44.98, -93.27))
    return [
        ("design day, 5 min steps, 12 walls and colours", f"{day:.2f} s", "1 s"),
        ("whole house, everything", f"{house:.2f} s", "none"),
        ("first look into the grid of extremes", f"{first * 1e3:.0f} ms", "none"),
        ("further looks", f"{again * 1e3:.0f} ms", "none"),
        ("loaded without a sun", loaded_without_sun(), "[]"),
    ]
