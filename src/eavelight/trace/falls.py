"""Behind a great fall: steps of the fibre told apart from the glow of the receiver.

Behind a splitter the glow of the bright fibre before may be as strong as the dim fibre
behind. It decays, so the level bends, and straight lines would make steps of the bend.
The glow is taken off before steps are looked for there.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.glow import (
    GlowFit,
    Stretch,
    fit_glow,
    glow_taken_off,
    stretch_behind,
)
from eavelight.trace.lines import Line
from eavelight.trace.noise import DB_PER_NEPER, NOISIEST
from eavelight.trace.refine import (
    LEAST_SIGNIFICANCE,
    LEAST_STEP_DB,
    TAIL_LEFT,
    TAIL_SHARE,
    Mark,
    Trace,
    section_bounds,
    section_lines,
    step_between,
)
from eavelight.trace.steps import StepTest, find_steps

Array = NDArray[np.float64]

FALL_DB = float(5.0 * np.log10(1.0 + LEAST_STEP_DB / TAIL_SHARE))
"""Smallest loss behind which the usual share of the light before still matters."""

FIBRE_PULSES = 20.0
"""Pulses of fibre that make it the line going on; noise that is cut looks like less."""

EDGE_U = 0.05
"""Uncertainty of an edge, as a share of the footprint, as for a reflection."""

ROUNDS = 3
"""Steps and glow are found in turn; they rarely change after the second time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cleared:
    """Trace with every glow taken off, its marks, and where the light ends, if so."""

    trace: Trace
    marks: list[Mark]
    dark: Mark | None = None


def without_glow(
    trace: Trace, marks: list[Mark], test: StepTest, known: Sequence[Mark] = ()
) -> Cleared:
    """Take the glow off behind every great fall and look for steps there anew.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : list of Mark
        In order of position [1]
    test : StepTest
        Gaps and false-alarm budget [1]
    known : sequence of Mark, optional
        Marks of an earlier look, whose steps may be right where these are not [1]

    Returns
    -------
    cleared : Cleared
        `dark` is the fall behind which no fibre can be told from the glow [1]
    """
    number = _next_fall(trace, marks, 0)
    while number is not None:
        fall = _at_half_power(trace, marks, number, test)
        before, later = marks[:number], marks[number + 1 :]
        marks = [*before, fall, *later]
        if trace.stop - fall.right >= _least_room(trace):
            stretch = stretch_behind(trace, fall, before[-1].right if before else 0)
            before_that = [mark for mark in known if mark.left >= fall.right]
            fit = _parted(trace, stretch, (later, before_that), test)
            if _is_dark(fit) and not _sorted_out(later)[0]:
                trace = replace(trace, stop=max(fall.left, trace.start))
                return Cleared(trace=trace, marks=before, dark=fall)
            if not _is_dark(fit) and _is_proven(stretch, fit, later):
                trace = glow_taken_off(trace, stretch, fit)
                marks = [*before, *_with_glow(trace, fall, later, fit)]
        number = _next_fall(trace, marks, number + 1)
    return Cleared(trace=trace, marks=marks)


def has_fibre(trace: Trace, fall: Mark, peaks: list[Mark]) -> bool:
    """Whether fibre can be told from the glow behind a fall.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    fall : Mark
        Fall of the level [1]
    peaks : list of Mark
        Reflections behind it [1]

    Returns
    -------
    lit : bool
        False also where too few samples are left to say [1]
    """
    right = int(np.ceil(fall.place + 1.2 * trace.footprint)) + 1
    if trace.stop - right < FIBRE_PULSES * trace.footprint:
        return False
    stretch = stretch_behind(trace, replace(fall, right=right), trace.start)
    return not _is_dark(fit_glow(stretch, peaks, []))


def _least_room(trace: Trace) -> int:
    return max(16, int(4.0 * trace.footprint))


def _is_dark(fit: GlowFit) -> bool:
    """Whether the fibre is no more than noise, or what a misjudged glow leaves.

    Noise that cannot be negative has a mean of its own, however many samples it has.
    """
    level, sigma = fit.level
    doubt = np.hypot(sigma, TAIL_LEFT * float(np.median(fit.glow)))
    return bool(level < LEAST_SIGNIFICANCE * doubt or fit.noise > NOISIEST * level)


def _is_proven(stretch: Stretch, fit: GlowFit, later: list[Mark]) -> bool:
    """Whether a glow explains the trace better than the steps it makes needless."""
    if float(np.max(fit.excess_db)) < LEAST_STEP_DB:
        return False
    plain = fit_glow(stretch, *_sorted_out(later), glows=False)
    return fit.score - plain.score > LEAST_SIGNIFICANCE**2


def _next_fall(trace: Trace, marks: list[Mark], first: int) -> int | None:
    # plain lines: whether a tail lies on one does not make or unmake a great fall
    lines = [
        trace.sums.fit(start, stop) for start, stop in section_bounds(trace, marks)
    ]
    for number in range(first, len(marks)):
        loss, sigma = step_between(
            lines[number], lines[number + 1], marks[number].place
        )
        if np.isfinite(sigma) and loss - 2.0 * sigma > FALL_DB:
            return number
    return None


def _at_half_power(
    trace: Trace, marks: list[Mark], number: int, test: StepTest
) -> Mark:
    """A fall without reflection, placed anew; two steps on its ramp are one fall."""
    mark = marks[number]
    if mark.reflection is not None:
        return mark
    before, after = section_lines(trace, marks)[number : number + 2]
    found = half_power_place(trace, mark, (before, after))
    if found is None:
        return mark
    place, sigma = found
    near = 2.0 * trace.footprint + 2.0
    apart = tuple(other for other in mark.others if abs(other - place) > near)
    left, right = int(np.floor(place)) - test.before, int(np.ceil(place)) + test.after
    if apart:
        left, right = min(left, mark.left), max(right, mark.right)
    return replace(
        mark, left=left, right=right, place=place, place_u=sigma, others=apart
    )


def half_power_place(
    trace: Trace, mark: Mark, lines: tuple[Line, Line]
) -> tuple[float, float] | None:
    """Where a great fall begins: half a pulse before half of the power is gone.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    mark : Mark
        Fall to place [1]
    lines : tuple of Line
        Lines before and behind it [dB]

    Returns
    -------
    found : tuple of float or None
        Sample index and its standard uncertainty; None where the loss is too small
        for this to be better than the shape of the whole ramp [1]
    """
    before, after = lines
    loss, _ = step_between(before, after, mark.place)
    if loss < FALL_DB or before.weight <= 0.0:
        return None
    low = max(trace.start, before.start, int(mark.place - 2.5 * trace.footprint) - 4)
    high = min(trace.stop, mark.right + int(trace.footprint) + 2)
    place = np.arange(low, high)
    drop = trace.samples_db[low:high] - before.level_db
    drop -= before.slope * (place - before.centre)
    half = -5.0 * np.log10(0.5 + 0.5 * 10.0 ** (-loss / 5.0))
    bright = np.flatnonzero(drop < half)
    if len(bright) == 0 or bright[-1] + 1 >= len(drop):
        return None
    last = int(bright[-1])
    share = float((half - drop[last]) / (drop[last + 1] - drop[last]))
    noise = float(np.sqrt(trace.variance_db2[low + last])) * trace.footprint
    sigma = np.sqrt(
        (EDGE_U * trace.footprint) ** 2 + (noise / (2.0 * DB_PER_NEPER)) ** 2 + 1.0 / 12
    )
    return low + last + share - 0.5 * trace.footprint, float(sigma)


def _sorted_out(marks: list[Mark]) -> tuple[list[Mark], list[Mark]]:
    """Reflections, and steps."""
    peaks = [mark for mark in marks if mark.reflection is not None]
    return peaks, [mark for mark in marks if mark.reflection is None]


def _parted(
    trace: Trace,
    stretch: Stretch,
    starts: tuple[list[Mark], list[Mark]],
    test: StepTest,
) -> GlowFit:
    """Fit glow and steps in turn, from two sets of steps; the best of all fits.

    A glow can take the place of a step and a step that of a glow, so that the last fit
    need not be the best one.
    """
    peaks, steps = _sorted_out(starts[0])
    best = fit_glow(stretch, peaks, steps)
    other = _sorted_out(starts[1])[1]
    if other:
        best = _better(best, fit_glow(stretch, peaks, other))
    for _ in range(ROUNDS):
        steps = _steps_beside(trace, stretch, peaks, best, test)
        fit = fit_glow(stretch, peaks, steps)
        if fit.score <= best.score:
            break
        best = fit
    return best


def _better(first: GlowFit, second: GlowFit) -> GlowFit:
    return second if second.score > first.score else first


def _steps_beside(
    trace: Trace, stretch: Stretch, peaks: list[Mark], fit: GlowFit, test: StepTest
) -> list[Mark]:
    """Steps of the trace that one fit has cleared."""
    cleared = glow_taken_off(trace, stretch, fit)
    first = min(stretch.start + fit.first_fibre, trace.stop)
    bounds = section_bounds(replace(cleared, start=first), peaks)
    spans = [(low, high) for low, high in bounds if high > low]
    return [
        Mark(
            left=place - test.before,
            right=place + test.after,
            place=float(place),
            significance=ratio,
        )
        for place, ratio in find_steps(cleared.sums, spans, test)
    ]


def _with_glow(trace: Trace, fall: Mark, later: list[Mark], fit: GlowFit) -> list[Mark]:
    """The fall and what follows it; their lines allow for what the fit left over."""
    begin = fall.right
    marks = [*_sorted_out(later)[0], *fit.steps]
    marks = [
        replace(fall, right=begin + fit.first_fibre),
        *sorted(marks, key=lambda mark: mark.place),
    ]
    edges = [*(mark.left for mark in marks[1:]), trace.stop]
    return [
        replace(
            mark,
            tail=mark.tail if number else fit.tail(mark.right - begin),
            level_u_db=fit.level_u_db(mark.right - begin, edge - begin),
        )
        for number, (mark, edge) in enumerate(zip(marks, edges, strict=True))
    ]
