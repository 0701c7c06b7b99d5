"""Where the parts of the plan should show on a trace, and which event is which part."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from eavelight.model.plan import Part, Plan
from eavelight.standards.fibre_types import fibre_type
from eavelight.trace.results import Event

# Kinds of event that can stand for a kind of part; unknown and merged fit all.
FITS = {
    "connector": {"connector", "launch", "end", "unknown"},
    "splice": {"splice", "bend", "unknown"},
    "splitter": {"splitter", "splice", "unknown", "end"},
    "coupler": {"splice", "connector", "splitter", "unknown"},
    "attenuator": {"splice", "connector", "splitter", "unknown"},
}
NOT_PARTS = {"ghost", "launch"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPart:
    """A part of the plan with its distance from where the instrument was."""

    part: Part
    position_m: float
    tolerance_m: float


@dataclass(slots=True)
class Match:
    """An event with the parts it stands for; empty for one that no part explains."""

    event: Event
    parts: list[PlacedPart] = field(default_factory=list)


def lay_out(
    plan: Plan, at: str, toward: str, *, share: float, least_m: float
) -> tuple[PlacedPart, ...]:
    """Parts from the instrument on, in the direction of the light, with distances.

    Parameters
    ----------
    plan : Plan
        What should have been built.
    at, toward : str
        Place of the instrument and where it looked.
    share, least_m : float
        Tolerance of a distance: a share of it [1], and at least so much [m].
    """
    parts = list(plan.plant.part)
    names = [part.name for part in parts]
    start = _index(names, at)
    if _index(names, toward) < start:
        parts.reverse()
        start = len(parts) - 1 - start
    placed, position = [], 0.0
    for part in parts[start:]:
        if part.kind == "fibre":
            position += part.length_m or 0.0
            continue
        placed.append(
            PlacedPart(
                part=part,
                position_m=position,
                tolerance_m=max(least_m, share * position),
            )
        )
    return tuple(placed)


def _index(names: list[str], place: str) -> int:
    """Position in the plan; the hub stands before all parts, the drop ends last."""
    if place in names:
        return names.index(place)
    return 0 if place == "hub" else len(names) - 1


def matched(events: Sequence[Event], placed: Sequence[PlacedPart]) -> list[Match]:
    """Every event that could be a part, with the parts it stands for.

    A part goes to the event that hides its place or lies nearest within tolerance; an
    event in whose dead zone several parts lie stands for all of them.
    """
    matches = [Match(event) for event in events if event.kind not in NOT_PARTS]
    for item in placed:
        best, nearest = None, math.inf
        for match in matches:
            away = _away(match.event, item)
            if away < nearest:
                best, nearest = match, away
        if best is not None:
            best.parts.append(item)
    return matches


def _away(event: Event, item: PlacedPart) -> float:
    """How far an event is from a part, in tolerances; infinite if it cannot be it."""
    reach = item.tolerance_m + 2.0 * event.position_u_m
    offset = abs(event.position_m - item.position_m)
    behind = event.start_m - item.tolerance_m <= item.position_m <= event.end_m
    hidden = behind and event.reflective
    if offset > reach and not hidden:
        return math.inf
    if event.kind not in FITS[item.part.kind] and not (event.merged or hidden):
        return math.inf
    return offset / reach


def step_u_db(plan: Plan, wavelength_nm: float) -> float:
    """What a change of mode field may add to a one-way loss, standard uncertainty."""
    names = {part.fibre for part in plan.plant.drop if part.fibre}
    widest = 0.0
    for name in names:
        kind = fibre_type(name)
        relative = float(
            kind.u_mode_field_at(wavelength_nm) / kind.mode_field_at(wavelength_nm)
        )
        widest = max(widest, relative)
    return 10.0 / math.log(10.0) * math.sqrt(2.0) * widest
