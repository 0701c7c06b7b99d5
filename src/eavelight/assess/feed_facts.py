"""What the record says about battery and supply, with its readings and its age."""

from dataclasses import dataclass
from datetime import date, datetime

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import on_battery
from eavelight.assess.selection import Placed
from eavelight.model.plan import Battery, Feed, Plan, SupplyPlace
from eavelight.power.battery import charge_from_rest
from eavelight.standards.batteries import battery_type

WARM_C = 25.0
"""Battery temperature where neither reading nor plan states one."""
COLD_C = 0.0
"""Coldest battery where the plan describes no place."""
REST_STATES = {"disconnected", "battery lead off", "no load"}
# A rest voltage that leaves more than this open tells nothing.
TELLS_NOTHING = 0.5
DAYS_PER_YEAR = 365.25
FULL = (1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFacts:
    """The battery as it was found; `source` names where the temperature is from.

    `age_state` is "stated", "dated", "after visit" or "unreadable". `rest_charge` is
    None where no rest voltage was read, or where it cannot tell.
    """

    temperature_c: float
    temperature_source: str
    age_years: float
    age_state: str
    rest_v: float | None
    rest_charge: tuple[float, float] | None
    readings: tuple[str, ...]


def place_in_use(plan: Plan) -> SupplyPlace | None:
    """The place where the supply hangs, if the plan describes it."""
    if plan.feed is None:
        return None
    name = plan.feed.place
    return next((item for item in plan.supply_place if item.name == name), None)


def extremes_c(plan: Plan, warm_c: float) -> tuple[float, float]:
    """Coldest and hottest battery over the year at the place in use."""
    place = place_in_use(plan)
    if place is not None:
        return place.low_c, max(place.high_c, place.low_c)
    return min(COLD_C, warm_c), max(warm_c, COLD_C)


def battery_facts(context: Context, feed: Feed, battery: Battery) -> BatteryFacts:
    """Temperature, age and rest voltage of the battery."""
    celsius, source, seen = battery_temperature_c(context, battery)
    years, state = battery_age(battery, context.observations.started)
    rest = rest_reading(context)
    charge = None if rest is None else _charge(context, feed, battery, rest)
    return BatteryFacts(
        temperature_c=celsius,
        temperature_source=source,
        age_years=years,
        age_state=state,
        rest_v=None if rest is None else rest.reading.number,
        rest_charge=charge,
        readings=(*seen, *(() if rest is None else (rest.reading.id,))),
    )


def battery_temperature_c(
    context: Context, battery: Battery | None
) -> tuple[float, str, tuple[str, ...]]:
    """Battery temperature, whether it was read, planned or assumed, its reading."""
    last = context.selection.latest("temperature", "battery")
    if last is not None:
        return last.reading.number, "read", (last.reading.id,)
    if battery is not None and battery.temperature_c is not None:
        return battery.temperature_c, "planned", ()
    return WARM_C, "assumed", ()


def battery_age(battery: Battery, visit: datetime) -> tuple[float, str]:
    """Age at the visit in years: the older of what the plan and the date code say."""
    if battery.date_code is None:
        return battery.age_years, "stated"
    made = date_of_code(battery.date_code)
    if made is None:
        return battery.age_years, "unreadable"
    years = (visit.date() - made).days / DAYS_PER_YEAR
    if years < 0.0:
        return battery.age_years, "after visit"
    return max(battery.age_years, years), "dated"


def date_of_code(code: str) -> date | None:
    """The day that a date code stands for, None where it cannot be read.

    >>> date_of_code("2026-02"), date_of_code("batch 7")
    (datetime.date(2026, 2, 1), None)
    """
    text = code.strip().replace("/", "-").replace(".", "-")
    for candidate in (text, f"{text}-01", f"{text}-01-01"):
        try:
            return date.fromisoformat(candidate)
        except ValueError:
            continue
    return None


def rest_reading(context: Context) -> Placed | None:
    """The last voltage of the battery with its leads off, None where none was read."""
    found = [
        item
        for item in context.current("volts", "battery")
        if REST_STATES & set(item.reading.state) and not on_battery(item)
    ]
    return found[-1] if found else None


def _charge(
    context: Context, feed: Feed, battery: Battery, rest: Placed
) -> tuple[float, float] | None:
    kind = battery_type(battery.chemistry)
    low, high = charge_from_rest(
        abs(rest.reading.number),
        cells=kind.cells(feed.supply_float_v),
        table=kind.rest,
        rest_u_v=context.u_of(rest.reading),
    )
    return None if high - low > TELLS_NOTHING else (low, high)
