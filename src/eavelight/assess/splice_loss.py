"""Two-way splice loss: the mean of both directions; one alone decides nothing."""

import math

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, judged, limit_of
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message

DIRECTIONS = ("toward port", "toward terminal")


def assess_splice_loss(context: Context) -> list[Finding]:
    """`splice.loss` for every splice and wavelength that was read."""
    found = []
    for part in context.plan.plant.part:
        if part.kind != "splice":
            continue
        readings = context.selection.all_of("splice_loss", part.name)
        last = max((i.reading.attempt or 0 for i in readings), default=0)
        mine = [i for i in readings if (i.reading.attempt or 0) == last]
        for nm in sorted({i.reading.wavelength_nm or 0 for i in mine}):
            same = [i for i in mine if i.reading.wavelength_nm == nm]
            found.append(_splice_loss(context, part.name, nm, same))
    return found


def _mean(context: Context, items: list[Placed]) -> tuple[float, float]:
    """Mean of one direction's readings, and its standard uncertainty."""
    values = [item.reading.number for item in items]
    u = [context.u_of(item.reading) for item in items]
    return sum(values) / len(values), math.sqrt(sum(x * x for x in u)) / len(u)


def _splice_loss(
    context: Context, splice: str, wavelength_nm: int, items: list[Placed]
) -> Finding:
    """The mean of the two end means: more readings of one end must not skew it."""
    requirement = "splice.loss"
    ends = {
        way: [item for item in items if item.reading.direction == way]
        for way in DIRECTIONS
    }
    clause = context.profile.limit(requirement)
    if not all(ends.values()):
        way, readings = next((w, r) for w, r in ends.items() if r)
        value, u = _mean(context, readings)
        values = {"value": value, "direction": way, "subject": splice}
        return finding(
            context,
            requirement,
            splice,
            verdict=Verdict.UNDECIDED,
            because=Message(f"{requirement}.undecided.one_way", values),
            measured=Quantity(value=value, unit="dB", u=u),
            limit=limit_of(clause),
            wavelength_nm=wavelength_nm,
            decide_by=Message(f"{requirement}.decide_by", values),
            observations=ids(items),
        )
    (first, u_first), (second, u_second) = (
        _mean(context, ends[way]) for way in DIRECTIONS
    )
    loss, step = (first + second) / 2.0, (first - second) / 2.0
    return judged(
        context,
        requirement,
        splice,
        measured=Quantity(value=loss, unit="dB", u=math.hypot(u_first, u_second) / 2.0),
        limit=limit_of(clause),
        because={"step": step, "first": first, "second": second},
        wavelength_nm=wavelength_nm,
        observations=ids(items),
    )
