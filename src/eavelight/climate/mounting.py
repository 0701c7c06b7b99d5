"""Where to mount the box: walls and colours side by side, and what to change first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from eavelight.climate.design_day import (
    GROUND_ALBEDO,
    WALLS_DEG,
    Box,
    Choice,
    DayRun,
    Peak,
    Weather,
    run_day,
)
from eavelight.climate.paint import COMPARED, WEATHERED_WHITE, solar_absorptance
from eavelight.climate.practice import Mounting
from eavelight.climate.sun import ClearDay

Values = NDArray[np.float64]

STAYING = ("shade the top", "paint light")
BOTH = "shade the top and paint light"
MOVING = ("other wall", "full shade")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """One wall and colour on the hot design day."""

    wall: str
    facing_deg: float
    colour: str
    absorptance: float
    peak: Peak
    skin_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change, the peak inside with it and what it gains."""

    change: str
    gain_k: float
    air_c: float
    skin_c: float
    moves_the_box: bool
    details: Mapping[str, float | str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallCurve:
    """One line of the picture of a day."""

    wall: str
    time_h: Values
    air_c: Values
    outside_c: Values
    peak: Peak


def compare_walls(
    day: ClearDay,
    weather: Weather,
    box: Box,
    *,
    colours: Sequence[str] = COMPARED,
    albedo: float = GROUND_ALBEDO,
) -> tuple[tuple[Mount, ...], DayRun]:
    """Four walls and several colours on one day.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    weather : Weather
        Outside air, dew point and wind [°C]
    box : Box
        Size, electronics, shade and cover [m]
    colours : sequence of str, optional
        Names of colours; default light, middle and dark [1]
    albedo : float, optional
        Share of sunlight that the ground sends back [1]

    Returns
    -------
    table : tuple of tuple of Mount, and DayRun
        Rows in the order north, east, south, west, and the curves behind them, one
        column per row [°C]

    Examples
    --------
    >>> from eavelight.climate.design_day import air_over_day
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> air = air_over_day(43.4, 12.0, time_h=day.time_h)
    >>> rows, run = compare_walls(day, Weather(outside_c=air), Box())
    >>> max(rows, key=lambda row: row.peak.air_c).wall
    'west'
    """
    keys = [(wall, colour) for wall in WALLS_DEG for colour in colours]
    choices = [
        Choice(facing_deg=WALLS_DEG[wall], absorptance=solar_absorptance(colour))
        for wall, colour in keys
    ]
    run = run_day(day, weather, box, choices=choices, albedo=albedo)
    rows = tuple(
        Mount(
            wall=wall,
            facing_deg=choice.facing_deg,
            colour=colour,
            absorptance=choice.absorptance,
            peak=run.peak(at),
            skin_c=_skin(run, at),
        )
        for at, ((wall, colour), choice) in enumerate(zip(keys, choices, strict=True))
    )
    return rows, run


def wall_curves(
    rows: Sequence[Mount], run: DayRun, *, colour: str
) -> tuple[WallCurve, ...]:
    """Inside air over the day for each wall in one colour, for a picture.

    Parameters
    ----------
    rows : sequence of Mount
        Table of `compare_walls` [1]
    run : DayRun
        The curves behind it [°C]
    colour : str
        One of the colours of the table [1]

    Returns
    -------
    curves : tuple of WallCurve
        One line per wall, with its peak for the label [°C]

    Examples
    --------
    >>> from eavelight.climate.design_day import air_over_day
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> air = air_over_day(43.4, 12.0, time_h=day.time_h)
    >>> rows, run = compare_walls(day, Weather(outside_c=air), Box())
    >>> [line.wall for line in wall_curves(rows, run, colour="white")]
    ['north', 'east', 'south', 'west']
    """
    found = tuple(
        WallCurve(
            wall=row.wall,
            time_h=run.time_h,
            air_c=run.air_c[:, at],
            outside_c=run.outside_c,
            peak=row.peak,
        )
        for at, row in enumerate(rows)
        if row.colour == colour
    )
    if not found:
        known = sorted({row.colour for row in rows})
        raise ValueError(f"colour must be one of {known}, got {colour!r}")
    return found


def _skin(run: DayRun, at: int) -> float:
    return float(max(run.front_c[:, at].max(), run.others_c[:, at].max()))


def changes(
    day: ClearDay,
    weather: Weather,
    box: Box,
    *,
    mounted: Choice,
    tried: Mounting,
    albedo: float = GROUND_ALBEDO,
) -> tuple[Change, ...]:
    """What each change would gain at the peak of the day, best first.

    Changes that leave the box where it is come before those that move it; paint is
    ranked by what it still gains when it has weathered.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    weather : Weather
        Outside air, dew point and wind [°C]
    box : Box
        Size, electronics, shade and cover [m]
    mounted : Choice
        Wall and colour as planned [1]
    tried : Mounting
        Cover and shade to try, and the gain that is worth a trip [K]
    albedo : float, optional
        Share of sunlight that the ground sends back [1]

    Returns
    -------
    ordered : tuple of Change
        Only changes that gain what is worth doing [K]

    Examples
    --------
    >>> from eavelight.climate.design_day import air_over_day
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> air = air_over_day(43.4, 12.0, time_h=day.time_h)
    >>> from eavelight.climate.practice import Hood, Shade
    >>> tried = Mounting(
    ...     hood=Hood(reach_m=0.15, passes=0.1),
    ...     full_shade=Shade(beam_passes=0.0, sky_passes=0.5), worth_doing_k=1.0,
    ...     cycling_k=20.0, hot_without_rating_c=60.0)
    >>> dark = Choice(facing_deg=270.0, absorptance=0.9)
    >>> [item.change for item in
    ...     changes(day, Weather(outside_c=air), Box(), mounted=dark, tried=tried)][:2]
    ['paint light', 'shade the top']
    """
    light = replace(mounted, absorptance=solar_absorptance("white"))
    aged = replace(mounted, absorptance=solar_absorptance(WEATHERED_WHITE))
    walls = [replace(mounted, facing_deg=facing) for facing in WALLS_DEG.values()]
    hood = tried.hood if box.hood is None else box.hood
    hooded = replace(box, hood=hood)

    def run(which: Box, choices: Sequence[Choice]) -> DayRun:
        return run_day(day, weather, which, choices=choices, albedo=albedo)

    open_run = run(box, [mounted, light, aged, *walls])
    hood_run = run(hooded, [mounted, light])
    shade_run = run(replace(box, shade=tried.full_shade), [mounted])
    now = open_run.peak(0).air_c
    best = min(range(3, 3 + len(walls)), key=lambda at: open_run.peak(at).air_c)

    def change(name: str, of: DayRun, at: int, **details: float | str) -> Change:
        air = of.peak(at).air_c
        return Change(
            change=name,
            gain_k=now - air,
            air_c=air,
            skin_c=_skin(of, at),
            moves_the_box=name in MOVING,
            details=MappingProxyType(details),
        )

    found = [
        change("shade the top", hood_run, 0, hood_m=hood.reach_m),
        change("paint light", open_run, 1, aged_air_c=open_run.peak(2).air_c),
        change(BOTH, hood_run, 1, hood_m=hood.reach_m),
        change("other wall", open_run, best, wall=tuple(WALLS_DEG)[best - 3]),
        change("full shade", shade_run, 0),
    ]
    return _ordered([item for item in found if item.gain_k >= tried.worth_doing_k])


def _ordered(found: Sequence[Change]) -> tuple[Change, ...]:
    single = [item for item in found if item.change in STAYING]
    both = [item for item in found if item.change == BOTH and len(single) > 1]
    moving = [item for item in found if item.moves_the_box]
    single.sort(key=_lasting_gain, reverse=True)
    moving.sort(key=lambda item: -item.gain_k)
    return (*single, *both, *moving)


def _lasting_gain(item: Change) -> float:
    """White paint weathers: what is left of its gain after that."""
    aged = item.details.get("aged_air_c", item.air_c)
    return item.gain_k + item.air_c - float(aged)
