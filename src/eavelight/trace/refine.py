"""From candidates to numbers: section lines, losses, receiver tails, positions.

Sections between events are fitted apart, with the samples that an event hides left
out; a loss is the difference of the two lines at the event. Near the noise the fit
works on linear power, where the noise has no bias.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.lines import Line, LineSums
from eavelight.trace.noise import DB_PER_NEPER
from eavelight.trace.reflections import Reflection

Array = NDArray[np.float64]

LEAST_SIGNIFICANCE = 3.4
LEAST_STEP_DB = 0.01
"""The level of real glass wanders by this much without any event."""


TAIL_U_DB = 0.5
"""What a receiver may still add once its recovery looks finished."""

STEP_BESIDE_TAIL = 25.0
"""Drop of the cost, five standard deviations, that proves a step under a tail."""

TAIL_LEFT = 0.05
"""Share of the expected tail that may stay where no tail was seen."""

NO_TAIL = (0.0, 0.0)
"""Decay constant in samples and expected size in dB, where no tail is fitted."""

STRAIGHT_DB = 0.5
"""A ramp of powers bends by 3 % of a step of this size: not worth a logarithm."""

TAIL_SHARE = 0.005
"""Tail of a peak that did not fill the receiver, in dB per unit of its power."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One event in samples: it hides [left, right) from the sections.

    `level_u_db` is what all samples behind it may be wrong by together.
    """

    left: int
    right: int
    place: float
    reflection: Reflection | None = None
    significance: float = 0.0
    others: tuple[float, ...] = ()
    place_u: float = 1.0
    tail: tuple[float, float] = NO_TAIL
    level_u_db: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """The usable trace with everything that fits need; `ns` is in samples.

    `unbiased_db` is free of the bias of the logarithm. `gain` says by how much
    taking the glow behind a fall off enlarged the noise; None where none was.
    """

    samples_db: Array
    unbiased_db: Array
    variance_db2: Array
    sums: LineSums
    footprint: float
    start: int
    stop: int
    ns: float = 0.0
    tail: tuple[float, float] = NO_TAIL
    gain: Array | None = None


def section_bounds(trace: Trace, marks: Sequence[Mark]) -> list[tuple[int, int]]:
    """Stretches before, between and behind the marks.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : sequence of Mark
        In order of position [1]

    Returns
    -------
    bounds : list of tuple of int
        One more than marks, as [start, stop); may be empty stretches [1]
    """
    bounds = []
    start = trace.start
    for mark in marks:
        bounds.append((start, max(start, min(mark.left, trace.stop))))
        start = min(max(mark.right, start), trace.stop)
    bounds.append((start, max(start, trace.stop)))
    return bounds


def section_lines(trace: Trace, marks: Sequence[Mark]) -> list[Line]:
    """One line per section.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : sequence of Mark
        In order of position [1]

    Returns
    -------
    lines : list of Line
        One more than marks [dB]
    """
    tails = [trace.tail, *(mark.tail for mark in marks)]
    doubts = [0.0, *(mark.level_u_db for mark in marks)]
    lines = [
        tailed_line(trace, (start, stop), tail)
        if tail[0] > 0.0 and stop - start > 8
        else trace.sums.fit(start, stop)
        for (start, stop), tail in zip(section_bounds(trace, marks), tails, strict=True)
    ]
    return [
        replace(line, doubt_db=doubt) if doubt > 0.0 else line
        for line, doubt in zip(lines, doubts, strict=True)
    ]


def tailed_line(trace: Trace, span: tuple[int, int], tail: tuple[float, float]) -> Line:
    """Line of a section on which the tail of the reflection before it still lies.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    span : tuple of int
        Section as [start, stop) [1]
    tail : tuple of float
        Decay constant of the faster part in samples, expected size in decibels [1]

    Returns
    -------
    line : Line
        Level and slope with the variances that the unknown tail leaves [dB]
    """
    start, stop = span
    place = np.arange(stop - start, dtype=float)
    prior = trace.sums.prior
    weight = 1.0 / trace.variance_db2[start:stop]
    middle = place - place.mean()
    values = trace.unbiased_db[start:stop] - prior.slope * middle
    offset = float(values[-1])
    decay, size_db = tail
    columns = np.column_stack([np.ones_like(place), middle, _tails(place, decay)])
    ridge = np.array([0.0, prior.precision, size_db**-2, size_db**-2])
    _, answer, cover = _solved(values - offset, weight, columns, ridge)
    # the place where level and slope are independent
    shift = -float(cover[0, 1] / cover[1, 1])
    level = float(answer[0] + (answer[1] + prior.slope) * shift) + offset
    variance = float(cover[0, 0] - cover[0, 1] ** 2 / cover[1, 1])
    return Line(
        start=start,
        stop=stop,
        centre=start + float(place.mean()) + shift,
        level_db=level,
        slope=float(answer[1]) + prior.slope,
        weight=1.0 / variance,
        spread=1.0 / float(cover[1, 1]),
        tailed=True,
    )


def step_between(before: Line, after: Line, place: float) -> tuple[float, float]:
    """Loss at one place and its standard deviation.

    Parameters
    ----------
    before, after : Line
        Lines on both sides [dB]
    place : float
        Sample index of the event [1]

    Returns
    -------
    loss_db : float
        Step, positive when light is lost [dB]
    loss_u_db : float
        Standard uncertainty [dB]
    """
    loss = after.at(place) - before.at(place)
    return loss, float(np.sqrt(before.variance(place) + after.variance(place)))


def prune(trace: Trace, marks: Sequence[Mark]) -> list[Mark]:
    """Drop steps that full sections with slopes of their own do not bear out.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    marks : sequence of Mark
        In order of position [1]

    Returns
    -------
    kept : list of Mark
        Reflections and significant steps [1]
    """
    kept = list(marks)
    while True:
        lines = section_lines(trace, kept)
        weakest, least = -1, LEAST_SIGNIFICANCE
        for number, mark in enumerate(kept):
            if mark.reflection is None:
                loss, sigma = step_between(lines[number], lines[number + 1], mark.place)
                ratio = (
                    abs(loss) / sigma if np.isfinite(sigma) else abs(mark.significance)
                )
                ratio = 0.0 if abs(loss) < LEAST_STEP_DB else ratio
                if ratio < least:
                    weakest, least = number, ratio
        if weakest < 0:
            return kept
        del kept[weakest]


def linear_line(trace: Trace, line: Line) -> Line:
    """The same stretch fitted on linear power, free of the bias of the logarithm.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    line : Line
        First fit on the stored axis [dB]

    Returns
    -------
    line : Line
        Level and slope of the second fit [dB]
    """
    if line.stop - line.start < 2 or line.tailed:
        return line
    place = np.arange(line.start, line.stop, dtype=float)
    weight = 1.0 / trace.variance_db2[line.start : line.stop]
    prior = trace.sums.prior
    samples = trace.samples_db[line.start : line.stop]
    for _ in range(2):
        expected = line.level_db + line.slope * (place - line.centre)
        ratio = 10.0 ** (-(samples - expected) / 5.0)
        miss = DB_PER_NEPER * (1.0 - np.minimum(ratio, 4.0))
        level = float(np.sum(weight * miss) / line.weight)
        tilt = float(np.sum(weight * (place - line.centre) * miss))
        pull = prior.precision * (prior.slope - line.slope)
        line = replace(
            line,
            level_db=line.level_db + level,
            slope=line.slope + (tilt + pull) / line.spread,
        )
    return line


def _solved(
    values: Array, weight: Array, columns: Array, ridge: Array
) -> tuple[float, Array, Array]:
    """Weighted least squares with a prior precision per column: cost, answer, cover."""
    left = (columns * weight[:, None]).T
    cover = np.asarray(np.linalg.inv(left @ columns + np.diag(ridge)), dtype=np.float64)
    answer = cover @ (left @ values)
    miss = values - columns @ answer
    cost = float(np.sum(weight * miss**2) + np.sum(ridge * answer**2))
    return cost, answer, cover


def tail_size_db(peak: Reflection) -> float:
    """Tail to expect where a peak has ended, as a standard deviation.

    Parameters
    ----------
    peak : Reflection
        The reflection in front [dB]

    Returns
    -------
    size_db : float
        Excess over the fibre [dB]
    """
    if peak.saturated or peak.height_db <= 0.0:
        return TAIL_U_DB
    return min(TAIL_U_DB, TAIL_SHARE * float(10.0 ** (peak.height_db / 5.0)))


def slowest_tail(trace: Trace, size_db: float) -> float:
    """Longest decay constant of the faster part of a tail.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    size_db : float
        Expected size of the tail [dB]

    Returns
    -------
    decay : float
        In samples [1]
    """
    longest_ns = 600.0 if size_db >= TAIL_U_DB else 100.0
    return max(longest_ns * trace.ns, 2.0 * trace.footprint, 3.0)


def _tails(place: Array, decay: float) -> Array:
    """A fast decay and a slow one: no receiver recovers in a single exponential."""
    return np.column_stack([-np.exp(-place / decay), -np.exp(-place / (5.0 * decay))])


def tail_fit(
    trace: Trace, span: tuple[int, int], size_db: float, *, step: int | None = None
) -> tuple[float, float, float, float]:
    """Receiver tail behind a reflection, against a plain line or a step.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    span : tuple of int
        Section behind the reflection, as [start, stop) [1]
    size_db : float
        Expected size of a tail [dB]
    step : int, optional
        Sample at which a step is suspected instead [1]

    Returns
    -------
    gain : float
        Cost of line (and step) less cost of line and tail; positive favours a tail [1]
    amplitude_db : float
        Excess at the start [dB]
    amplitude_u_db : float
        Its standard deviation [dB]
    decay : float
        Decay constant of the faster part, in samples [1]
    """
    start = span[0]
    stop = min(span[1], start + int(400 + 60 * trace.footprint))
    place = np.arange(stop - start, dtype=float)
    prior = trace.sums.prior
    values = (
        trace.samples_db[start:stop] - trace.samples_db[stop - 1] - prior.slope * place
    )
    weight = 1.0 / trace.variance_db2[start:stop]
    plain = np.column_stack([np.ones_like(place), place - place.mean()])
    ridge = np.array([1e-9, prior.precision])
    ramps = (
        []
        if step is None
        else [
            np.clip((place - (step - start)) / trace.footprint - shift, 0.0, 1.0)
            for shift in (-0.5, 0.0, 0.5)
        ]
    )
    base = _cheapest((values, weight), plain, ramps, ridge)
    best = (-np.inf, 0.0, 1.0, 1.0)
    full = np.array([*ridge, size_db**-2, size_db**-2])
    decay = max(1.0, trace.footprint / 3.0)
    slowest = slowest_tail(trace, size_db)
    while decay < min(slowest, max(3.0, len(place) / 3.0)):
        columns = np.column_stack([plain, _tails(place, decay)])
        cost, answer, cover = _solved(values, weight, columns, full)
        if base - cost > best[0]:
            sigma = float(np.sqrt(cover[2:, 2:].sum()))
            best = (base - cost, float(answer[2] + answer[3]), sigma, decay)
        decay *= 2.0
    if ramps and best[0] >= 0.0:
        # a step that is plain even beside a tail is no tail
        columns = np.column_stack([plain, _tails(place, best[3])])
        both = _cheapest((values, weight), columns, ramps, full)
        if base - best[0] - both > STEP_BESIDE_TAIL:
            return (-np.inf, *best[1:])
    return best


def _cheapest(
    data: tuple[Array, Array], columns: Array, ramps: list[Array], ridge: Array
) -> float:
    """Least cost of the columns with one of the ramps, or alone without any."""
    if not ramps:
        return _solved(*data, columns, ridge)[0]
    wider = np.append(ridge, 1e-9)
    return min(
        _solved(*data, np.column_stack([columns, ramp]), wider)[0] for ramp in ramps
    )


def fall_db(loss_db: Array, share: Array) -> Array:
    """Fall of the level where a share of the pulse has passed a loss.

    The pulse adds powers: half of it behind a large loss is 1.5 dB, not half the loss.

    Parameters
    ----------
    loss_db : ndarray of shape (1, N)
        Loss, negative for a gain [dB]
    share : ndarray of shape (M, N)
        Part of the pulse that has passed, 0 to 1 [1]

    Returns
    -------
    fall_db : ndarray of shape (M, N)
        On the attenuation axis [dB]

    Examples
    --------
    >>> fall_db(np.array([[30.0]]), np.array([[0.5], [1.0]])).round(3).ravel().tolist()
    [1.505, 30.0]
    """
    if float(np.max(np.abs(loss_db))) < STRAIGHT_DB:
        return np.asarray(loss_db * share)
    return np.asarray(-5.0 * np.log10(1.0 - share * (1.0 - 10.0 ** (-loss_db / 5.0))))


def ramp_place(
    trace: Trace, mark: Mark, lines: tuple[Line, Line]
) -> tuple[float, float]:
    """Where a step begins, from a ramp as long as the pulse between two lines.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    mark : Mark
        Step to place [1]
    lines : tuple of Line
        Lines before and behind it [dB]

    Returns
    -------
    place : float
        Sample index, with fraction [1]
    place_u : float
        Standard uncertainty, in samples [1]
    """
    before, after = lines
    loss, _ = step_between(before, after, mark.place)
    middle = int(np.clip(mark.place, 0, len(trace.variance_db2) - 1))
    long_run = float(trace.variance_db2[middle])
    strength = long_run / max(loss**2, 1e-12)
    bound = float(np.sqrt(trace.footprint * strength))
    reach = int(np.ceil(2.0 * trace.footprint + 4.0 * bound + 20.0 * strength)) + 2
    reach = min(reach, int(20 * trace.footprint) + 60)
    low = max(before.start, int(mark.place) - reach)
    high = min(after.stop, int(mark.place + trace.footprint) + reach + 1)
    if high - low < trace.footprint + 2:
        return mark.place, max(bound, 0.5)
    low = max(low, 0)
    place = np.arange(low, high, dtype=float)
    step = after.at(place.mean()) - before.at(place.mean())
    line = before.level_db + before.slope * (place - before.centre)
    other = after.level_db + after.slope * (place - after.centre)
    above = trace.samples_db[low:high] - line
    rise = other - line
    grid = np.arange(low, high - trace.footprint, max(0.125, trace.footprint / 24.0))
    if len(grid) < 3 or step == 0.0:
        return mark.place, max(bound, 0.5)
    shape = np.clip((place[None, :] - grid[:, None]) / trace.footprint, 0.0, 1.0)
    expected = fall_db(rise[None, :], shape)
    cost = np.sum((above[None, :] - expected) ** 2, axis=1)
    best = int(np.argmin(cost))
    found = float(grid[best])
    if 0 < best < len(grid) - 1:
        a, b, c = cost[best - 1 : best + 2]
        bend = a - 2.0 * b + c
        if bend > 0.0:
            found += 0.5 * (a - c) / bend * (grid[1] - grid[0])
    sigma = np.sqrt(bound**2 + (4.0 * strength) ** 2 + 1.0 / 144.0)
    return found, float(sigma)
