"""Loss at a place where a trace shows no event of its own."""

import numpy as np

from eavelight.trace.refine import Mark, section_lines, step_between
from eavelight.trace.results import Event, Measured, TraceAnalysis


def event_near(
    analysis: TraceAnalysis, position_m: float, tolerance_m: float
) -> Event | None:
    """Event of a trace closest to a position.

    Parameters
    ----------
    analysis : TraceAnalysis
        Trace to look in [1]
    position_m : float
        Position [m]
    tolerance_m : float
        Largest distance [m]

    Returns
    -------
    event : Event or None
        Neither launch nor end [1]
    """
    close = [
        event
        for event in analysis.events
        if event.kind not in {"launch", "end"}
        and (
            abs(event.position_m - position_m) < tolerance_m
            or event.start_m <= position_m <= event.end_m - 0.5 * tolerance_m
        )
    ]
    return min(
        close, key=lambda event: abs(event.position_m - position_m), default=None
    )


def loss_at(analysis: TraceAnalysis, position_m: float) -> Measured | None:
    """Loss between the fibre before and behind a position, event or not.

    Parameters
    ----------
    analysis : TraceAnalysis
        Trace to measure in [1]
    position_m : float
        Position [m]

    Returns
    -------
    loss : Measured or None
        None where one side has no fibre to fit [dB]
    """
    found = analysis.found
    place = analysis.place(position_m)
    width = found.trace.footprint
    extra = Mark(
        left=int(place - 1.0 - 0.2 * width),
        right=int(np.ceil(place + 1.2 * width)) + 1,
        place=place,
    )
    marks = sorted([*found.marks, extra], key=lambda mark: mark.place)
    number = marks.index(extra)
    lines = section_lines(found.trace, marks)
    before, after = lines[number], lines[number + 1]
    if min(before.stop - before.start, after.stop - after.start) < 3:
        return None
    value, sigma = step_between(before, after, place)
    return Measured(value=value, u=sigma) if np.isfinite(sigma) else None
