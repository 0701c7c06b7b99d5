"""Reflections: strong ones by their rise, weak ones by a matched template.

Positions are sample indices. A reflection begins at its foot, the last undisturbed
sample, and its edge is where half of the peak's power is reached.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reflection:
    """One peak; `settled` is the first sample behind its visible tail."""

    foot: int
    apex: int
    edge: float
    width: float
    top_stop: int
    settled: int
    height_db: float
    saturated: bool


def local_deviation_db(samples_db: Array, lag: int) -> Array:
    """Robust standard deviation around each sample, without any model.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    lag : int
        Samples between the points of the second difference [1]

    Returns
    -------
    deviation_db : ndarray of shape (N,)
        Standard deviation of one sample [dB]
    """
    count = len(samples_db)
    lag = max(1, min(lag, (count - 1) // 2))
    second = samples_db[2 * lag :] - 2.0 * samples_db[lag:-lag] + samples_db[: -2 * lag]
    zone = max(24, min(256, len(second) // 12 + 1, 12 * lag + 40))
    zones = max(1, len(second) // zone)
    middle = np.median(
        np.abs(second[: zones * zone]).reshape(zones, -1) if len(second) >= zone
        else np.abs(second)[None, :],
        axis=1,
    )  # fmt: skip
    deviation = middle / 0.6745 / np.sqrt(6.0)
    if zones > 4:
        # a zone full of peaks is not noise: no more than twice its calm neighbours
        padded = np.pad(deviation, 2, mode="edge")
        around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
        deviation = np.minimum(deviation, 2.0 * around)
    centres = lag + (np.arange(zones) + 0.5) * zone
    spread = np.interp(np.arange(count), centres, deviation)
    return np.asarray(np.maximum(spread, 3e-4))


def saturation_level_db(samples_db: Array) -> float | None:
    """Level of flat peak tops, where the receiver is full.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]

    Returns
    -------
    level_db : float or None
        Smallest stored attenuation if it is held, else None [dB]
    """
    low = float(np.min(samples_db))
    held = samples_db <= low + 0.05
    runs = held[2:] & held[1:-1] & held[:-2]
    return low if bool(np.any(runs)) else None


def _rises(samples_db: Array, reach: int) -> Array:
    """How far the trace climbs within the next `reach` samples."""
    padded = np.concatenate([samples_db[1:], np.full(reach, np.inf)])
    windows = np.lib.stride_tricks.sliding_window_view(padded, reach)
    return np.asarray(samples_db - windows[: len(samples_db)].min(axis=1))


def _foot(samples_db: Array, apex: int, baseline_db: float, low: int) -> int:
    """Last sample that still lies on the fibre before the rise."""
    index = apex
    while index > low and samples_db[index] < baseline_db:
        index -= 1
    return index


def _crossing(power: Array, start: int, stop: int, target: float) -> float:
    """First upward crossing of `target`, interpolated."""
    part = power[start : stop + 1]
    above = np.flatnonzero(part >= target)
    if len(above) == 0 or above[0] == 0:
        return float(start)
    high = int(above[0])
    fraction = (target - part[high - 1]) / (part[high] - part[high - 1])
    return float(start + high - 1 + fraction)


def _settled(
    samples_db: Array, margin: tuple[float, float], start: int, stop: int, size: int
) -> int:
    """First sample from which the trace no longer falls like a tail."""
    deviation_db, tilt_db = margin
    size = max(2, size)
    part = samples_db[start:stop]
    if len(part) < 3 * size:
        return min(stop, start + size)
    total = np.concatenate([[0.0], np.cumsum(part)])
    mean = (total[size:] - total[:-size]) / size
    fall = mean[size:] - mean[:-size]
    calm = fall < 3.0 * deviation_db + 0.01 + tilt_db * size
    first = np.flatnonzero(calm)
    # half a window more: the fall that is calm on average still has its edge
    return start + int(first[0]) + (size + 1) // 2 if len(first) else stop


def launch_settled(
    samples_db: Array, deviation_db: Array, *, footprint: float, tilt_db: float
) -> int:
    """First sample behind the dead zone of the instrument's own port.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    deviation_db : ndarray of shape (N,)
        Standard deviation of one sample [dB]
    footprint : float
        Pulse and receiver together, in samples [1]
    tilt_db : float
        Fall of steep fibre per sample [dB]

    Returns
    -------
    start : int
        Sample index [1]
    """
    reach = int(2.0 * footprint) + 6
    top = int(np.argmin(samples_db[:reach]))
    level = samples_db[top]
    held = np.flatnonzero(samples_db[top:] > level + 0.05)
    after = top + (int(held[0]) if len(held) else 0)
    after = min(max(after, int(np.ceil(footprint)) + 1), len(deviation_db) - 1)
    size = max(2, round(footprint / 2.0))
    margin = (float(deviation_db[after]), tilt_db)
    return _settled(samples_db, margin, after, len(samples_db), size)


def find_reflections(
    samples_db: Array,
    deviation_db: Array,
    *,
    footprint: float,
    span: tuple[int, int],
    full_db: float | None,
    tilt_db: float,
) -> list[Reflection]:
    """Peaks that rise clearly out of the noise.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    deviation_db : ndarray of shape (N,)
        Standard deviation of one sample [dB]
    footprint : float
        Pulse and receiver together, in samples [1]
    span : tuple of int
        First sample behind the launch and end of usable data [1]
    full_db : float or None
        Level of a full receiver [dB]
    tilt_db : float
        Fall of steep fibre per sample [dB]

    Returns
    -------
    reflections : list of Reflection
        In order of position; indices in samples [1]
    """
    reach = int(np.ceil(footprint)) + 2
    start, stop = span
    rise = _rises(samples_db[start:stop], reach)
    limit = np.maximum(7.0 * deviation_db[start:stop], 0.08)
    hot = start + np.flatnonzero(rise > limit)
    found: list[Reflection] = []
    if len(hot) == 0:
        return found
    groups = np.split(hot, np.flatnonzero(np.diff(hot) > 1) + 1)
    for number, group in enumerate(groups):
        after = int(groups[number + 1][0]) if number + 1 < len(groups) else stop
        low = found[-1].top_stop if found else start
        if group[-1] < low:
            continue
        peak = _measure(
            samples_db, deviation_db, (int(group[0]), int(group[-1]) + reach, after),
            low=low, full_db=full_db, size=max(2, round(footprint / 2.0)),
            tilt_db=tilt_db,
        )  # fmt: skip
        if peak is not None:
            found.append(peak)
    return found


def _measure(
    samples_db: Array,
    deviation_db: Array,
    span: tuple[int, int, int],
    *,
    low: int,
    full_db: float | None,
    size: int,
    tilt_db: float,
) -> Reflection | None:
    first, last, after = span
    first = max(first, low)
    window = samples_db[first : max(last, first + 1) + 1]
    apex = first + int(np.argmin(window))
    if full_db is not None and samples_db[apex] <= full_db + 0.05:
        apex = first + int(np.flatnonzero(window <= full_db + 0.05)[0])
    begin = max(low, first - 3 * size)
    calm = samples_db[max(begin, first - 2 * size) : first + 1]
    baseline = float(np.median(calm))
    around = 2.0 * float(np.median(np.abs(calm - baseline)))
    spread = float(min(deviation_db[first], max(around, 3e-4)))
    if samples_db[apex] > baseline - 2.0 * spread:
        return None
    foot = _foot(samples_db, apex, baseline - 2.0 * spread - 0.01, max(low, begin - 1))
    reference = float(samples_db[foot : foot + 1].mean())
    power = 10.0 ** (-(samples_db - reference) / 5.0) - 1.0
    half = 0.5 * float(power[apex])
    edge = _crossing(power, foot, apex, half)
    if baseline - samples_db[apex] > 20.0 * spread:
        # below the middle of the rise receivers with and without delay agree
        edge = _crossing(power, foot, apex, 0.5 * half)
    fall = np.flatnonzero(power[apex:after] < half)
    down = apex + int(fall[0]) if len(fall) else max(after - 1, apex)
    saturated = full_db is not None and samples_db[apex] <= full_db + 0.05
    if down - edge > 6.0 * size + 8.0 and baseline - samples_db[apex] < 1.0:
        return None  # it does not come down again: a step, not a reflection
    if saturated:
        # the clipped half lies too early: the receiver filled up at the true edge
        edge = apex - 0.5
    return Reflection(
        foot=foot,
        apex=apex,
        edge=edge,
        width=down - edge,
        top_stop=down,
        settled=_settled(samples_db, (spread, tilt_db), down, after, size),
        height_db=float(baseline - samples_db[apex]),
        saturated=saturated,
    )


def find_weak_reflections(
    values_db: Array,
    variance_db2: Array,
    segments: list[tuple[int, int]],
    *,
    footprint: float,
    slope_db: float,
    threshold: float = 4.5,
    least_db: float = 0.03,
) -> list[Reflection]:
    """Small peaks, each clearly above the fibre on both sides.

    Parameters
    ----------
    values_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    variance_db2 : ndarray of shape (N,)
        Long-run variance of one sample [dB²]
    segments : list of tuple of int
        Stretches to search, as [start, stop) [1]
    footprint : float
        Pulse and receiver together, in samples [1]
    slope_db : float
        Ordinary fall per sample [dB]
    threshold : float, optional
        Standard deviations above each side [1]
    least_db : float, optional
        Smallest height of interest [dB]

    Returns
    -------
    reflections : list of Reflection
        In order of position [1]
    """
    width = max(2, round(footprint))
    side, gap = 3 * width, max(1, round(0.3 * footprint))
    reach = side + gap
    if len(values_db) < width + 2 * reach:
        return []
    total = np.concatenate([[0.0], np.cumsum(values_db)])
    first = np.arange(reach, len(values_db) - width - reach)
    top = (total[first + width] - total[first]) / width
    before = (total[first - gap] - total[first - reach]) / side
    after = (total[first + width + reach] - total[first + width + gap]) / side
    middle = 0.5 * (width + side) + gap
    noise = np.sqrt(variance_db2[first] * (1.0 / width + 1.0 / side))
    left, right = before + slope_db * middle - top, after - slope_db * middle - top
    lower = np.minimum(left, right)
    ratio = np.where(lower > least_db, lower / noise, 0.0)
    allowed = np.zeros(len(values_db) + 1, dtype=int)
    for low, high in segments:
        allowed[low:high] = 1
    inside = np.concatenate([[0], np.cumsum(allowed)])
    whole = inside[first + width + reach] - inside[first - reach] == width + 2 * reach
    hot = first[(ratio > threshold) & whole]
    found: list[Reflection] = []
    while len(hot):
        best = int(hot[np.argmax(ratio[hot - reach])])
        number = best - reach
        found.append(_weak(best, width, float(left[number]), _vertex(ratio, number)))
        hot = hot[np.abs(hot - best) > width + gap]
    return sorted(found, key=lambda item: item.edge)


def _vertex(values: Array, index: int) -> float:
    """Offset of a maximum from its sample, by a parabola."""
    if not 0 < index < len(values) - 1:
        return 0.0
    low, top, high = values[index - 1 : index + 2]
    bend = low - 2.0 * top + high
    return 0.0 if bend >= 0.0 else float(np.clip(0.5 * (low - high) / bend, -0.5, 0.5))


def _weak(first: int, width: int, height_db: float, offset: float) -> Reflection:
    margin = max(1, width // 3)
    return Reflection(
        foot=first - margin,
        apex=first + width // 2,
        edge=first + offset - 0.5,
        width=float(width),
        top_stop=first + width,
        settled=first + width + margin + 1,
        height_db=height_db,
        saturated=False,
    )
