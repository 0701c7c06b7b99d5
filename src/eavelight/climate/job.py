"""What the weather and the place do to the work: seasons on glass and copper, the day.

Advice comes as ids with numbers, and only when the conditions call for it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from eavelight.climate.humidity import dew_point, pressure_at
from eavelight.climate.practice import BatteryPlace, DayThresholds

COPPER_PER_K = 0.00393


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


def seasonal_glass_change(length_m: float, *, change_db_per_km: float) -> float:
    """Largest change of loss that the seasons may cause in sound cable.

    Almost nothing on a drop: a step that can be seen is a fault (ice, a tight tie, a
    connector), not the fibre.

    Parameters
    ----------
    length_m : float
        Cable outdoors [m]
    change_db_per_km : float
        What a cable may change in the cold test [dB/km]

    Returns
    -------
    change_db : float
        Change of loss between seasons [dB]

    Examples
    --------
    >>> seasonal_glass_change(100.0, change_db_per_km=0.05)
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
    chemistry: str, *, low_c: float, high_c: float, known: BatteryPlace
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
    known : BatteryPlace
        What heat and cold do to a battery [°C]

    Returns
    -------
    notes : tuple of Note
        By id, with numbers [1]

    Examples
    --------
    >>> known = BatteryPlace(
    ...     rated_c=20.0, warm_above_rated_k=5.0, halving_k=10.0,
    ...     lead_cold_below_c=10.0, lead_share={-20.0: 0.55, 0.0: 0.8, 20.0: 1.0},
    ...     lithium_charge_low_c=0.0)
    >>> [item.note for item in
    ...     battery_at_place("lfp", low_c=-5.0, high_c=20.0, known=known)]
    ['no charging below freezing']
    """
    notes = []
    if chemistry == "lfp" and low_c < known.lithium_charge_low_c:
        notes.append(_note("no charging below freezing", low_c=low_c))
    if chemistry == "vrla" and low_c < known.lead_cold_below_c:
        at, shares = zip(*sorted(known.lead_share.items()), strict=True)
        share = float(np.interp(low_c, at, shares))
        notes.append(
            _note("less capacity in the cold", low_c=low_c, capacity_share=share)
        )
    if high_c > known.rated_c + known.warm_above_rated_k:
        factor = 0.5 ** ((high_c - known.rated_c) / known.halving_k)
        notes.append(_note("shorter life in heat", high_c=high_c, life_share=factor))
    return tuple(notes)


def _note(note: str, **numbers: float) -> Note:
    return Note(note=note, numbers=MappingProxyType(numbers))


def notes_for_the_day(
    conditions: Conditions, *, thresholds: DayThresholds
) -> tuple[Note, ...]:
    """What to mind on this day, nothing when nothing calls for it.

    Parameters
    ----------
    conditions : Conditions
        The day at the wall [°C]
    thresholds : DayThresholds
        When a condition calls for a note [°C]

    Returns
    -------
    notes : tuple of Note
        By id, with numbers, dangers first [1]

    Examples
    --------
    >>> thresholds = DayThresholds(
    ...     splicer_low_c=-10.0, splicer_high_c=50.0, arc_check_height_m=500.0,
    ...     arc_check_step_k=15.0, frost_c=0.0, tape_low_c=10.0, pvc_low_c=-5.0,
    ...     pe_low_c=-15.0, meter_exact_low_c=0.0, meter_exact_high_c=40.0,
    ...     meter_drift_db=0.3, wind_splice_m_per_s=5.0, wind_ladder_m_per_s=13.4,
    ...     hot_skin_c=65.0, chill_warn_c=-28.0, end_face_margin_k=2.0)
    >>> notes_for_the_day(Conditions(air_c=18.0), thresholds=thresholds)
    ()
    >>> [item.note for item in
    ...     notes_for_the_day(Conditions(air_c=-12.0), thresholds=thresholds)][:2]
    ['splicer out of range', 'frost on blade and end face']
    """
    return (
        *_dangers(conditions, thresholds),
        *_splicing(conditions, thresholds),
        *_cleaning(conditions, thresholds),
        *_materials(conditions, thresholds),
    )


def _dangers(day: Conditions, of: DayThresholds) -> list[Note]:
    notes = []
    if day.thunder:
        notes.append(_note("stop for thunder"))
    if day.wind_m_per_s is not None:
        wind = day.wind_m_per_s
        if wind >= of.wind_ladder_m_per_s:
            notes.append(_note("no ladder in this wind", wind_m_per_s=wind))
        chill = wind_chill(day.air_c, wind)
        if chill <= of.chill_warn_c:
            notes.append(_note("frostbite", wind_chill_c=chill))
    if day.skin_c is not None and day.skin_c >= of.hot_skin_c:
        notes.append(_note("hot box", skin_c=day.skin_c))
    return notes


def _splicing(day: Conditions, of: DayThresholds) -> list[Note]:
    notes = []
    air = day.air_c
    if not of.splicer_low_c <= air <= of.splicer_high_c:
        notes.append(_note("splicer out of range", air_c=air))
    if air < of.frost_c:
        notes.append(_note("frost on blade and end face", air_c=air))
        notes.append(_note("longer shrink time", air_c=air))
    if day.wind_m_per_s is not None and day.wind_m_per_s >= of.wind_splice_m_per_s:
        notes.append(_note("shelter the splicer", wind_m_per_s=day.wind_m_per_s))
    if day.elevation_m is not None and day.arc_checked_at_m is not None:
        climb = abs(day.elevation_m - day.arc_checked_at_m)
        if climb > of.arc_check_height_m:
            ratio = pressure_at(day.elevation_m) / pressure_at(day.arc_checked_at_m)
            notes.append(
                _note("arc check after change of height", climb_m=climb, pressure=ratio)
            )
    if day.arc_checked_at_c is not None:
        step = abs(air - day.arc_checked_at_c)
        if step > of.arc_check_step_k:
            notes.append(_note("arc check after change of temperature", step_k=step))
    return notes


def _cleaning(day: Conditions, of: DayThresholds) -> list[Note]:
    notes = []
    if day.relative_humidity is not None:
        above = day.air_c - float(dew_point(day.air_c, day.relative_humidity))
        if above < of.end_face_margin_k:
            notes.append(_note("warm end faces above dew point", above_dew_k=above))
    if not of.meter_exact_low_c <= day.air_c <= of.meter_exact_high_c:
        notes.append(_note("meter drift", air_c=day.air_c, u_db=of.meter_drift_db))
    return notes


def _materials(day: Conditions, of: DayThresholds) -> list[Note]:
    limits = (
        ("no adhesive tape", of.tape_low_c),
        ("pvc sheath is brittle", of.pvc_low_c),
        ("pe sheath is stiff", of.pe_low_c),
    )
    return [
        _note(name, air_c=day.air_c, low_c=low)
        for name, low in limits
        if day.air_c < low
    ]
