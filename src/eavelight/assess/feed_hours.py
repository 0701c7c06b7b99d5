"""Hours on battery as bands, through the cable that was planned or shown.

Today, in the cold, at the end of the battery's life, and both; the low end of each
band takes every input at its unfavourable end.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from eavelight.model.plan import Battery, Feed
from eavelight.power.battery import (
    capacity_after_years,
    capacity_at_temperature,
    life_years,
)
from eavelight.power.discharge import Block, Circuit, runtime_band
from eavelight.power.places import year_of_temperatures_c
from eavelight.power.rate_models import RateModel
from eavelight.standards.batteries import BatteryType, battery_type

NEAR_H = 8.0
"""Duration near which the models are fitted where no hours are asked for."""
LEAST = 0.01
# The band of the copper: two standard uncertainties each way.
BAND = 2.0
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the hours rest on besides the plan of the feed.

    `charge` is the state of charge when mains fails, `low_c` and `high_c` the
    extremes of the battery over the year.
    """

    loop_ohm: float
    loop_u_ohm: float
    temperature_c: float
    low_c: float
    high_c: float
    age_years: float
    charge: Pair = (1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One band: hours, what ends the shortest, temperature, whether sources cover."""

    low_h: float
    high_h: float
    ended_by: str
    temperature_c: float
    covered: bool

    def chance_of(self, target_h: float) -> float:
        """Probability of reaching the hours, even over the band."""
        if self.low_h >= target_h:
            return 1.0
        if self.high_h <= target_h:
            return 0.0
        return (self.high_h - target_h) / (self.high_h - self.low_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Four cases and the life of the battery at its place in years."""

    today: Case
    cold: Case
    end_of_life: Case
    cold_end_of_life: Case
    life_years: Pair


def load_profile(feed: Feed) -> tuple[Pair, ...]:
    """Load over an outage from hour 0; idle where the plan says nothing."""
    steps = {0.0: feed.terminal_idle_w}
    if feed.battery is not None:
        steps |= {step.from_h: step.watts for step in feed.battery.load_profile}
    return tuple(sorted(steps.items()))


def block_of(feed: Feed, battery: Battery) -> tuple[BatteryType, Block]:
    """The battery type, and the voltage of this battery over its depth."""
    kind = battery_type(battery.chemistry)
    cells = kind.cells(feed.supply_float_v)
    return kind, kind.block(
        battery.capacity_ah, rating_hours=battery.rating_hours, cells=cells
    )


def models_of(feed: Feed, battery: Battery) -> tuple[RateModel, ...]:
    """Models of the battery; ValueError where the maker's table cannot be one."""
    kind, block = block_of(feed, battery)
    return kind.models(
        battery.capacity_ah,
        rating_hours=battery.rating_hours,
        near_h=battery.target_hours or NEAR_H,
        block=block,
        table=[(row.hours, row.watts, row.end_v) for row in battery.discharge_table],
        end_v=feed.supply_cutoff_v,
    )


def circuit_of(feed: Feed, battery: Battery, loop_ohm: float) -> Circuit:
    """Everything between the battery and the end of service."""
    return Circuit(
        loop_ohm=loop_ohm,
        terminal_min_v=feed.terminal_min_v,
        cutoff_v=feed.supply_cutoff_v,
        peak_w=feed.terminal_peak_w,
        usable_fraction=battery.usable_fraction,
    )


def life_at(kind: BatteryType, low_c: float, high_c: float) -> Pair:
    """Years on float at a place, as sources disagree."""
    year = year_of_temperatures_c(low_c, high_c)
    lives = [
        life_years(
            year,
            reference_years=years,
            halving_k=halving,
            reference_c=kind.life_reference_c,
        )
        for years in kind.life_years
        for halving in kind.halving_k
    ]
    return min(lives), max(lives)


def hours_on_battery(feed: Feed, inputs: Inputs) -> Hours | None:
    """The four bands, None where no battery is planned.

    Parameters
    ----------
    feed : Feed
        Plan of the feed with its battery.
    inputs : Inputs
        Resistance, temperatures, age and charge.
    """
    battery = feed.battery
    if battery is None:
        return None
    kind = battery_type(battery.chemistry)
    life = life_at(kind, inputs.low_c, inputs.high_c)
    ages = [
        capacity_after_years(inputs.age_years, years, end_fraction=kind.end_fraction)
        for years in life
    ]
    old = min(kind.end_fraction, ages[0]), min(kind.end_fraction, ages[1])

    def case(temperature_c: float, ageing: Sequence[float], charge: Pair) -> Case:
        return _case(feed, inputs, (temperature_c, ageing[0], ageing[1]), charge)

    full = (1.0, 1.0)
    return Hours(
        today=case(inputs.temperature_c, ages, inputs.charge),
        cold=case(inputs.low_c, ages, full),
        end_of_life=case(inputs.temperature_c, old, full),
        cold_end_of_life=case(inputs.low_c, old, full),
        life_years=life,
    )


def _case(
    feed: Feed, inputs: Inputs, state: tuple[float, float, float], charge: Pair
) -> Case:
    temperature_c, low_age, high_age = state
    battery = feed.battery
    if battery is None:
        raise ValueError("feed must have a battery")
    kind = battery_type(battery.chemistry)
    low, high, covered = capacity_at_temperature(temperature_c, kind.temperature)
    spread = kind.capacity_spread
    apart = BAND * inputs.loop_u_ohm
    worst = _run(
        feed,
        max(low * low_age * (1.0 - spread), LEAST),
        charge[0],
        inputs.loop_ohm + apart,
    )
    best = _run(
        feed,
        max(high * high_age * (1.0 + spread), LEAST),
        charge[1],
        max(inputs.loop_ohm - apart, 0.0),
    )
    return Case(
        low_h=worst[0],
        high_h=max(best[1], worst[0]),
        ended_by=worst[2],
        temperature_c=temperature_c,
        covered=covered,
    )


@lru_cache(maxsize=256)
def _run(
    feed: Feed, capacity: float, charge: float, loop_ohm: float, /
) -> tuple[float, float, str]:
    """Shortest and longest run time over the models, what ends the shortest."""
    battery = feed.battery
    if battery is None:
        raise ValueError("feed must have a battery")
    _, block = block_of(feed, battery)
    band = runtime_band(
        models_of(feed, battery),
        block,
        circuit_of(feed, battery, loop_ohm),
        profile=load_profile(feed),
        capacity=(capacity, capacity),
        charge=(charge, charge),
    )
    return band.low_h, band.high_h, band.ended_by
