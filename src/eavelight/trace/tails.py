"""Receiver tails: left out of the next section, fitted with it, never an event."""

from dataclasses import replace

import numpy as np

from eavelight.trace.refine import (
    NO_TAIL,
    TAIL_U_DB,
    Mark,
    Trace,
    slowest_tail,
    step_between,
    tail_fit,
    tail_size_db,
)

LONG_NS, SLOW_NS = 15_000.0, 4_000.0
"""A first section of 1.5 km and more starts 0.4 km behind the port."""


def without_tails(trace: Trace, marks: list[Mark]) -> list[Mark]:
    """Steps behind a reflection that its own tail explains better are no events.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : list of Mark
        In order of position [1]

    Returns
    -------
    kept : list of Mark
        Reflections know the tail to fit or to leave out [1]
    """
    kept: list[Mark] = []
    queue = list(marks)
    while queue:
        mark = queue.pop(0)
        kept.append(mark)
        if mark.reflection is None:
            continue
        while True:
            following = queue[0] if queue else None
            if following is None or following.reflection is not None:
                break
            later = queue[1].left if len(queue) > 1 else trace.stop
            step = int(following.place)
            near = step - mark.right < 200 + 25 * trace.footprint
            if following.significance < 0.0 or later - mark.right < 12 or not near:
                break
            size = tail_size_db(mark.reflection)
            if _too_large(trace, mark, following, later):
                break
            gain, amplitude, _, _ = tail_fit(
                trace, (mark.right, later), size, step=step
            )
            if gain < 0.0 or amplitude <= 0.0:
                break
            queue.pop(0)
        stop = queue[0].left if queue else trace.stop
        kept[-1] = _behind_tail(trace, mark, stop)
    return kept


def late_start(trace: Trace, marks: list[Mark]) -> Trace:
    """Leave the slow recovery from the port out of a long first section.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : list of Mark
        Final marks in order of position [1]

    Returns
    -------
    trace : Trace
        Same trace, the first section starting later where that costs little [dB]
    """
    room = (marks[0].left if marks else trace.stop) - trace.start
    if room <= LONG_NS * trace.ns:
        return trace
    skip = int(min(0.25 * room, SLOW_NS * trace.ns))
    return replace(trace, start=trace.start + skip, tail=NO_TAIL)


def _too_large(trace: Trace, mark: Mark, step: Mark, later: int) -> bool:
    """Whether a step is more than any tail can still hold at its place."""
    if mark.reflection is None:
        return True
    size = tail_size_db(mark.reflection)
    before = trace.sums.fit(mark.right, max(step.left, mark.right))
    after = trace.sums.fit(step.right, max(later, step.right))
    loss, sigma = step_between(before, after, step.place)
    distance = step.place - mark.right
    left = size * np.exp(-distance / (5.0 * slowest_tail(trace, size)))
    return bool(np.isfinite(sigma) and loss - 2.0 * sigma > 2.0 * left)


def _behind_tail(trace: Trace, mark: Mark, stop: int) -> Mark:
    """Leave the tail out of the next section, or fit it where it fills the section."""
    room = stop - mark.right
    if room < 16:
        return replace(mark, tail=_recovery(trace, mark))
    if mark.reflection is None:
        return mark
    size = tail_size_db(mark.reflection)
    _, amplitude, sigma, decay = tail_fit(trace, (mark.right, stop), size)
    if amplitude < 2.5 * sigma or amplitude <= 0.0:
        return replace(mark, tail=_recovery(trace, mark))
    level = float(np.sqrt(trace.variance_db2[mark.right] * 4.0 / room))
    skip = decay * np.log(max(amplitude / max(0.3 * level, 5e-4), 1.0))
    if skip > 0.3 * room:
        return replace(mark, tail=(decay, size))
    return replace(mark, right=mark.right + int(skip), tail=_recovery(trace, mark))


def _recovery(trace: Trace, mark: Mark) -> tuple[float, float]:
    """Decay and size to allow for where a full receiver took long to come back."""
    peak = mark.reflection
    if peak is None or not peak.saturated:
        return NO_TAIL
    late = peak.settled - peak.edge - 1.5 * trace.footprint - 4.0
    return (late, TAIL_U_DB) if late > 0.0 else NO_TAIL
