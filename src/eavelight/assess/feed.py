"""The copper feed: under load now, at battery cut-off later, and all else about it."""

import math

from eavelight.assess.context import Context
from eavelight.assess.feed_limits import assess_limits, assess_supply
from eavelight.assess.feed_polarity import assess_polarity
from eavelight.assess.feed_resistance import (
    PathResistance,
    loaded,
    on_battery,
    planned_loop,
    power_loops,
    shown_resistance,
)
from eavelight.assess.feed_runtime import assess_runtime
from eavelight.assess.feed_status import assess_status
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Feed
from eavelight.power.feed import (
    collapse_voltage_v,
    joint_heat_w,
    minimum_supply_v,
    supply_margin_u_v,
    terminal_voltage_u_v,
    terminal_voltage_v,
)
from eavelight.standards.conformity import decide


def assess_feed(context: Context) -> list[Finding]:
    """Findings on the feed; none where the plan has no `[feed]`."""
    feed = context.plan.feed
    if feed is None:
        return []
    return [
        *_loaded(context, feed),
        _cutoff(context, feed),
        _loop(context, feed),
        *assess_limits(context, feed),
        assess_supply(context, feed),
        assess_polarity(context, feed),
        assess_status(context, feed),
        *assess_runtime(context, feed),
    ]


def _nameplate(low: float | None, high: float | None) -> Limit:
    """A limit that the plan states, not a document."""
    return Limit(low=low, high=high, unit="V", clause="plan.feed", confidence="stated")


def _loaded(context: Context, feed: Feed) -> list[Finding]:
    requirement = "feed.loaded"
    readings = [item for item in context.current("volts", "terminal") if loaded(item)]
    if not readings:
        unloaded = context.current("volts", "terminal")
        return [
            not_measured(
                context,
                requirement,
                "terminal",
                reason="unloaded" if unloaded else "",
                values={
                    "value": unloaded[-1].reading.number if unloaded else None,
                    "load": feed.terminal_peak_w,
                },
                observations=ids(unloaded),
            )
        ]
    return [_loaded_one(context, feed, item) for item in readings]


def _loaded_one(context: Context, feed: Feed, item: Placed) -> Finding:
    reading = item.reading
    loop, _ = planned_loop(feed)
    load = reading.load_w if reading.load_w is not None else feed.terminal_peak_w
    expected = None
    if not on_battery(item):
        volts = float(terminal_voltage_v(feed.supply_float_v, loop, load))
        expected = None if math.isnan(volts) else Quantity(value=volts, unit="V")
    return judged(
        context,
        "feed.loaded",
        "terminal",
        measured=Quantity(value=reading.number, unit="V", u=context.u_of(reading)),
        limit=_nameplate(feed.terminal_min_v, feed.terminal_max_v),
        because={
            "battery": on_battery(item),
            "load": load,
            "expected": expected.value if expected else None,
        },
        expected=expected,
        observations=ids([item]),
    )


def _cutoff(context: Context, feed: Feed) -> Finding:
    """Hold the volts at battery cut-off and peak load against the terminal.

    Decided on the margin of the source voltage, which stays well-conditioned up to
    collapse, and told in volts at the terminal.
    """
    requirement = "feed.cutoff"
    shown = shown_resistance(context, feed)
    plan_ohm, plan_u = planned_loop(feed)
    ohm, u_ohm = (shown.ohm, shown.u_ohm) if shown else (plan_ohm, plan_u)
    source, load = feed.supply_cutoff_v, feed.terminal_peak_w
    volts = float(terminal_voltage_v(source, ohm, load))
    least = float(minimum_supply_v(ohm, load, feed.terminal_min_v))
    values: dict[str, object] = {
        "expected": None if math.isnan(volts) else volts,
        "low": feed.terminal_min_v,
        "cutoff": source,
        "load": load,
        "ohm": ohm,
        "plan_ohm": plan_ohm,
        "least": least,
        "collapse": float(collapse_voltage_v(ohm, load)),
    }
    u_volts = terminal_voltage_u_v(source, ohm, load, loop_u_ohm=u_ohm)
    expected = None
    if not math.isnan(volts):
        spread = float(u_volts)
        expected = Quantity(
            value=volts, unit="V", u=spread if math.isfinite(spread) else None
        )
    limit = _nameplate(feed.terminal_min_v, None)
    required = context.required(requirement)
    if shown is None:
        return not_measured(
            context,
            requirement,
            "terminal",
            reason="" if expected else "collapses",
            values=values,
            expected=expected,
            limit=limit,
            required=required,
        )
    margin_u = float(
        supply_margin_u_v(ohm, load, feed.terminal_min_v, loop_u_ohm=u_ohm)
    )
    decision = decide(
        source - least, margin_u, low=0.0, factor=context.profile.guard_factor
    )
    verdict = Verdict(decision.verdict)
    name = f"{requirement}.{verdict}" + ("" if expected else ".collapses")
    if shown.disagree and verdict is not Verdict.PASS:
        name += ".joint"
        values |= _joint(feed, shown)
    return finding(
        context,
        requirement,
        "terminal",
        verdict=verdict,
        because=Message(name, values),
        expected=expected,
        limit=limit,
        probability=decision.probability,
        decide_by=(
            Message(f"{requirement}.decide_by", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=shown.readings,
        broken_by=shown.deciding,
    )


def _joint(feed: Feed, shown: PathResistance) -> dict[str, object]:
    """What the loop does not explain, and the heat in it on battery at peak load.

    Near collapse the current is that of the lowest voltage at which the terminal runs.
    """
    loop = min(item.ohm for item in shown.estimates)
    extra = shown.ohm - loop
    low = min(item.u_ohm for item in shown.estimates if item.ohm == loop)
    volts = float(
        terminal_voltage_v(feed.supply_cutoff_v, shown.ohm, feed.terminal_peak_w)
    )
    held = volts if volts > feed.terminal_min_v else feed.terminal_min_v
    return {
        "loop_ohm": loop,
        "extra_ohm": extra,
        "extra_u_ohm": math.hypot(shown.u_ohm, low),
        "heat": float(joint_heat_w(feed.terminal_peak_w / held, extra)),
    }


def _loop(context: Context, feed: Feed) -> Finding:
    requirement = "feed.loop"
    expected, u = planned_loop(feed)
    readings = power_loops(context)
    quantity = Quantity(value=expected, unit="ohm", u=u)
    if not readings:
        return not_measured(
            context,
            requirement,
            "supply",
            values={"expected": expected},
            expected=quantity,
        )
    clause = context.profile.limit(requirement)
    share = clause.value / 100.0
    reading = readings[-1].reading
    limit = limit_of(
        clause, low=expected * (1.0 - share), high=expected * (1.0 + share)
    )
    return judged(
        context,
        requirement,
        "supply",
        measured=Quantity(value=reading.number, unit="ohm", u=context.u_of(reading)),
        expected=quantity,
        limit=Limit(
            low=limit.low,
            high=limit.high,
            unit="ohm",
            clause=limit.clause,
            edition=limit.edition,
            confidence=limit.confidence,
        ),
        because={
            "expected": expected,
            "share": clause.value,
            "higher": reading.number > expected,
        },
        observations=ids(readings),
        broken_by=ids(readings[-1:]),
    )
