"""Where to hang the supply: candidate places compared by what decides.

Hard noes first, then volts at the end of the cable, hours when cold and old, life of
the battery, length.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from eavelight.power.battery import (
    TemperatureTable,
    capacity_at_temperature,
    charging_state,
    life_years,
)
from eavelight.power.discharge import Block, Circuit, runtime_band
from eavelight.power.feed import maximum_length_m, terminal_voltage_v
from eavelight.power.load import Profile
from eavelight.power.rate_models import RateModel


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A candidate: cord length, extremes of the battery's temperature, hazards."""

    name: str
    length_m: float
    low_c: float
    high_c: float
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What is the same at every place.

    `reference_years` and `halving_k` are (low, high) as sources disagree. `refused`
    are the hazards that rule a place out; all others are told as cautions.
    """

    models: tuple[RateModel, ...]
    block: Block
    profile: Profile
    idle_w: float
    peak_w: float
    terminal_min_v: float
    cutoff_v: float
    loop_ohm_per_km: float
    temperature: TemperatureTable
    reference_years: tuple[float, float]
    halving_k: tuple[float, float]
    reference_c: float
    charge_window_c: tuple[float, float]
    empty_freezes_c: float
    refused: tuple[str, ...]
    usable_fraction: float = 1.0
    joint_ohm: float = 0.0
    old_fraction: float = 0.8
    capacity_spread: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceResult:
    """One row of the comparison.

    Volts are NaN when the feed collapses. `deciding` is the id of what rules the place
    out or limits it: "refused: <hazard>", "charging", "volts", "hours", "life", "none".
    """

    name: str
    length_m: float
    longest_m: float
    loop_ohm: float
    cutoff_idle_v: float
    cutoff_peak_v: float
    cold_h: tuple[float, float]
    cold_old_h: tuple[float, float]
    life: tuple[float, float]
    covered: bool
    refusals: tuple[str, ...]
    cautions: tuple[str, ...]
    meets_target: bool
    deciding: str


def year_of_temperatures_c(low_c: float, high_c: float) -> np.ndarray:
    """A plain year between two extremes, twelve equal months of a sine.

    Parameters
    ----------
    low_c : float
        Coldest of the year [°C]
    high_c : float
        Hottest of the year [°C]

    Returns
    -------
    temperatures_c : ndarray, shape (12,)
        The full swing as monthly means, hence cautious for life [°C]

    Examples
    --------
    >>> year = year_of_temperatures_c(0.0, 30.0)
    >>> float(year.mean()), len(year)
    (15.0, 12)
    """
    if high_c < low_c:
        raise ValueError(f"high_c must not be below low_c, got {low_c} and {high_c}")
    phase = 2.0 * np.pi * (np.arange(12) + 0.5) / 12.0
    return np.asarray((low_c + high_c) / 2.0 - (high_c - low_c) / 2.0 * np.cos(phase))


def place_result(place: Place, supply: Supply, *, target_h: float) -> PlaceResult:
    """Everything about one candidate place.

    Parameters
    ----------
    place : Place
        The candidate [1]
    supply : Supply
        What is the same at every place [1]
    target_h : float
        Hours asked for [h]

    Returns
    -------
    result : PlaceResult
        Volts, hours, life, refusals and what decides [mixed]
    """
    loop = place.length_m * supply.loop_ohm_per_km / 1000.0 + supply.joint_ohm
    idle, peak = (
        float(terminal_voltage_v(supply.cutoff_v, loop, watts))
        for watts in (supply.idle_w, supply.peak_w)
    )
    cold, old, covered = _hours(place, supply, loop)
    life = _life(place, supply)
    refusals = _refusals(place, supply)
    up = peak >= supply.terminal_min_v
    return PlaceResult(
        name=place.name,
        length_m=place.length_m,
        longest_m=_longest(supply),
        loop_ohm=loop,
        cutoff_idle_v=idle,
        cutoff_peak_v=peak,
        cold_h=cold,
        cold_old_h=old,
        life=life,
        covered=covered,
        refusals=refusals,
        cautions=_cautions(place, supply),
        meets_target=not refusals and up and old[0] >= target_h,
        deciding=_deciding(refusals, {"volts": up, "hours": old[0] >= target_h}),
    )


def compare_places(
    places: Sequence[Place], supply: Supply, *, target_h: float
) -> tuple[PlaceResult, ...]:
    """Candidate places, best first.

    Parameters
    ----------
    places : sequence of Place
        Candidates [1]
    supply : Supply
        What is the same at every place [1]
    target_h : float
        Hours asked for [h]

    Returns
    -------
    results : tuple of PlaceResult
        Not refused before refused, meeting the target first, then more hours (to the
        quarter hour), longer life, shorter cord [mixed]
    """
    results = [place_result(place, supply, target_h=target_h) for place in places]
    return tuple(
        sorted(
            results,
            key=lambda r: (
                bool(r.refusals),
                not r.meets_target,
                -round(min(r.cold_old_h[0], target_h) * 4.0),
                -round(r.life[0], 1),
                r.length_m,
            ),
        )
    )


def _hours(
    place: Place, supply: Supply, loop_ohm: float
) -> tuple[tuple[float, float], tuple[float, float], bool]:
    circuit = Circuit(
        loop_ohm=loop_ohm,
        terminal_min_v=supply.terminal_min_v,
        cutoff_v=supply.cutoff_v,
        peak_w=supply.peak_w,
        usable_fraction=supply.usable_fraction,
    )
    low, high, covered = capacity_at_temperature(place.low_c, supply.temperature)
    spread = supply.capacity_spread
    found = []
    for age in (1.0, supply.old_fraction):
        band = runtime_band(
            supply.models,
            supply.block,
            circuit,
            profile=supply.profile,
            capacity=(low * age * (1.0 - spread), high * age * (1.0 + spread)),
        )
        found.append((band.low_h, band.high_h))
    return found[0], found[1], covered


def _life(place: Place, supply: Supply) -> tuple[float, float]:
    year = year_of_temperatures_c(place.low_c, place.high_c)
    lives = [
        life_years(
            year,
            reference_years=years,
            halving_k=halving,
            reference_c=supply.reference_c,
        )
        for years in supply.reference_years
        for halving in supply.halving_k
    ]
    return min(lives), max(lives)


def _longest(supply: Supply) -> float:
    if not supply.peak_w > 0.0:
        return math.inf
    length = maximum_length_m(
        supply.cutoff_v,
        supply.peak_w,
        supply.terminal_min_v,
        loop_ohm_per_km=supply.loop_ohm_per_km,
    )
    return max(0.0, float(length) - supply.joint_ohm / supply.loop_ohm_per_km * 1000.0)


def _refusals(place: Place, supply: Supply) -> tuple[str, ...]:
    found = [hazard for hazard in place.hazards if hazard in supply.refused]
    window = supply.charge_window_c
    if charging_state(place.low_c, place.high_c, window_c=window) == "too cold":
        found.append("charging")
    return tuple(found)


def _cautions(place: Place, supply: Supply) -> tuple[str, ...]:
    found = [hazard for hazard in place.hazards if hazard not in supply.refused]
    window = supply.charge_window_c
    if charging_state(place.low_c, place.high_c, window_c=window) == "too hot":
        found.append("charging hot")
    if place.low_c <= supply.empty_freezes_c:
        found.append("freezes when empty")
    return tuple(found)


def _deciding(refusals: Sequence[str], checks: Mapping[str, bool]) -> str:
    if refusals:
        first = refusals[0]
        return first if first == "charging" else f"refused: {first}"
    failed = [name for name, good in checks.items() if not good]
    return failed[0] if failed else "none"
