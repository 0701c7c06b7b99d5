"""A new trace against an earlier one of the same line.

The two are subtracted on one axis, so that the frozen pattern, which belongs to the
glass, cancels; a constant and a slope are left free in every stretch. What remains
are the steps that came, went or changed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.forced import event_near
from eavelight.trace.lines import LineSums, SlopePrior
from eavelight.trace.noise import noise_map
from eavelight.trace.refine import Mark, Trace, section_lines, step_between
from eavelight.trace.results import Event, Measured, TraceAnalysis
from eavelight.trace.steps import StepTest, find_steps

Array = NDArray[np.float64]

SLOPE_U_DB_PER_KM = 0.02
LEAST_CHANGE_DB = 0.02
"""Reconnecting alone moves a good connector by more than this."""

REFLECTANCE_CHANGE_DB = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What became of one place; `event` is of the new trace, or of the old if gone."""

    event: Event | None
    position_m: float
    what: str
    change_db: float | None
    change_u_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All changes in order, how far the end moved, and why not if not compared."""

    changes: tuple[Change, ...]
    end_moved_m: float | None
    notes: tuple[str, ...]


def comparable(new: TraceAnalysis, old: TraceAnalysis) -> str | None:
    """Why two traces cannot be compared.

    Parameters
    ----------
    new, old : TraceAnalysis
        The two traces [1]

    Returns
    -------
    reason : str or None
        None where they can be compared [1]
    """
    if abs(new.wavelength_nm - old.wavelength_nm) > 25.0:
        return "baseline has another wavelength"
    if abs(new.pulse_ns / old.pulse_ns - 1.0) > 0.1:
        return "baseline has another pulse"
    return None


def _inside(analysis: TraceAnalysis) -> list[Event]:
    return [
        event
        for event in analysis.events
        if event.kind not in {"launch", "end", "ghost"}
    ]


def _shift_m(new: TraceAnalysis, old: TraceAnalysis, tolerance_m: float) -> float:
    """Median shift of the reflections that both traces show."""
    shifts = []
    for event in _inside(new):
        twin = event_near(old, event.position_m, tolerance_m)
        if event.reflective and twin is not None and twin.reflective:
            shifts.append(event.position_m - twin.position_m)
    if shifts:
        return float(np.median(shifts))
    ends = _end_moved(new, old)
    return ends if ends is not None and abs(ends) < tolerance_m else 0.0


def _difference(
    new: TraceAnalysis, old: TraceAnalysis, shift_m: float, marks: Sequence[Mark]
) -> Trace | None:
    """New less old on the samples of the new trace, with its own noise."""
    spacing = new.sample_spacing_m
    index = np.arange(len(new.samples_db))
    position = index * spacing - new.zero_m - shift_m
    wanted = (position + old.zero_m) / old.sample_spacing_m
    first = max(new.found.trace.start, old.found.trace.start)
    usable = np.flatnonzero(
        (wanted >= old.found.trace.start)
        & (wanted < old.found.trace.stop - 1)
        & (index >= new.found.trace.start)
        & (index < new.found.trace.stop)
    )
    footprint = new.found.trace.footprint
    if len(usable) < 8.0 * footprint + 16.0:
        return None
    first, stop = int(usable[0]), int(usable[-1]) + 1
    earlier = np.interp(wanted, np.arange(len(old.samples_db)), old.samples_db)
    values = (new.samples_db - earlier)[first:stop]
    hidden = np.zeros(stop - first, dtype=bool)
    for mark in marks:
        hidden[max(mark.left - first, 0) : max(mark.right - first, 0)] = True
    quiet = np.where(hidden, np.nan, values - np.nanmedian(values))
    noise = noise_map(
        new.samples_db[first:stop],
        footprint=footprint,
        stop=stop - first,
        floor=new.noise.floor,
        residual_db=quiet,
    )
    variance = np.pad(noise.long_run_db2, (first, 0), mode="edge")
    filled = np.concatenate([np.full(first, values[0]), values])
    prior = SlopePrior(slope=0.0, deviation=SLOPE_U_DB_PER_KM * spacing / 1000.0)
    return Trace(
        samples_db=filled,
        unbiased_db=filled,
        variance_db2=variance,
        sums=LineSums(filled, variance, prior),
        footprint=footprint,
        start=first,
        stop=stop,
    )


def _marks(
    analysis: TraceAnalysis, events: Sequence[Event], shift_m: float
) -> list[Mark]:
    return [
        Mark(
            left=int(np.floor(analysis.place(event.start_m + shift_m))) - 1,
            right=int(np.ceil(analysis.place(event.end_m + shift_m))) + 1,
            place=analysis.place(event.position_m + shift_m),
        )
        for event in events
    ]


def _merged(marks: Sequence[Mark]) -> list[Mark]:
    """Marks of both traces, those that overlap taken as one."""
    merged: list[Mark] = []
    for mark in sorted(marks, key=lambda item: item.left):
        if merged and mark.left <= merged[-1].right + 2:
            last = merged[-1]
            merged[-1] = Mark(
                left=last.left, right=max(last.right, mark.right), place=last.place
            )
        else:
            merged.append(mark)
    return merged


def _steps(trace: Trace, marks: list[Mark]) -> list[tuple[Mark, Measured | None]]:
    """Step of the difference at each mark and at places that neither trace listed."""
    test = StepTest(
        before=1 + round(0.2 * trace.footprint),
        after=int(np.ceil(1.2 * trace.footprint)) + 1,
        shortest=max(4, int(np.ceil(trace.footprint / 2.0))),
        first=max(4, int(np.ceil(trace.footprint))),
    )
    segments, start = [], trace.start
    for mark in marks:
        segments.append((start, min(mark.left, trace.stop)))
        start = max(start, mark.right)
    segments.append((start, trace.stop))
    found = find_steps(
        trace.sums, [(low, high) for low, high in segments if high > low], test
    )
    extra = [
        Mark(
            left=place - test.before,
            right=place + test.after,
            place=float(place),
            significance=ratio,
        )
        for place, ratio in found
    ]
    everything = sorted([*marks, *extra], key=lambda mark: mark.place)
    lines = section_lines(trace, everything)
    steps = []
    for number, mark in enumerate(everything):
        value, sigma = step_between(lines[number], lines[number + 1], mark.place)
        known = bool(np.isfinite(sigma))
        steps.append((mark, Measured(value=value, u=sigma) if known else None))
    return steps


def compare(new: TraceAnalysis, old: TraceAnalysis) -> Comparison:
    """What is new, gone, changed or moved since an earlier trace.

    Parameters
    ----------
    new : TraceAnalysis
        Trace of today [1]
    old : TraceAnalysis
        Earlier trace of the same line [1]

    Returns
    -------
    comparison : Comparison
        Changes in order of position [1]
    """
    reason = comparable(new, old)
    if reason is not None:
        changes = tuple(
            Change(event=event, position_m=event.position_m, what="not compared",
                   change_db=None, change_u_db=None)
            for event in _inside(new)
        )  # fmt: skip
        return Comparison(
            changes=changes, end_moved_m=_end_moved(new, old), notes=(reason,)
        )
    footprint_m = new.found.trace.footprint * new.sample_spacing_m
    shift = _shift_m(new, old, 2.0 * footprint_m + 2.0)
    both = [*_marks(new, _inside(new), 0.0), *_marks(new, _inside(old), shift)]
    trace = _difference(new, old, shift, both)
    if trace is None:
        note = "too little common fibre to compare with the baseline"
        return Comparison(changes=(), end_moved_m=_end_moved(new, old), notes=(note,))
    steps = _steps(trace, _merged(both))
    judged = _judged(new, old, shift, steps)
    return Comparison(
        changes=tuple(_moved(judged, 6.0 * footprint_m + 3.0)),
        end_moved_m=_end_moved(new, old),
        notes=(),
    )


def _end_moved(new: TraceAnalysis, old: TraceAnalysis) -> float | None:
    if new.length_m is None or old.length_m is None:
        return None
    return new.length_m - old.length_m


def _judged(
    new: TraceAnalysis,
    old: TraceAnalysis,
    shift_m: float,
    steps: Sequence[tuple[Mark, Measured | None]],
) -> list[Change]:
    changes = []
    tolerance = new.found.trace.footprint * new.sample_spacing_m
    for mark, step in steps:
        position = mark.place * new.sample_spacing_m - new.zero_m
        event = event_near(new, position, tolerance)
        twin = event_near(old, position - shift_m, tolerance)
        clear = step is not None and abs(step.value) > max(
            3.0 * step.u, LEAST_CHANGE_DB
        )
        if event is None and twin is None and not clear:
            continue
        what = _what(event, twin, step if clear else None)
        if what is None:
            continue
        changes.append(
            Change(
                event=event if event is not None else twin,
                position_m=event.position_m if event is not None else position,
                what=what,
                change_db=None if step is None else step.value,
                change_u_db=None if step is None else step.u,
            )
        )
    return changes


def _what(event: Event | None, twin: Event | None, step: Measured | None) -> str | None:
    """Name of a change; `step` only where it is clear."""
    if event is not None and twin is not None:
        return "changed" if step is not None or _peak_changed(event, twin) else "same"
    if event is not None:
        return "new" if step is not None or event.reflective else "same"
    if twin is not None and step is None:
        return "gone" if twin.reflective else None
    if step is None:
        return None
    return "gone" if step.value < 0.0 else "new"


def _peak_changed(event: Event, twin: Event) -> bool:
    if event.reflectance_db is None or twin.reflectance_db is None:
        return False
    if event.reflectance_is_bound or twin.reflectance_is_bound:
        return False
    return abs(event.reflectance_db - twin.reflectance_db) > REFLECTANCE_CHANGE_DB


def _moved(changes: list[Change], reach_m: float) -> list[Change]:
    """One that went and one that came close by, equally large, is one that moved."""
    result = list(changes)
    for gone in changes:
        if gone.what != "gone" or gone.change_db is None or gone.change_u_db is None:
            continue
        for came in changes:
            if came.what != "new" or came not in result or came.change_db is None:
                continue
            near = abs(came.position_m - gone.position_m) < reach_m
            sigma = np.hypot(gone.change_u_db, came.change_u_db or 0.0)
            same = abs(came.change_db + gone.change_db) < 3.0 * sigma + 0.1 * abs(
                came.change_db
            )
            if near and same and gone in result:
                result.remove(gone)
                result[result.index(came)] = Change(
                    event=came.event, position_m=came.position_m, what="moved",
                    change_db=came.change_db + gone.change_db, change_u_db=float(sigma),
                )  # fmt: skip
    return result
