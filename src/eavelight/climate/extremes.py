"""Lowest and highest outside air at a place, and where the numbers come from.

The best source wins: what the user states; a station sheet; the bundled grid with a
margin and a height correction; a climatic class; a last resort. The answer names it.
"""

import functools
import importlib.resources
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from eavelight.climate.humidity import (
    MAGNUS_WATER,
    pressure_at,
    relative_humidity_from_specific,
)
from eavelight.climate.practice import DampNight, GridMargins, StationSteps

Values = NDArray[np.float64]

# The grid of GLDAS-2.1: centres from 59.875 S and 179.875 W, step 0.25 degrees.
FIRST_LATITUDE_DEG, FIRST_LONGITUDE_DEG, STEP_DEG = -59.875, -179.875, 0.25
ROWS, COLUMNS = 600, 1440
BAND_DEG = 1.0
EARTH_RADIUS_KM = 6371.0
LAPSE_K_PER_KM = 6.5
EULER_GAMMA = 0.5772
DEVIATIONS_BETWEEN_EXTREMES = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The nearest land cell of the bundled grid, 2010 to 2018, without margin."""

    latitude_deg: float
    longitude_deg: float
    distance_km: float
    low_c: float
    high_c: float
    mean_c: float
    humidity_g_per_kg: float
    oceanic_europe: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """Outside air for the design; `details` holds the raw figures and margins."""

    low_c: float
    high_c: float
    rung: str
    source: str
    u_k: float
    details: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@functools.cache
def _grid() -> Mapping[str, NDArray[np.float64]]:
    place = importlib.resources.files("eavelight.climate") / "data" / "extremes.npz"
    with place.open("rb") as stream, np.load(stream, allow_pickle=False) as stored:
        land = np.unpackbits(stored["land"], count=ROWS * COLUMNS).astype(bool)
        row, column = np.divmod(np.flatnonzero(land), COLUMNS)
        oceanic = np.unpackbits(stored["oceanic_europe"], count=row.size)

        def tenths(name: str) -> Values:
            return np.asarray(np.cumsum(stored[name], dtype=np.int16) / 10.0)

        return MappingProxyType(
            {
                "latitude_deg": FIRST_LATITUDE_DEG + STEP_DEG * row,
                "longitude_deg": FIRST_LONGITUDE_DEG + STEP_DEG * column,
                "low_c": tenths("low_step_tenths_c"),
                "high_c": tenths("high_step_tenths_c"),
                "mean_c": tenths("mean_step_tenths_c"),
                "humidity_g_per_kg": stored["humidity_tenths_g_per_kg"] / 10.0,
                "oceanic_europe": oceanic.astype(float),
            }
        )


def nearest_cell(latitude_deg: float, longitude_deg: float) -> Cell:
    """The land cell of the bundled grid that is nearest to a place.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]

    Returns
    -------
    cell : Cell
        Raw figures of the nine years, and how far off the cell is [°C]

    Examples
    --------
    >>> cell = nearest_cell(33.43, -112.02)
    >>> cell.low_c, cell.high_c
    (-3.6, 47.2)
    """
    _check_place(latitude_deg, longitude_deg)
    grid = _grid()
    # Rows run from south to north: a band of them holds the nearest cell, unless none
    # of its cells is nearer than the edge of the band.
    first, last = np.searchsorted(
        grid["latitude_deg"], (latitude_deg - BAND_DEG, latitude_deg + BAND_DEG)
    )
    at, angle = _nearest(grid, slice(first, last), latitude_deg, longitude_deg)
    if angle > math.radians(BAND_DEG):
        at, angle = _nearest(grid, slice(None), latitude_deg, longitude_deg)
    chosen = {name: float(values[at]) for name, values in grid.items()}
    oceanic = chosen.pop("oceanic_europe") > 0
    return Cell(distance_km=EARTH_RADIUS_KM * angle, oceanic_europe=oceanic, **chosen)


def _nearest(
    grid: Mapping[str, Values], rows: slice, latitude_deg: float, longitude_deg: float
) -> tuple[int, float]:
    """Index of the nearest cell among some rows, and the angle to it [rad]."""
    latitude = np.radians(grid["latitude_deg"][rows])
    if not latitude.size:
        return 0, math.pi
    east = np.radians(grid["longitude_deg"][rows] - longitude_deg)
    here = math.radians(latitude_deg)
    half = (
        np.sin((latitude - here) / 2.0) ** 2
        + math.cos(here) * np.cos(latitude) * np.sin(east / 2.0) ** 2
    )
    at = int(np.argmin(half))
    angle = 2.0 * math.asin(math.sqrt(min(1.0, float(half[at]))))
    return at + (rows.start or 0), angle


def _check_place(latitude_deg: float, longitude_deg: float) -> None:
    if not (-90 <= latitude_deg <= 90 and -180 <= longitude_deg <= 180):
        raise ValueError(
            "latitude_deg must lie in -90 to 90 and longitude_deg in -180 to 180, got "
            f"{latitude_deg} and {longitude_deg}"
        )


def return_factor(years: float) -> float:
    """Standard deviations by which a rare year exceeds the mean of yearly extremes.

    Parameters
    ----------
    years : float
        Return period, above 1 [years]

    Returns
    -------
    factor : float
        Gumbel frequency factor [1]

    References
    ----------
    .. [1] E. Gumbel, Statistics of Extremes (1958); as in ASHRAE Fundamentals, ch. 14.

    Examples
    --------
    >>> return_factor(50)
    2.5923
    """
    if not years > 1:
        raise ValueError(f"years must be above 1, got {years}")
    reduced = math.log(math.log(years / (years - 1.0)))
    return -math.sqrt(6.0) / math.pi * (EULER_GAMMA + reduced)


def return_extremes(
    mean_low_c: float,
    mean_high_c: float,
    *,
    deviation_low_k: float,
    deviation_high_k: float,
    years: float = 50.0,
) -> Extremes:
    """Extremes of a rare year from the yearly extremes of a station sheet.

    Parameters
    ----------
    mean_low_c : float
        Mean of the lowest temperature of each year [°C]
    mean_high_c : float
        Mean of the highest temperature of each year [°C]
    deviation_low_k : float
        Standard deviation of the yearly lowest [K]
    deviation_high_k : float
        Standard deviation of the yearly highest [K]
    years : float, optional
        Return period [years]

    Returns
    -------
    extremes : Extremes
        Temperatures reached once in so many years [°C]

    Examples
    --------
    >>> rare = return_extremes(1.3, 45.8, deviation_low_k=1.5, deviation_high_k=1.5)
    >>> rare.low_c, rare.high_c
    (-2.6, 49.7)
    """
    factor = return_factor(years)
    return Extremes(
        low_c=mean_low_c - factor * deviation_low_k,
        high_c=mean_high_c + factor * deviation_high_k,
        rung="station",
        source="yearly extremes of a station",
        u_k=1.0,
        details=MappingProxyType({"years": years, "factor": factor}),
    )


def percentile_extremes(
    heating_99_c: float, cooling_1_c: float, *, steps: StationSteps
) -> Extremes:
    """Extremes from the design temperatures of a station, which are not extremes.

    The steps are medians over many stations; they spread by several kelvin.

    Parameters
    ----------
    heating_99_c : float
        Exceeded 99 % of the year [°C]
    cooling_1_c : float
        Exceeded 1 % of the year [°C]
    steps : StationSteps
        Added below and above, and how sure they are [K]

    Returns
    -------
    extremes : Extremes
        Estimated lowest and highest of about ten years [°C]

    Examples
    --------
    >>> steps = StationSteps(below_99_percent_k=10.0, above_1_percent_k=6.5, u_k=3.0)
    >>> found = percentile_extremes(5.2, 42.3, steps=steps)
    >>> found.low_c, found.high_c
    (-4.8, 48.8)
    """
    return Extremes(
        low_c=heating_99_c - steps.below_99_percent_k,
        high_c=cooling_1_c + steps.above_1_percent_k,
        rung="station",
        source="99 % and 1 % design temperatures of a station",
        u_k=steps.u_k,
        details=MappingProxyType(
            {"heating_99_c": heating_99_c, "cooling_1_c": cooling_1_c}
        ),
    )


def grid_extremes(
    latitude_deg: float,
    longitude_deg: float,
    *,
    margins: GridMargins,
    elevation_m: float | None = None,
    cell_elevation_m: float | None = None,
) -> Extremes | None:
    """Extremes from the bundled grid, with margin and height correction.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]
    margins : GridMargins
        What nine modelled years miss, and how far a cell reaches [K]
    elevation_m : float, optional
        Height of the site; without both heights nothing is corrected [m]
    cell_elevation_m : float, optional
        Mean height of the ground around the cell [m]

    Returns
    -------
    extremes : Extremes or None
        None where no land cell is near [°C]

    Examples
    --------
    >>> margins = GridMargins(
    ...     hot_k=3.0, hot_oceanic_europe_k=6.0, cold_k=3.0, u_k=2.0, farthest_km=75.0)
    >>> grid_extremes(33.43, -112.02, margins=margins).high_c
    50.2
    """
    cell = nearest_cell(latitude_deg, longitude_deg)
    if cell.distance_km > margins.farthest_km:
        return None
    lift = 0.0
    if elevation_m is not None and cell_elevation_m is not None:
        lift = LAPSE_K_PER_KM * (cell_elevation_m - elevation_m) / 1000.0
    hot = margins.hot_oceanic_europe_k if cell.oceanic_europe else margins.hot_k
    return Extremes(
        low_c=cell.low_c - margins.cold_k + lift,
        high_c=cell.high_c + hot + lift,
        rung="grid",
        source="bundled grid 2010 to 2018 (pvcz, from NASA GLDAS-2.1), with margin",
        u_k=margins.u_k,
        details=MappingProxyType(
            {
                "raw_low_c": cell.low_c,
                "raw_high_c": cell.high_c,
                "cold_margin_k": margins.cold_k,
                "hot_margin_k": hot,
                "height_correction_k": lift,
                "distance_km": cell.distance_km,
            }
        ),
    )


def stated_extremes(low_c: float, high_c: float, *, source: str) -> Extremes:
    """Extremes as somebody stated them; they win over every other source.

    Parameters
    ----------
    low_c : float
        Lowest outside air [°C]
    high_c : float
        Highest outside air [°C]
    source : str
        Who says so [1]

    Returns
    -------
    extremes : Extremes
        The stated figures [°C]

    Examples
    --------
    >>> stated_extremes(-30.0, 38.0, source="operator").rung
    'stated'
    """
    if not low_c < high_c:
        raise ValueError(f"low_c must be below high_c, got {low_c} and {high_c}")
    return Extremes(low_c=low_c, high_c=high_c, rung="stated", source=source, u_k=0.5)


def best_extremes(
    candidates: Mapping[str, Extremes | None], *, last_resort: Extremes
) -> Extremes:
    """The best source that is there.

    Parameters
    ----------
    candidates : mapping of str to Extremes
        By rung: "stated", "station", "grid", "class"; absent or None is skipped [°C]
    last_resort : Extremes
        What counts where nothing is known [°C]

    Returns
    -------
    extremes : Extremes
        The first of the ladder, with its rung named [°C]

    Examples
    --------
    >>> wide = stated_extremes(-45.0, 45.0, source="widest class")
    >>> best_extremes({"grid": None}, last_resort=wide).rung
    'last resort'
    """
    unknown = set(candidates) - set(LADDER)
    if unknown:
        raise ValueError(f"candidates must be of {LADDER}, got {sorted(unknown)}")
    for rung in LADDER:
        found = candidates.get(rung)
        if found is not None:
            return _on_rung(found, rung)
    return _on_rung(last_resort, "last resort")


LADDER = ("stated", "station", "grid", "class")


def _on_rung(found: Extremes, rung: str) -> Extremes:
    return Extremes(
        low_c=found.low_c,
        high_c=found.high_c,
        rung=rung,
        source=found.source,
        u_k=found.u_k,
        details=found.details,
    )


def night_humidity(cell: Cell, *, night: DampNight, elevation_m: float = 0.0) -> float:
    """Relative humidity of an average late night, from the means of the grid.

    A mean year: single nights are far wetter or drier. Air holds more water on warm
    days than the mean temperature says, so the mean humidity is first brought back to
    an ordinary day: temperatures spread as a bell curve, whose deviation is a sixth of
    the way from the lowest to the highest.

    Parameters
    ----------
    cell : Cell
        Means of temperature and humidity [°C]
    night : DampNight
        How far below the mean of the year the night lies [K]
    elevation_m : float, optional
        Height of the site [m]

    Returns
    -------
    relative_humidity : float
        Humidity of that night, over water [1]

    Examples
    --------
    >>> night = DampNight(below_mean_k=5.0, u_relative_humidity=0.1)
    >>> night_humidity(nearest_cell(33.43, -112.02), night=night) < 0.6
    True
    """
    deviation_k = (cell.high_c - cell.low_c) / DEVIATIONS_BETWEEN_EXTREMES
    _, b, c = MAGNUS_WATER
    slope_per_k = b * c / (c + cell.mean_c) ** 2
    mean_over_ordinary = math.exp(0.5 * (slope_per_k * deviation_k) ** 2)
    return relative_humidity_from_specific(
        cell.humidity_g_per_kg / mean_over_ordinary,
        cell.mean_c - night.below_mean_k,
        pressure_pa=pressure_at(elevation_m),
    )
