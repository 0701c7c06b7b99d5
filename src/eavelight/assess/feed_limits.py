"""The supply itself: its power, its source class as information, its volts on mains.

What a table of an electrical code prints stands here as information. Whether a feed
may be built so is for the adopted code, the listing and the authority.
"""

import math

from eavelight.assess.context import Context
from eavelight.assess.feed_facts import battery_temperature_c, place_in_use
from eavelight.assess.feed_resistance import on_battery, planned_loop, shown_resistance
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Battery, Feed
from eavelight.power.battery import float_voltage_v
from eavelight.power.feed import supply_power_w, terminal_voltage_v
from eavelight.power.limits import limit_notes, source_power_va
from eavelight.standards.batteries import battery_type
from eavelight.standards.conformity import decide
from eavelight.standards.cords import source_rows

LIMITS, SUPPLY = "feed.limits", "feed.supply"
FEED_OFF = {"disconnected", "battery lead off"}
# The extremes of a place are known to about this much.
PLACE_U_K = 1.0


def assess_limits(context: Context, feed: Feed) -> list[Finding]:
    """Power of the supply, source class as information, charging temperature."""
    return [
        _power(context, feed),
        _source(context, feed),
        *_charging(context, feed),
    ]


def _power(context: Context, feed: Feed) -> Finding:
    """Peak load and what the cable loses, against what the supply can give."""
    requirement = LIMITS
    shown = shown_resistance(context, feed)
    ohm, u_ohm = (shown.ohm, shown.u_ohm) if shown else planned_loop(feed)
    watts = peak_power_w(feed, ohm)
    values: dict[str, object] = {
        "peak": feed.terminal_peak_w,
        "power": watts,
        "rated": feed.supply_limit_w,
    }
    if watts is None:
        return not_measured(
            context, requirement, "supply", reason="collapses", values=values
        )
    spread = peak_power_u_w(feed, ohm, u_ohm)
    expected = Quantity(value=watts, unit="W", u=spread)
    if feed.supply_limit_w is None:
        return not_measured(
            context,
            requirement,
            "supply",
            reason="no_rating",
            values=values,
            expected=expected,
        )
    decision = decide(
        watts,
        watts if spread is None else spread,
        high=feed.supply_limit_w,
        factor=context.profile.guard_factor,
    )
    verdict = Verdict(decision.verdict)
    return finding(
        context,
        requirement,
        "supply",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.power", values),
        expected=expected,
        limit=Limit(
            high=feed.supply_limit_w, unit="W", clause="plan.feed", confidence="stated"
        ),
        probability=decision.probability,
        decide_by=(
            Message("feed.limits.decide_by", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=shown.readings if shown else (),
    )


def _peak_source_v(feed: Feed, ohm: float) -> float | None:
    """The supply voltage at which peak load draws most, None where all collapses."""
    found = [
        (float(supply_power_w(volts, ohm, feed.terminal_peak_w)), volts)
        for volts in (feed.supply_float_v, feed.supply_cutoff_v)
    ]
    working = [item for item in found if math.isfinite(item[0])]
    return max(working)[1] if working else None


def peak_power_w(feed: Feed, ohm: float) -> float | None:
    """Largest power that the supply gives at peak load, on mains or at cut-off [W]."""
    source = _peak_source_v(feed, ohm)
    if source is None:
        return None
    return float(supply_power_w(source, ohm, feed.terminal_peak_w))


def peak_power_u_w(feed: Feed, ohm: float, u_ohm: float) -> float | None:
    """Its standard uncertainty from the copper, None at the edge of collapse [W]."""
    source = _peak_source_v(feed, ohm)
    if source is None:
        return None
    volts = float(terminal_voltage_v(source, ohm, feed.terminal_peak_w))
    slope = 2.0 * volts - source
    if slope <= 0.0:
        return None
    return source * (feed.terminal_peak_w / volts) ** 2 / slope * u_ohm


def _source(context: Context, feed: Feed) -> Finding:
    """What the table for limited sources and wet places says: information only."""
    requirement = LIMITS
    rows = source_rows()
    wet = context.profile.limit("feed.limits.wet")
    rated = feed.supply_limit_w
    ohm, _ = planned_loop(feed)
    volts = feed.supply_float_v
    drawn = rated if rated is not None else peak_power_w(feed, ohm)
    notes = limit_notes(
        volts,
        drawn if drawn is not None else math.nan,
        rows=rows,
        wet_contact_v=wet.value,
    )
    told = tuple(
        name
        for name in ("above wet contact", "outside table", "above table")
        if name in notes
    )
    allowed = source_power_va(volts, rows)
    values: dict[str, object] = {
        "volts": volts,
        "wet": wet.value,
        "drawn": drawn,
        "rated": rated is not None,
        "allowed": allowed if math.isfinite(allowed) else None,
        "notes": tuple(
            Message(
                f"feed.limits.note.{name.replace(' ', '_')}",
                {"volts": volts, "wet": wet.value, "drawn": drawn, "allowed": allowed},
            )
            for name in told
        ),
    }
    verdict = Verdict.UNDECIDED if told else Verdict.PASS
    return finding(
        context,
        requirement,
        "terminal",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.source", values),
        expected=Quantity(value=volts, unit="V"),
        limit=limit_of(wet),
        decide_by=Message("feed.limits.defer", values) if told else None,
    )


def _charging(context: Context, feed: Feed) -> list[Finding]:
    """Whether the battery may be charged at the temperatures it will see."""
    battery = feed.battery
    if battery is None:
        return []
    seen, source, readings = battery_temperature_c(context, battery)
    place = place_in_use(context.plan)
    if place is None and source != "read":
        return []
    reached = [seen] if source == "read" else []
    reached += [place.low_c, place.high_c] if place is not None else []
    return [_charge_window(context, battery, (min(reached), max(reached)), readings)]


def _charge_window(
    context: Context,
    battery: Battery,
    span: tuple[float, float],
    readings: tuple[str, ...],
) -> Finding:
    requirement = LIMITS
    kind = battery_type(battery.chemistry)
    low, high = kind.charge_window_c
    cold = low - span[0] >= span[1] - high
    edge = span[0] if cold else span[1]
    decision = decide(
        edge, PLACE_U_K, low=low, high=high, factor=context.profile.guard_factor
    )
    verdict = Verdict(decision.verdict)
    values = {"edge": edge, "low": low, "high": high, "cold": cold}
    return finding(
        context,
        requirement,
        "battery",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.charging", values),
        expected=Quantity(value=edge, unit="°C", u=PLACE_U_K),
        limit=Limit(
            low=low,
            high=high,
            unit="°C",
            clause=f"batteries.{kind.id}.charge_window",
            confidence=kind.confidence["window"],
        ),
        probability=decision.probability,
        decide_by=(
            Message("feed.limits.decide_charging", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=readings,
    )


def assess_supply(context: Context, feed: Feed) -> Finding:
    """Volts of the supply on mains near its float, warm or cold."""
    requirement = SUPPLY
    celsius, source, seen = battery_temperature_c(context, feed.battery)
    compensated = compensated_float_v(feed, celsius)
    known = feed.battery is not None and source != "assumed"
    expected = compensated if known else feed.supply_float_v
    values: dict[str, object] = {
        "expected": expected,
        "float": feed.supply_float_v,
        "celsius": celsius,
        "warm": known and abs(expected - feed.supply_float_v) > 0.005,
    }
    readings = supply_on_mains(context)
    if not readings:
        return not_measured(
            context,
            requirement,
            "supply",
            values=values,
            expected=Quantity(value=expected, unit="V"),
        )
    clause = context.profile.limit(requirement)
    share = clause.value / 100.0
    ends = sorted((feed.supply_float_v, expected))
    item = readings[-1]
    limit = limit_of(clause, low=ends[0] * (1.0 - share), high=ends[1] * (1.0 + share))
    return judged(
        context,
        requirement,
        "supply",
        measured=Quantity(
            value=item.reading.number, unit="V", u=context.u_of(item.reading)
        ),
        expected=Quantity(value=expected, unit="V"),
        limit=Limit(
            low=limit.low,
            high=limit.high,
            unit="V",
            clause=limit.clause,
            edition=limit.edition,
            confidence=limit.confidence,
        ),
        because={**values, "reversed": item.reading.number < 0},
        observations=(*ids(readings), *seen),
    )


def supply_on_mains(context: Context) -> list[Placed]:
    """Volts read at the supply while mains was there, in order of time."""
    return [
        item
        for item in context.current("volts", "supply")
        if not on_battery(item) and not FEED_OFF & set(item.reading.state)
    ]


def compensated_float_v(feed: Feed, celsius: float) -> float:
    """The planned float at a battery temperature, as lead-acid chargers follow it."""
    if feed.battery is None:
        return feed.supply_float_v
    kind = battery_type(feed.battery.chemistry)
    cells = kind.cells(feed.supply_float_v)
    return float(
        float_voltage_v(
            celsius,
            float_25c_v=feed.supply_float_v,
            slope_v_per_k=kind.float_slope_per_cell_v_per_k * cells,
            clamp_c=kind.float_clamp_c,
        )
    )
