"""The splice: cleave, estimate, and what the sleeve did while it shrank.

An estimate is what the splicer computed from a picture; it is not a measurement of
loss and never called one.
"""

from collections.abc import Iterable

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Part


def splices_of_drop(context: Context) -> tuple[Part, ...]:
    """Splices between port and terminal: those this crew answers for."""
    return tuple(part for part in context.plan.plant.drop if part.kind == "splice")


def assess_splice(context: Context) -> list[Finding]:
    """Estimate, shrink and cleave of every splice of the drop, and others seen."""
    found: list[Finding] = []
    own = {part.name for part in splices_of_drop(context)}
    for part in context.plan.plant.part:
        if part.kind != "splice":
            continue
        mine = part.name in own
        found.extend(_estimate(context, part, mine=mine))
        found.extend(_cleaves(context, part, mine=mine))
        found.extend(_shrink(context, part, mine=mine))
    return found


def _last_attempt(items: Iterable[Placed]) -> list[Placed]:
    """Readings of the last attempt only: earlier ones were cut away."""
    listed = list(items)
    last = max((item.reading.attempt or 0 for item in listed), default=0)
    return [item for item in listed if (item.reading.attempt or 0) == last]


def _estimate(context: Context, part: Part, *, mine: bool) -> list[Finding]:
    requirement = "splice.estimate"
    readings = _last_attempt(context.current("splice_estimate", part.name))
    if not readings:
        if not mine:
            return []
        return [not_measured(context, requirement, part.name)]
    item = readings[-1]
    reading = item.reading
    attempts = context.selection.all_of("splice_estimate", part.name)
    numbers = {other.reading.attempt or 1 for other in attempts}
    return [
        judged(
            context,
            requirement,
            part.name,
            measured=Quantity(value=reading.number, unit="dB", u=context.u_of(reading)),
            limit=limit_of(context.profile.limit(requirement)),
            because={"attempt": reading.attempt or 1, "attempts": len(numbers)},
            required=mine and context.required(requirement),
            observations=ids([*attempts]),
            broken_by=ids([item]),
        )
    ]


def _cleaves(context: Context, part: Part, *, mine: bool) -> list[Finding]:
    requirement = "cleave.angle"
    seen = _last_attempt(context.current("cleave_angle", part.name))
    if not seen:
        return [not_measured(context, requirement, part.name)] if mine else []
    found = []
    for item in seen:
        reading = item.reading
        found.append(
            judged(
                context,
                requirement,
                part.name,
                measured=Quantity(
                    value=reading.number, unit="deg", u=context.u_of(reading)
                ),
                limit=limit_of(context.profile.limit(requirement)),
                because={"end": reading.end or "one end"},
                observations=ids([item]),
            )
        )
    return found


def _pairs(context: Context, part: Part) -> list[tuple[Placed, Placed]]:
    """Readings of the same kind before and after shrinking, of the last attempt."""
    pairs = []
    for what in ("splice_estimate", "splice_loss"):
        everything = _last_attempt(context.selection.all_of(what, part.name))
        keys = {(i.reading.wavelength_nm, i.reading.direction) for i in everything}
        for key in sorted(keys, key=str):
            same = [
                item
                for item in everything
                if (item.reading.wavelength_nm, item.reading.direction) == key
            ]
            before = [i for i in same if "before shrink" in i.reading.state]
            after = [i for i in same if "after shrink" in i.reading.state]
            if before and after:
                pairs.append((before[-1], after[-1]))
    return pairs


def _shrink(context: Context, part: Part, *, mine: bool) -> list[Finding]:
    """Numbers before and after, and the look: a bad look fails whatever they say."""
    requirement = "splice.shrink"
    looks = _last_attempt(context.selection.all_of("sleeve_seen", part.name))
    pairs = _pairs(context, part)
    bad = [item for item in looks[-1:] if item.reading.text != "clear"]
    if bad:
        return [
            finding(
                context,
                requirement,
                part.name,
                verdict=Verdict.FAIL,
                because=Message(
                    f"{requirement}.fail.look",
                    {"seen": bad[-1].reading.text, "subject": part.name},
                ),
                measured=Quantity(value=bad[-1].reading.text, unit=""),
                observations=ids([*looks, *(i for pair in pairs for i in pair)]),
                broken_by=ids(bad),
            )
        ]
    if pairs:
        return [_shrink_numbers(context, part, pair, looks=looks) for pair in pairs]
    if looks:
        return [
            finding(
                context,
                requirement,
                part.name,
                verdict=Verdict.UNDECIDED,
                because=Message(f"{requirement}.undecided.look", {}),
                measured=Quantity(value="clear", unit=""),
                decide_by=Message(f"{requirement}.decide_by", {}),
                observations=ids(looks),
            )
        ]
    return [not_measured(context, requirement, part.name)] if mine else []


def _shrink_numbers(
    context: Context, part: Part, pair: tuple[Placed, Placed], *, looks: list[Placed]
) -> Finding:
    before, after = (item.reading for item in pair)
    change = after.number - before.number
    return judged(
        context,
        "splice.shrink",
        part.name,
        measured=Quantity(
            value=change, unit="dB", u=context.profile.default_u("splice_shrink")
        ),
        limit=limit_of(context.profile.limit("splice.shrink")),
        because={
            "before": before.number,
            "after": after.number,
            "looked": bool(looks),
        },
        wavelength_nm=after.wavelength_nm,
        observations=ids([*pair, *looks]),
        broken_by=ids(pair[1:]),
    )
