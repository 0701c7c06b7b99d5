"""Traces of one line taken together: wavelengths, both directions, and a baseline."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from eavelight.trace.baseline import Change, compare
from eavelight.trace.directions import (
    ONE_WAY_U_DB,
    mode_field_step_db,
    two_way_loss_db,
    two_way_loss_u_db,
)
from eavelight.trace.forced import event_near, loss_at
from eavelight.trace.results import (
    Event,
    Joined,
    JoinedEvent,
    Measured,
    TraceAnalysis,
)
from eavelight.trace.wavelengths import bend_probability

OTHER_FIBRE = 0.02
LENGTHS_DISAGREE = 0.002


def join(
    traces: Sequence[TraceAnalysis],
    *,
    reverse: TraceAnalysis | None = None,
    baseline: TraceAnalysis | None = None,
) -> Joined:
    """Read several traces of one line as one.

    Parameters
    ----------
    traces : sequence of TraceAnalysis
        From the same end, usually one per wavelength, at least one [1]
    reverse : TraceAnalysis, optional
        From the other end [1]
    baseline : TraceAnalysis, optional
        Earlier trace from the same end [1]

    Returns
    -------
    joined : Joined
        Events in order of position [1]
    """
    if not traces:
        raise ValueError("traces must hold at least one analysis")
    notes: list[str] = []
    main = min(traces, key=lambda item: (item.pulse_ns, item.wavelength_nm))
    usable = [item for item in traces if _same_line(main, item, notes)]
    stretch = [_stretch(main, item) for item in usable]
    groups = _groups(usable, stretch)
    back = reverse if reverse is None or _same_line(main, reverse, notes) else None
    changes = _changes(usable, baseline, notes)
    events = [
        _joined(group, (usable, stretch), back, _change_at(changes[0], group, main))
        for group in groups
    ]
    events += [_left(change) for change in changes[0] if change.what == "gone"]
    events += [
        _unlisted(change)
        for change in changes[0]
        if change.event is None and change.what == "new"
    ]
    return Joined(
        events=tuple(
            sorted(
                _end_change(events, main, changes[1]),
                key=lambda event: event.position_m,
            )
        ),
        length_m=main.length_m,
        end_moved_m=changes[1],
        notes=tuple(notes),
    )


def _footprint_m(analysis: TraceAnalysis) -> float:
    return analysis.found.trace.footprint * analysis.sample_spacing_m


def _same_line(main: TraceAnalysis, other: TraceAnalysis, notes: list[str]) -> bool:
    """Whether two lengths can belong to one line; says so where they disagree."""
    if main.length_m is None or other.length_m is None or other is main:
        return True
    miss = abs(other.length_m - main.length_m)
    margin = _footprint_m(main) + _footprint_m(other)
    if miss > OTHER_FIBRE * main.length_m + margin:
        notes.append(
            f"a trace at {other.wavelength_nm:.0f} nm is {other.length_m:.0f} m long, "
            f"not {main.length_m:.0f} m: another fibre, left out"
        )
        return False
    if miss > LENGTHS_DISAGREE * main.length_m + margin:
        notes.append("lengths disagree by more than 0.2 %: another index or fibre")
    return True


def _stretch(main: TraceAnalysis, other: TraceAnalysis) -> float:
    """Factor from positions of the main trace to those of another: the index."""
    if main.length_m is None or other.length_m is None or main.length_m <= 0.0:
        return 1.0
    factor = other.length_m / main.length_m
    return factor if abs(factor - 1.0) < OTHER_FIBRE else 1.0


def _groups(
    traces: Sequence[TraceAnalysis], stretch: Sequence[float]
) -> list[list[Event]]:
    """Events of all traces on the axis of the main one, those of one place together."""
    placed = []
    for trace, factor in zip(traces, stretch, strict=True):
        for event in trace.events:
            if event.kind in {"launch", "ghost"}:
                continue
            placed.append((event.position_m / factor, _footprint_m(trace), event))
    placed.sort(key=lambda item: item[0])
    groups: list[list[tuple[float, float, Event]]] = []
    for item in placed:
        if groups and _together(groups[-1], item):
            groups[-1].append(item)
        else:
            groups.append([item])
    return [[event for _, _, event in group] for group in groups]


def _together(
    group: list[tuple[float, float, Event]], item: tuple[float, float, Event]
) -> bool:
    position, footprint, event = item
    if any((other.kind == "end") != (event.kind == "end") for _, _, other in group):
        return False
    at = float(np.mean([entry[0] for entry in group]))
    sigma = max(event.position_u_m, *(entry[2].position_u_m for entry in group))
    reach = max(0.6 * max(footprint, *(entry[1] for entry in group)), 3.0 * sigma) + 0.5
    return position - at < reach


def _best(group: Sequence[Event]) -> Event:
    """The event that places its group best; a reflection beats a ramp."""
    return min(group, key=lambda event: (not event.reflective, event.position_u_m))


def _losses(
    position_m: float, traces: Sequence[TraceAnalysis], stretch: Sequence[float]
) -> dict[int, Measured]:
    """Loss at one place in every trace, measured where it shows no event too."""
    losses: dict[int, Measured] = {}
    for trace, factor in zip(traces, stretch, strict=True):
        key = round(trace.wavelength_nm)
        found = _loss(trace, position_m * factor)
        if found is not None and (key not in losses or found.u < losses[key].u):
            losses[key] = found
    return losses


def _loss(trace: TraceAnalysis, position_m: float) -> Measured | None:
    event = event_near(trace, position_m, _footprint_m(trace) + 0.5)
    if event is not None:
        if event.loss_db is None or event.loss_u_db is None:
            return None
        return Measured(value=event.loss_db, u=event.loss_u_db)
    return loss_at(trace, position_m)


def _joined(
    group: Sequence[Event],
    forward: tuple[Sequence[TraceAnalysis], Sequence[float]],
    back: TraceAnalysis | None,
    change: Change | None,
) -> JoinedEvent:
    best = _best(group)
    ends = any(event.kind == "end" for event in group)
    losses = {} if ends else _losses(best.position_m, *forward)
    reflective = any(event.reflective for event in group)
    odds = None if ends else bend_probability(losses)
    both = None if ends or back is None else _both_ways(best, forward[0], back)
    true, true_u = _true_loss(losses, both)
    return JoinedEvent(
        position_m=best.position_m,
        position_u_m=best.position_u_m,
        kind=_kind(group, odds, losses),
        reflective=reflective,
        merged=any(event.merged for event in group),
        loss_db=losses,
        two_way_loss_db=None if both is None else both[0],
        two_way_loss_u_db=None if both is None else both[1],
        mode_field_step_db=None if both is None else both[2],
        true_loss_db=true,
        true_loss_u_db=true_u,
        bend_probability=odds,
        change="not compared" if change is None else change.what,
        change_db=None if change is None else change.change_db,
        change_u_db=None if change is None else change.change_u_db,
    )


def _end_change(
    events: list[JoinedEvent], main: TraceAnalysis, moved_m: float | None
) -> list[JoinedEvent]:
    """Say of the end whether it moved by more than a pulse can hide."""
    if moved_m is None:
        return events
    reach = max(0.5 * _footprint_m(main), 2.0 * main.sample_spacing_m)
    what = "moved" if abs(moved_m) > reach else "same"
    return [
        replace(event, change=what) if event.kind == "end" else event
        for event in events
    ]


def _kind(
    group: Sequence[Event], odds: float | None, losses: dict[int, Measured]
) -> str:
    kinds = [event.kind for event in group]
    for strong in ("end", "splitter", "connector"):
        if strong in kinds:
            return strong
    if odds is None:
        return _best(group).kind
    if odds > 0.5:
        return "bend"
    return "splice" if max(item.value for item in losses.values()) < 1.0 else "unknown"


def _both_ways(
    event: Event, traces: Sequence[TraceAnalysis], back: TraceAnalysis
) -> tuple[float, float, float] | None:
    """True loss, its uncertainty and the step of the mode field."""
    near = min(traces, key=lambda item: abs(item.wavelength_nm - back.wavelength_nm))
    if abs(near.wavelength_nm - back.wavelength_nm) > 35.0:
        return None
    if near.length_m is None or back.length_m is None:
        return None
    mirrored = back.length_m * (1.0 - event.position_m / near.length_m)
    one, other = _loss(near, event.position_m), _loss(back, mirrored)
    if one is None or other is None:
        return None
    return (
        two_way_loss_db(one.value, other.value),
        two_way_loss_u_db(one.u, other.u),
        mode_field_step_db(one.value, other.value),
    )


def _true_loss(
    losses: dict[int, Measured], both: tuple[float, float, float] | None
) -> tuple[float | None, float | None]:
    if both is not None:
        return both[0], both[1]
    if not losses:
        return None, None
    best = min(losses.values(), key=lambda item: item.u)
    return best.value, float(np.hypot(best.u, ONE_WAY_U_DB))


def _changes(
    traces: Sequence[TraceAnalysis], baseline: TraceAnalysis | None, notes: list[str]
) -> tuple[tuple[Change, ...], float | None]:
    if baseline is None:
        return (), None
    like = min(
        traces,
        key=lambda item: (
            abs(item.wavelength_nm - baseline.wavelength_nm),
            abs(np.log(item.pulse_ns / baseline.pulse_ns)),
        ),
    )
    comparison = compare(like, baseline)
    notes.extend(comparison.notes)
    return comparison.changes, comparison.end_moved_m


def _change_at(
    changes: Sequence[Change], group: Sequence[Event], main: TraceAnalysis
) -> Change | None:
    best = _best(group)
    reach = _footprint_m(main) + 0.5
    close = [
        change
        for change in changes
        if change.what != "gone"
        and (change.event in group or abs(change.position_m - best.position_m) < reach)
    ]
    return min(
        close, key=lambda change: abs(change.position_m - best.position_m), default=None
    )


def _bare(change: Change, kind: str, *, reflective: bool, merged: bool) -> JoinedEvent:
    return JoinedEvent(
        position_m=change.position_m,
        position_u_m=0.0 if change.event is None else change.event.position_u_m,
        kind=kind,
        reflective=reflective,
        merged=merged,
        loss_db={},
        two_way_loss_db=None,
        two_way_loss_u_db=None,
        mode_field_step_db=None,
        true_loss_db=None,
        true_loss_u_db=None,
        bend_probability=None,
        change=change.what,
        change_db=change.change_db,
        change_u_db=change.change_u_db,
    )


def _left(change: Change) -> JoinedEvent:
    event = change.event
    if event is None:
        return _bare(change, "unknown", reflective=False, merged=False)
    return _bare(change, event.kind, reflective=event.reflective, merged=event.merged)


def _unlisted(change: Change) -> JoinedEvent:
    return _bare(change, "unknown", reflective=False, merged=False)
