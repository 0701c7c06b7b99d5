"""What the weather and the place do to the work: seasons on glass and copper, the day.

Advice comes as ids with numbers, and only when the conditions call for it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from eavelight.climate.humidity import dew_point, pressure_at

COPPER_PER_K = 0.00393
SEASON_DB_PER_KM = 0.05
VISIBLE_STEP_DB = 0.05
# Judgement and common practice, recalled; none of it is a limit of a standard.
SPLICER_LOW_C, SPLICER_HIGH_C = -10.0, 50.0
ARC_CHECK_HEIGHT_M, ARC_CHECK_STEP_K = 500.0, 15.0
FROST_C = 0.0
TAPE_LOW_C, PVC_LOW_C, PE_LOW_C = 10.0, -5.0, -15.0
METER_EXACT_C = (0.0, 40.0)
METER_DRIFT_DB, METER_DRIFT_OUTSIDE_DB = 0.1, 0.3
WIND_SPLICE_M_PER_S, WIND_LADDER_M_PER_S = 5.0, 13.4
HOT_SKIN_C = 65.0
CHILL_WARN_C = -28.0
END_FACE_MARGIN_K = 2.0
BATTERY_HALVING_K, BATTERY_RATED_C = 10.0, 20.0
# Usable part of the capacity of a lead battery over its temperature, recalled.
LEAD_AT_C, LEAD_SHARE = (-20.0, 0.0, 20.0), (0.55, 0.80, 1.0)
LITHIUM_CHARGE_LOW_C = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One thing to mind, by id, with the numbers that called for it."""

    note: str
    numbers: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The day at the wall; unknown is None and calls for nothing."""

    air_c: float
    relative_humidity: float | None = None
    wind_m_per_s: float | None = None
    elevation_m: float | None = None
    arc_checked_at_m: float | None = None
    arc_checked_at_c: float | None = None
    skin_c: float | None = None
    thunder: bool = False


def seasonal_glass_change(
    length_m: float, *, change_db_per_km: float = SEASON_DB_PER_KM
) -> float:
    """Largest change of loss that the seasons may cause in sound cable.

    Almost nothing on a drop: a step that can be seen is a fault (ice, a tight tie, a
    connector), not the fibre.

    Parameters
    ----------
    length_m : float
        Cable outdoors [m]
    change_db_per_km : float, optional
        What a cable may change in the cold test [dB/km]

    Returns
    -------
    change_db : float
        Change of loss between seasons [dB]

    Examples
    --------
    >>> seasonal_glass_change(100.0)
    0.005
    """
    return change_db_per_km * length_m / 1000.0


def copper_ratio(temperature_c: float) -> float:
    """Resistance of copper over that at 20 °C.

    Parameters
    ----------
    temperature_c : float
        Temperature of the conductor [°C]

    Returns
    -------
    ratio : float
        Resistance ratio [1]

    Examples
    --------
    >>> copper_ratio(60.0)
    1.157
    """
    return 1.0 + COPPER_PER_K * (temperature_c - 20.0)


def wind_chill(air_c: float, wind_m_per_s: float) -> float:
    """What wind makes of cold air on skin; meaningful below 10 °C and in wind.

    Parameters
    ----------
    air_c : float
        Air temperature [°C]
    wind_m_per_s : float
        Wind of the weather report, at 10 m [m/s]

    Returns
    -------
    chill_c : float
        Wind chill temperature; the air temperature where the formula does not hold [°C]

    References
    ----------
    .. [1] R. Osczevski and M. Bluestein, Bull. Am. Meteorol. Soc. 86 (2005) 1453-1458.

    Examples
    --------
    >>> wind_chill(-10.0, 20.0 / 3.6)
    -17.9
    """
    kmh = 3.6 * wind_m_per_s
    if kmh < 4.8 or air_c > 10.0:
        return air_c
    swift = math.pow(kmh, 0.16)
    return 13.12 + 0.6215 * air_c - 11.37 * swift + 0.3965 * air_c * swift


def battery_at_place(
    chemistry: str, *, low_c: float, high_c: float
) -> tuple[Note, ...]:
    """What the battery's own place does to it: the garage is not the wall.

    Parameters
    ----------
    chemistry : str
        "vrla" or "lfp" [1]
    low_c : float
        Coldest at the battery [°C]
    high_c : float
        Hottest at the battery [°C]

    Returns
    -------
    notes : tuple of Note
        By id, with numbers [1]

    Examples
    --------
    >>> [item.note for item in battery_at_place("lfp", low_c=-5.0, high_c=20.0)]
    ['no charging below freezing']
    """
    notes = []
    if chemistry == "lfp" and low_c < LITHIUM_CHARGE_LOW_C:
        notes.append(_note("no charging below freezing", low_c=low_c))
    if chemistry == "vrla" and low_c < 10.0:
        share = float(np.interp(low_c, LEAD_AT_C, LEAD_SHARE))
        notes.append(
            _note("less capacity in the cold", low_c=low_c, capacity_share=share)
        )
    if high_c > BATTERY_RATED_C + 5.0:
        factor = 0.5 ** ((high_c - BATTERY_RATED_C) / BATTERY_HALVING_K)
        notes.append(_note("shorter life in heat", high_c=high_c, life_share=factor))
    return tuple(notes)


def _note(note: str, **numbers: float) -> Note:
    return Note(note=note, numbers=MappingProxyType(numbers))


def notes_for_the_day(conditions: Conditions) -> tuple[Note, ...]:
    """What to mind on this day, nothing when nothing calls for it.

    Parameters
    ----------
    conditions : Conditions
        The day at the wall [°C]

    Returns
    -------
    notes : tuple of Note
        By id, with numbers, dangers first [1]

    Examples
    --------
    >>> notes_for_the_day(Conditions(air_c=18.0))
    ()
    >>> [item.note for item in notes_for_the_day(Conditions(air_c=-12.0))][:2]
    ['splicer out of range', 'frost on blade and end face']
    """
    return (
        *_dangers(conditions),
        *_splicing(conditions),
        *_cleaning(conditions),
        *_materials(conditions),
    )


def _dangers(day: Conditions) -> list[Note]:
    notes = []
    if day.thunder:
        notes.append(_note("stop for thunder"))
    if day.wind_m_per_s is not None:
        wind = day.wind_m_per_s
        if wind >= WIND_LADDER_M_PER_S:
            notes.append(_note("no ladder in this wind", wind_m_per_s=wind))
        chill = wind_chill(day.air_c, wind)
        if chill <= CHILL_WARN_C:
            notes.append(_note("frostbite", wind_chill_c=chill))
    if day.skin_c is not None and day.skin_c >= HOT_SKIN_C:
        notes.append(_note("hot box", skin_c=day.skin_c))
    return notes


def _splicing(day: Conditions) -> list[Note]:
    notes = []
    air = day.air_c
    if not SPLICER_LOW_C <= air <= SPLICER_HIGH_C:
        notes.append(_note("splicer out of range", air_c=air))
    if air < FROST_C:
        notes.append(_note("frost on blade and end face", air_c=air))
        notes.append(_note("longer shrink time", air_c=air))
    if day.wind_m_per_s is not None and day.wind_m_per_s >= WIND_SPLICE_M_PER_S:
        notes.append(_note("shelter the splicer", wind_m_per_s=day.wind_m_per_s))
    if day.elevation_m is not None and day.arc_checked_at_m is not None:
        climb = abs(day.elevation_m - day.arc_checked_at_m)
        if climb > ARC_CHECK_HEIGHT_M:
            ratio = pressure_at(day.elevation_m) / pressure_at(day.arc_checked_at_m)
            notes.append(
                _note("arc check after change of height", climb_m=climb, pressure=ratio)
            )
    if day.arc_checked_at_c is not None:
        step = abs(air - day.arc_checked_at_c)
        if step > ARC_CHECK_STEP_K:
            notes.append(_note("arc check after change of temperature", step_k=step))
    return notes


def _cleaning(day: Conditions) -> list[Note]:
    notes = []
    if day.relative_humidity is not None:
        above = day.air_c - float(dew_point(day.air_c, day.relative_humidity))
        if above < END_FACE_MARGIN_K:
            notes.append(_note("warm end faces above dew point", above_dew_k=above))
    low, high = METER_EXACT_C
    if not low <= day.air_c <= high:
        notes.append(_note("meter drift", air_c=day.air_c, u_db=METER_DRIFT_OUTSIDE_DB))
    return notes


def _materials(day: Conditions) -> list[Note]:
    limits = (
        ("no adhesive tape", TAPE_LOW_C),
        ("pvc sheath is brittle", PVC_LOW_C),
        ("pe sheath is stiff", PE_LOW_C),
    )
    return [
        _note(name, air_c=day.air_c, low_c=low)
        for name, low in limits
        if day.air_c < low
    ]
