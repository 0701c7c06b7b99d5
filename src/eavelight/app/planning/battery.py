"""Hours on battery as bands, life, size for the target, air, and a curve to draw."""

from dataclasses import dataclass

from eavelight.app.planning.feed import FeedPlan
from eavelight.assess.feed_facts import WARM_C, battery_age, extremes_c
from eavelight.assess.feed_hours import (
    LEAST,
    Case,
    Hours,
    Inputs,
    block_of,
    circuit_of,
    hours_on_battery,
    load_profile,
    models_of,
)
from eavelight.errors import EvidenceError
from eavelight.model.plan import Battery, Feed
from eavelight.model.visit import Visit
from eavelight.power.battery import (
    capacity_at_temperature,
    charging_state,
    hydrogen_airflow_m3_per_h,
    vent_area_cm2,
)
from eavelight.power.discharge import Discharge, discharge
from eavelight.power.sizing import capacity_for_target_ah
from eavelight.standards.batteries import BatteryType, battery_type

CASES = ("today", "cold", "end_of_life", "cold_end_of_life")
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatteryPlan:
    """Hours in four cases, life, size, air.

    `capacity_for_target_ah` is None where the planned battery meets the target, NaN
    where the cable lets none do it. `curves` are typical discharges to draw.
    """

    battery: Battery
    kind: BatteryType
    hours: Hours
    age_years: float
    assumed_load: bool
    assumed_temperature: bool
    capacity_for_target_ah: float | None
    charging: str
    air_m3_per_h: float
    vent_cm2: float
    curves: dict[str, Discharge]

    @property
    def cases(self) -> dict[str, Case]:
        """The four cases by name."""
        return {name: getattr(self.hours, name) for name in CASES}

    @property
    def replace_in_years(self) -> Pair:
        """Years left, shortest and longest."""
        low, high = self.hours.life_years
        return max(0.0, low - self.age_years), max(0.0, high - self.age_years)


def plan_battery(visit: Visit, feed: FeedPlan | None) -> BatteryPlan | None:
    """Run time and life, None where no battery is planned."""
    if feed is None or feed.feed.battery is None:
        return None
    given, battery = feed.feed, feed.feed.battery
    kind = battery_type(battery.chemistry)
    age, _ = battery_age(battery, visit.head.started)
    inputs = _inputs(visit, feed, battery, age)
    try:
        hours = hours_on_battery(given, inputs)
    except ValueError as error:
        raise EvidenceError(
            "visit.toml",
            "feed.battery.discharge_table",
            "longer times at less power, and more energy in all",
            str(error),
            advice="copy the maker's table again",
        ) from None
    if hours is None:
        return None
    air = hydrogen_airflow_m3_per_h(
        kind.cells(given.supply_float_v),
        battery.capacity_ah,
        gas_ma_per_ah=kind.gas_boost_ma_per_ah,
    )
    window = kind.charge_window_c
    return BatteryPlan(
        battery=battery,
        kind=kind,
        hours=hours,
        age_years=age,
        assumed_load=not battery.load_profile,
        assumed_temperature=battery.temperature_c is None,
        capacity_for_target_ah=_for_target(given, battery, hours, inputs),
        charging=charging_state(inputs.low_c, inputs.high_c, window_c=window),
        air_m3_per_h=air,
        vent_cm2=vent_area_cm2(air),
        curves={
            "today": _curve(given, battery, inputs, inputs.temperature_c),
            "cold": _curve(given, battery, inputs, inputs.low_c),
        },
    )


def _inputs(visit: Visit, feed: FeedPlan, battery: Battery, age: float) -> Inputs:
    warm = WARM_C if battery.temperature_c is None else battery.temperature_c
    low, high = extremes_c(visit.plan, warm)
    return Inputs(
        loop_ohm=feed.loop_ohm,
        loop_u_ohm=feed.loop_u_ohm,
        temperature_c=warm,
        low_c=low,
        high_c=high,
        age_years=age,
    )


def _share(battery: Battery, temperature_c: float) -> Pair:
    """Share of the label that is left in the cold, low and high."""
    kind = battery_type(battery.chemistry)
    low, high, _ = capacity_at_temperature(temperature_c, kind.temperature)
    return max(low * (1.0 - kind.capacity_spread), LEAST), max(high, LEAST)


def _curve(
    feed: Feed, battery: Battery, inputs: Inputs, temperature_c: float
) -> Discharge:
    """A discharge in the middle of what a new battery gives, to draw."""
    _, block = block_of(feed, battery)
    middle = sum(_share(battery, temperature_c)) / 2.0
    return discharge(
        models_of(feed, battery)[0].scaled(middle),
        block.weakened(middle),
        circuit_of(feed, battery, inputs.loop_ohm),
        profile=load_profile(feed),
    )


def _for_target(
    feed: Feed, battery: Battery, hours: Hours, inputs: Inputs
) -> float | None:
    """Capacity that meets the target cold and old, None where this one does."""
    target = battery.target_hours
    if not target or hours.cold_end_of_life.low_h >= target:
        return None
    kind, block = block_of(feed, battery)
    low, _ = _share(battery, inputs.low_c)
    return capacity_for_target_ah(
        models_of(feed, battery),
        block,
        circuit_of(feed, battery, inputs.loop_ohm),
        profile=load_profile(feed),
        target_h=target,
        rated_ah=battery.capacity_ah,
        capacity=max(low * kind.end_fraction, LEAST),
    )
