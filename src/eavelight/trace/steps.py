"""Steps of the level: generalised likelihood ratio over many window lengths.

Narrow windows come first and split the trace, so that a strong neighbour never
spoils the window of a weak event; the threshold of each window length controls the
false alarms of all positions at that length.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from eavelight.trace.lines import LineSums

Array = NDArray[np.float64]
Index = NDArray[np.int_]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTest:
    """Samples skipped before and after a step, and the false-alarm budget."""

    before: int
    after: int
    false_alarms: float = 0.02
    shortest: int = 4
    first: int = 4


def step_threshold(length: int, window: int, false_alarms: float) -> float:
    """Standard deviations that noise exceeds in few traces at one window length.

    Parameters
    ----------
    length : int
        Samples searched [1]
    window : int
        Window on each side, in samples [1]
    false_alarms : float
        Expected false events at this window length [1]

    Returns
    -------
    threshold : float
        Two-sided threshold [1]

    Examples
    --------
    >>> step_threshold(2000, 100, 0.01)
    3.84
    """
    independent = 4.0 * max(length, 2 * window) / window
    return float(-ndtri(min(0.25, 0.5 * false_alarms / independent)))


def _ratio(
    sums: LineSums,
    segments: list[tuple[int, int]],
    place: Index,
    window: int,
    test: StepTest,
) -> Array:
    """Step over its standard deviation at each place, slope common to both sides."""
    edges = np.array(segments).ravel()
    number = np.searchsorted(edges, place, side="right")
    inside = number % 2 == 1
    start = edges[np.clip(number - 1, 0, len(edges) - 1)]
    stop = edges[np.clip(number, 0, len(edges) - 1)]
    left_stop = np.clip(place - test.before, start, stop)
    left_start = np.maximum(start, left_stop - window)
    right_start = np.clip(place + test.after, start, stop)
    right_stop = np.minimum(stop, right_start + window)
    w1, c1, m1, s1, x1 = sums.moments(left_start, left_stop)
    w2, c2, m2, s2, x2 = sums.moments(right_start, right_stop)
    precision = sums.prior.precision
    spread = s1 + s2 + precision
    slope = (x1 + x2 + precision * sums.prior.slope) / spread
    with np.errstate(invalid="ignore", divide="ignore"):
        step = m2 - m1 - slope * (c2 - c1)
        variance = 1.0 / w1 + 1.0 / w2 + (c2 - c1) ** 2 / spread
        ratio = step / np.sqrt(variance)
    short = (left_stop - left_start < test.shortest) | (
        right_stop - right_start < test.shortest
    )
    ratio[short | ~inside | ~np.isfinite(ratio)] = 0.0
    return np.asarray(ratio)


def _split(
    segments: list[tuple[int, int]], place: int, test: StepTest
) -> list[tuple[int, int]]:
    parts = []
    for low, high in segments:
        if low <= place < high:
            parts += [(low, place - test.before), (place + test.after, high)]
        else:
            parts.append((low, high))
    return [(low, high) for low, high in parts if high > low]


def window_lengths(shortest: int, longest: int) -> list[int]:
    """Window lengths to try, each about twice the one before.

    Parameters
    ----------
    shortest : int
        Smallest window, in samples [1]
    longest : int
        Largest useful window, in samples [1]

    Returns
    -------
    windows : list of int
        In samples, rising [1]

    Examples
    --------
    >>> window_lengths(4, 40)
    [4, 8, 16, 32, 40]
    """
    windows = []
    size = shortest
    while size < longest:
        windows.append(size)
        size *= 2
    return [*windows, max(longest, shortest)]


def find_steps(
    sums: LineSums, segments: list[tuple[int, int]], test: StepTest
) -> list[tuple[int, float]]:
    """Samples at which a step begins, with its signed significance.

    Parameters
    ----------
    sums : LineSums
        Weighted sums of the trace [dB]
    segments : list of tuple of int
        Stretches without reflections, as [start, stop) [1]
    test : StepTest
        Gaps and false-alarm budget [1]

    Returns
    -------
    steps : list of tuple
        Index and signal-to-noise ratio, in order of position [1]
    """
    if not segments:
        return []
    total = sum(high - low for low, high in segments)
    longest = max(high - low for low, high in segments)
    found: list[tuple[int, float]] = []
    lengths = window_lengths(max(test.shortest, test.first), longest)
    budget = test.false_alarms / len(lengths)
    for window in [*lengths, longest]:
        threshold = step_threshold(total, window, budget)
        for _ in range(64):
            fresh = _scan(sums, segments, (window, threshold), test)
            if not fresh:
                break
            found += fresh
            for place, _ratio_there in fresh:
                segments = _split(segments, place, test)
            if not segments:
                return sorted(found)
    return sorted(found)


def _scan(
    sums: LineSums,
    segments: list[tuple[int, int]],
    level: tuple[int, float],
    test: StepTest,
) -> list[tuple[int, float]]:
    """Steps at one window length; long windows are tried on a coarse grid first."""
    window, threshold = level
    stride = max(1, window // 6)
    room = 2 * test.shortest + test.before + test.after
    grids = [
        np.arange(low, high, stride) for low, high in segments if high - low >= room
    ]
    if not grids:
        return []
    grid = np.concatenate(grids)
    ratio = _ratio(sums, segments, grid, window, test)
    # a coarse grid can miss the summit by a tenth of its height
    reach = threshold * (1.0 if stride == 1 else 0.88)
    fresh = []
    for number in _peaks(ratio, grid, reach, window + test.before + test.after):
        place, height = int(grid[number]), float(ratio[number])
        if stride > 1:
            fine = np.arange(place - stride + 1, place + stride)
            values = _ratio(sums, segments, fine, window, test)
            best = int(np.argmax(np.abs(values)))
            place, height = int(fine[best]), float(values[best])
        if abs(height) > threshold:
            fresh.append((place, height))
    return fresh


def _peaks(ratio: Array, grid: Index, threshold: float, distance: int) -> list[int]:
    """Numbers of the largest values, each at least `distance` from those before."""
    size = np.abs(ratio)
    hot = np.flatnonzero(size > threshold)
    picked: list[int] = []
    while len(hot):
        best = int(hot[np.argmax(size[hot])])
        picked.append(best)
        hot = hot[np.abs(grid[hot] - grid[best]) > distance]
    return picked
