"""Bends: the radius seen, the life of stored glass, and every closing as a test."""

import itertools
import math
from collections.abc import Iterable

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.glass.lifetime import break_risk
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Plan
from eavelight.standards.fibre_types import fibre_type

PLACES = ("tray", "box", "drop")
LID_OPEN, COVERED, CLOSED = 1, 2, 3
# Levels at the terminal and losses of the drop see every bend between port and plug.
WATCHED = (("loss", "drop"), ("loss", "path"), ("level", "terminal"))


def assess_bend(context: Context) -> list[Finding]:
    """Findings on radius, life and closings."""
    found = []
    for place in PLACES:
        found.extend(_radius(context, place))
        found.extend(_lifetime(context, place))
    return [*found, *_closings(context)]


def fibres_at(plan: Plan, place: str) -> tuple[str, ...]:
    """Fibre types whose bends count at a place: its loops, else those of the drop."""
    loops = [loop.fibre for loop in plan.plant.loop if loop.at == place]
    drop = [part.fibre for part in plan.plant.drop if part.fibre is not None]
    return tuple(dict.fromkeys(loops or drop))


def least_radius_mm(plan: Plan, place: str) -> tuple[float, str] | None:
    """Smallest radius that the weakest fibre at a place allows, with its type."""
    fibres = fibres_at(plan, place)
    if not fibres:
        return None
    weakest = max(fibres, key=lambda name: fibre_type(name).design_radius_mm)
    return fibre_type(weakest).design_radius_mm, weakest


def _radius(context: Context, place: str) -> list[Finding]:
    requirement = "bend.radius"
    readings = context.current("radius", place)
    least = least_radius_mm(context.plan, place)
    planned = [loop for loop in context.plan.plant.loop if loop.at == place]
    if least is None or not (readings or planned):
        return []
    radius, fibre = least
    if not readings:
        smallest = min(loop.radius_mm for loop in planned)
        values = {"planned": smallest, "least": radius, "fibre": fibre}
        return [not_measured(context, requirement, place, values=values)]
    kind = fibre_type(fibre)
    rows = [row for row in kind.bend_limits if row.radius_mm == radius]
    limit = Limit(
        low=radius,
        unit="mm",
        clause=rows[0].clause if rows else f"fibre_type.{fibre}",
        edition=kind.edition,
        confidence=kind.confidence,
    )
    reading = readings[-1].reading
    proof = context.profile.number("bend.proof_radius")
    return [
        judged(
            context,
            requirement,
            place,
            measured=Quantity(value=reading.number, unit="mm", u=context.u_of(reading)),
            limit=limit,
            because={
                "fibre": fibre,
                "proof": proof,
                "beyond": reading.number < proof,
                "insensitive": kind.bend_insensitive,
            },
            observations=ids(readings),
            broken_by=ids(readings[-1:]),
        )
    ]


def _lifetime(context: Context, place: str) -> list[Finding]:
    """Order of magnitude of a break over the planned life, never a life in years."""
    requirement = "bend.lifetime"
    loops = [loop for loop in context.plan.plant.loop if loop.at == place]
    readings = context.current("radius", place)
    if not loops and not readings:
        return []
    turns = sum(loop.turns for loop in loops) or 1.0
    years = context.profile.number("bend.years")
    clause = context.profile.limit(requirement)
    seen = readings[-1].reading.number if readings else None
    radius = seen if seen is not None else min(loop.radius_mm for loop in loops)
    if radius <= 0:
        return []
    risk = break_risk(radius, turns=turns, years=years)
    values = {
        "radius": radius,
        "turns": turns,
        "years": years,
        "one_in": _one_in(risk.probability),
        "beyond": risk.beyond_proof,
    }
    expected = Quantity(value=risk.probability, unit="1")
    if seen is None:
        return [
            not_measured(context, requirement, place, values=values, expected=expected)
        ]
    if risk.beyond_proof or risk.low > clause.value:
        verdict = Verdict.FAIL
    else:
        verdict = Verdict.PASS if risk.high <= clause.value else Verdict.UNDECIDED
    return [
        finding(
            context,
            requirement,
            place,
            verdict=verdict,
            because=Message(f"{requirement}.{verdict}", values),
            expected=expected,
            limit=limit_of(clause),
            decide_by=(
                Message(f"{requirement}.decide_by", values)
                if verdict is Verdict.UNDECIDED
                else None
            ),
            observations=ids(readings),
            broken_by=ids(readings[-1:]),
        )
    ]


def _one_in(probability: float) -> str:
    """A probability as people say it: one in this round power of ten."""
    decade = max(1, round(-math.log10(max(probability, 1e-15))))
    return f"{10**decade:,}".replace(",", " ")


def _closings(context: Context) -> list[Finding]:
    """The change through each closing, at one wavelength with one reference."""
    requirement = "bend.closing"
    found: list[Finding] = []
    for what, at in WATCHED:
        readings = context.selection.all_of(what, at)
        wavelengths = {item.reading.wavelength_nm for item in readings}
        for wavelength in sorted(wavelengths, key=lambda nm: nm or 0):
            same = [i for i in readings if i.reading.wavelength_nm == wavelength]
            found.extend(
                _closing(context, before, after)
                for before, after in closing_pairs(same)
            )
    if found:
        return found
    return [not_measured(context, requirement, "box")]


def closing_pairs(readings: Iterable[Placed]) -> list[tuple[Placed, Placed]]:
    """Readings before and after each closing of the last opening that shows one."""
    by_opening: dict[int, list[Placed]] = {}
    for item in readings:
        if item.lid and not item.reading.below:
            by_opening.setdefault(item.opening, []).append(item)
    for opening in sorted(by_opening, reverse=True):
        pairs = _pairs_of(by_opening[opening])
        if pairs:
            return pairs
    return []


def _pairs_of(items: list[Placed]) -> list[tuple[Placed, Placed]]:
    """Last reading of each stage, paired with the last of the next stage read."""
    last = {item.lid: item for item in items}
    stages = [stage for stage in (LID_OPEN, COVERED, CLOSED) if stage in last]
    return [
        (last[lower], last[upper])
        for lower, upper in itertools.pairwise(stages)
        if last[upper].reading.time >= last[lower].reading.time
    ]


def _closing(context: Context, before: Placed, after: Placed) -> Finding:
    first, second = before.reading, after.reading
    change = second.number - first.number
    if second.what == "level":
        change = -change
    same_tool = first.tool == second.tool
    u = (
        context.profile.default_u("closing")
        if same_tool
        else math.hypot(context.u_of(first), context.u_of(second))
    )
    closing = _closing_name(before.lid, after.lid)
    return judged(
        context,
        "bend.closing",
        "box",
        measured=Quantity(value=change, unit="dB", u=u),
        limit=limit_of(context.profile.limit("bend.closing")),
        because={
            "wavelength": second.wavelength_nm,
            "closing": closing,
            "what": second.what,
            "same_tool": same_tool,
        },
        wavelength_nm=second.wavelength_nm,
        observations=ids([before, after]),
        broken_by=ids([after]),
    )


def _closing_name(lower: int, upper: int) -> str:
    if upper == COVERED:
        return "the tray cover"
    return "the lid" if lower == COVERED else "tray cover and lid"
