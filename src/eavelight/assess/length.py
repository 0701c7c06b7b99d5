"""Whether the lengths of the record agree: plan, glass and copper of one sheath."""

import math
from dataclasses import dataclass, replace

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import planned_loop
from eavelight.assess.judge import finding, limit_of, not_measured
from eavelight.assess.trace import traced_length
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Feed, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """One way to know a length, with its standard uncertainty [m]."""

    name: str
    length_m: float
    u_m: float
    observations: tuple[str, ...]


def assess_length(context: Context) -> list[Finding]:
    """`evidence.length_agrees`: trace and copper loop as rulers beside the record.

    Copper is compared only where it lies in the sheath of a fibre part.
    """
    requirement = "evidence.length_agrees"
    drop = sum(part.length_m or 0.0 for part in context.plan.plant.drop)
    trace = _trace_ruler(context)
    shared = _shared(context)
    copper = _copper_ruler(context, shared[0]) if shared else None
    pairs: list[tuple[Ruler, Ruler]] = []
    if trace is not None:
        pairs.append((trace, _record("record", drop)))
    if copper is not None and shared is not None:
        pairs.append((copper, _record("record", shared[1].length_m or 0.0)))
    if trace is not None and copper is not None and shared is not None:
        rest = drop - (shared[1].length_m or 0.0)
        pairs.append((replace(copper, length_m=copper.length_m + rest), trace))
    if not pairs:
        reason = "" if shared else "apart"
        return [not_measured(context, requirement, "drop", reason=reason)]
    return [_worst([_compared(context, one, two) for one, two in pairs])]


def _record(name: str, length_m: float) -> Ruler:
    return Ruler(name=name, length_m=length_m, u_m=0.0, observations=())


def _shared(context: Context) -> tuple[Feed, Part] | None:
    feed = context.plan.feed
    if feed is None or feed.shares_sheath_with is None:
        return None
    part = context.plan.plant.part_named(feed.shares_sheath_with)
    return None if part is None or not part.length_m else (feed, part)


def _trace_ruler(context: Context) -> Ruler | None:
    seen = traced_length(context)
    if seen is None:
        return None
    length, u, files = seen
    return Ruler(name="trace", length_m=length, u_m=u, observations=files)


def _copper_ruler(context: Context, feed: Feed) -> Ruler | None:
    readings = context.current("loop_resistance")
    if not readings:
        return None
    reading = readings[-1].reading
    length, u = copper_length(feed, reading.number, context.u_of(reading))
    return Ruler(name="copper loop", length_m=length, u_m=u, observations=(reading.id,))


def copper_length(feed: Feed, ohm: float, u_ohm: float) -> tuple[float, float]:
    """One-way length that a loop resistance stands for, with its uncertainty [m]."""
    planned, planned_u = planned_loop(feed)
    length = feed.length_m * ohm / planned
    return length, math.hypot(
        length * planned_u / planned, feed.length_m * u_ohm / planned
    )


def _compared(context: Context, one: Ruler, two: Ruler) -> Finding:
    """Two rulers against each other: apart by more than a share of the length."""
    requirement = "evidence.length_agrees"
    clause = context.profile.limit(requirement)
    least = context.profile.number("trace.length.least")
    half = max(two.length_m * clause.value / 100.0, least)
    u = math.hypot(one.u_m, two.u_m)
    away = abs(one.length_m - two.length_m)
    guard = context.profile.guard_factor * u
    if away > half + guard:
        verdict = Verdict.FAIL
    else:
        verdict = Verdict.PASS if away <= half - guard else Verdict.UNDECIDED
    values = {
        "one": one.name,
        "one_length": one.length_m,
        "two": two.name,
        "two_length": two.length_m,
        "share": clause.value,
    }
    limit = limit_of(clause, low=two.length_m - half, high=two.length_m + half)
    return finding(
        context,
        requirement,
        "drop",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}", values),
        measured=Quantity(value=one.length_m, unit="m", u=u),
        expected=Quantity(value=two.length_m, unit="m"),
        limit=replace(limit, unit="m"),
        decide_by=(
            None
            if verdict is Verdict.PASS
            else Message(f"{requirement}.decide_by", values)
        ),
        observations=(*one.observations, *two.observations),
    )


def _worst(findings: list[Finding]) -> Finding:
    """The pair that agrees least; all of them are the same requirement."""
    order = (Verdict.FAIL, Verdict.UNDECIDED, Verdict.PASS)
    return min(findings, key=lambda item: order.index(item.verdict))
