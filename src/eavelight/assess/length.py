"""Whether the lengths of the record agree: plan, glass and copper of one sheath."""

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import planned_loop, power_loops
from eavelight.assess.judge import finding, ids, limit_of, not_measured
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Feed


def assess_length(context: Context) -> list[Finding]:
    """`evidence.length_agrees`: the copper loop as a ruler beside the glass.

    Copper is compared only where it lies in the sheath of a fibre part.
    """
    requirement = "evidence.length_agrees"
    feed = context.plan.feed
    if feed is None or feed.shares_sheath_with is None:
        return [not_measured(context, requirement, "drop", reason="apart")]
    readings = power_loops(context)
    part = context.plan.plant.part_named(feed.shares_sheath_with)
    if not readings or part is None or not part.length_m:
        return [not_measured(context, requirement, "drop")]
    reading = readings[-1].reading
    length, u = copper_length(feed, reading.number, context.u_of(reading))
    clause = context.profile.limit(requirement)
    half = part.length_m * clause.value / 100.0
    limit = limit_of(clause, low=part.length_m - half, high=part.length_m + half)
    away = abs(length - part.length_m)
    guard = context.profile.guard_factor * u
    if away > half + guard:
        verdict = Verdict.FAIL
    else:
        verdict = Verdict.PASS if away <= half - guard else Verdict.UNDECIDED
    values = {
        "copper": length,
        "plan": part.length_m,
        "part": part.name,
        "share": clause.value,
        "ohm": reading.number,
    }
    return [
        finding(
            context,
            requirement,
            "drop",
            verdict=verdict,
            because=Message(f"{requirement}.{verdict}", values),
            measured=Quantity(value=length, unit="m", u=u),
            expected=Quantity(value=part.length_m, unit="m"),
            limit=limit,
            decide_by=(
                None
                if verdict is Verdict.PASS
                else Message(f"{requirement}.decide_by", values)
            ),
            observations=ids(readings),
        )
    ]


def copper_length(feed: Feed, ohm: float, u_ohm: float) -> tuple[float, float]:
    """One-way length that a loop resistance stands for, with its uncertainty [m]."""
    planned, planned_u = planned_loop(feed)
    length = feed.length_m * ohm / planned
    relative = ((u_ohm / ohm) ** 2 + (planned_u / planned) ** 2) ** 0.5 if ohm else 0.0
    return length, max(length * relative, feed.length_m * u_ohm / planned)
