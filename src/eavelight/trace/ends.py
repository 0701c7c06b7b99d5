"""Where the fibre ends: what follows is receiver and noise, however long it glows."""

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.refine import Mark, Trace
from eavelight.trace.reflections import Reflection

Array = NDArray[np.float64]

STEEPEST_DB_PER_KM = 1.5
"""Whatever falls faster over a long stretch is the receiver, not glass."""

SAME_LINE_DB = 4.0
"""Fibre no further down than this behind a tail is the same line going on."""

LEAST_FALL_DB = 3.0
"""Least fall at an end; smaller ones are losses."""


def _slope(values: Array, footprint: float) -> tuple[float, float]:
    """Slope per sample by least squares and its error in pulse-long noise."""
    place = np.arange(len(values)) - 0.5 * (len(values) - 1)
    spread = float(np.sum(place**2))
    slope = float(np.sum(place * values)) / spread
    rest = values - values.mean() - slope * place
    return slope, float(np.std(rest) * np.sqrt(footprint / spread))


def _nature(
    samples_db: Array, span: tuple[int, int], scale: tuple[float, float, float]
) -> str:
    """Whether a stretch falls like glass, like a receiver, or is too short to say.

    A step inside makes a line look steep; the median fall over a fifth of the stretch
    is deaf to single steps, so both must agree on a tail.
    """
    start, stop = span
    footprint, km_per_sample, dark_db = scale
    size = stop - start
    lag = size // 5
    whole = samples_db[start:stop]
    if lag < 2 or size < 2.0 * footprint + 6.0 or float(np.median(whole)) > dark_db:
        return "unknown"
    # the tail of a connector dies away before the next event, that of the end does not
    values = whole[size // 2 :] if size > 8.0 * footprint + 24.0 else whole
    size = len(values)
    lag = size // 5
    limit = 2.0 * STEEPEST_DB_PER_KM * km_per_sample
    slope, error = _slope(values, footprint)
    if abs(slope) + 2.0 * error < limit:
        return "fibre"
    if slope - 2.0 * error < limit or slope * size < 0.05:
        return "unknown"
    falls = values[lag:] - values[:-lag]
    typical = float(np.median(falls)) / lag
    noise = float(np.median(np.abs(falls - np.median(falls))))
    doubt = noise / lag * 1.8 / np.sqrt(max(1.0, size / footprint / 5.0))
    if typical + 2.0 * doubt < limit:
        return "fibre"
    if typical - doubt < limit:
        return "unknown"
    return "tail" if float(whole[-lag:].mean() - whole[:lag].mean()) > 1.0 else "steep"


def _first_fall(values: Array, width: int) -> int | None:
    """Samples before the first fall that is more than any loss in mid-line."""
    if len(values) < 4 * width:
        return None
    total = np.concatenate([[0.0], np.cumsum(values)])
    mean = (total[width:] - total[:-width]) / width
    steep = np.flatnonzero(mean[2 * width :] - mean[: -2 * width] > LEAST_FALL_DB)
    return int(steep[0]) if len(steep) else None


def _nature_behind(
    samples_db: Array, span: tuple[int, int], scale: tuple[float, float, float]
) -> str:
    """Nature of the stretch behind a reflection.

    Glass before a great fall is glass, whatever glows behind the fall.
    """
    start, stop = span
    fall = _first_fall(samples_db[start:stop], max(3, int(scale[0])))
    if (
        fall is not None
        and _nature(samples_db, (start, start + fall), scale) == "fibre"
    ):
        return "fibre"
    return _nature(samples_db, span, scale)


def last_reflection(
    samples_db: Array,
    peaks: list[Reflection],
    span: tuple[int, int],
    scale: tuple[float, float, float],
) -> int | None:
    """Number of the reflection behind which only receiver and noise are left.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    peaks : list of Reflection
        In order of position [1]
    span : tuple of int
        First sample behind the launch and end of usable data [1]
    scale : tuple of float
        Footprint in samples, km per sample, level too dark for fibre [1]

    Returns
    -------
    number : int or None
        None where the fibre goes on behind the last reflection [1]
    """
    natures = []
    for number, peak in enumerate(peaks):
        later = peaks[number + 1].foot if number + 1 < len(peaks) else span[1]
        natures.append(_nature_behind(samples_db, (peak.settled, later), scale))
    lit = [
        k
        for k, peak in enumerate(peaks)
        if samples_db[peak.foot] < scale[2] or samples_db[peak.apex] < scale[2] - 6.0
    ]
    if not lit:
        return None
    last = min(_first_tail(samples_db, peaks, natures, span[1]), lit[-1])
    fibre = [k for k in range(last + 1) if natures[k] == "fibre"]
    after = fibre[-1] + 1 if fibre else 0
    if after > last:
        return None
    if "steep" in natures[after : last + 1]:
        last = natures.index("steep", after)
    highest = max(peaks[k].height_db for k in range(after, last + 1))
    end = max(
        k
        for k in range(after, last + 1)
        if peaks[k].height_db > highest - 3.0 or peaks[k].saturated
    )
    alone = end == lit[-1] and not peaks[end].saturated
    if alone and _goes_on(samples_db, peaks[end], span[1], natures[end]):
        return None
    return end


def _first_tail(
    samples_db: Array, peaks: list[Reflection], natures: list[str], stop: int
) -> int:
    """First reflection behind which all is tail; fibre on its level disproves it."""
    feet = [*(peak.foot for peak in peaks), stop]
    levels = [
        float(np.median(samples_db[begin : max(feet[k + 1], begin + 1)]))
        for k, begin in enumerate(
            min(peak.settled, len(samples_db) - 1) for peak in peaks
        )
    ]
    for number, nature in enumerate(natures):
        if nature != "tail":
            continue
        foot = peaks[number].foot
        before = float(np.median(samples_db[max(0, foot - 8) : foot + 1]))
        goes_on = any(
            natures[k] == "fibre" and levels[k] - before < SAME_LINE_DB
            for k in range(number + 1, len(peaks))
        )
        if not goes_on:
            return number
    return len(peaks) - 1


def _goes_on(samples_db: Array, peak: Reflection, stop: int, nature: str) -> bool:
    """Whether the level behind the last reflection is still that of fibre."""
    if nature in {"tail", "steep"} or stop - peak.settled < 8:
        return False
    before = float(np.median(samples_db[max(0, peak.foot - 8) : peak.foot + 1]))
    behind = samples_db[peak.settled : peak.settled + 8]
    calm = float(np.ptp(behind)) < 1.5
    return calm and float(np.median(behind)) - before < 3.0


def plain_end(
    samples_db: Array, trace: Trace, pulse: float, scale: tuple[float, float, float]
) -> Mark | None:
    """An end without reflection: where the level leaves its line for good.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    trace : Trace
        Usable part of it [dB]
    pulse : float
        Nominal pulse, in samples [1]
    scale : tuple of float
        Footprint in samples, km per sample, level too dark for fibre [1]

    Returns
    -------
    mark : Mark or None
        None where the fibre fades into the noise [1]
    """
    width = max(3, int(trace.footprint))
    fall = _last_fall(samples_db, trace, width, scale)
    reach = trace.stop if fall is None else min(trace.stop, fall + 2 * width)
    guard = max(trace.start + 8, reach - 6 * width - 12)
    if guard - trace.start < 8:
        return None
    line = trace.sums.fit(max(trace.start, guard - 60 * width), guard)
    stop = min(len(samples_db), reach + 4 * width)
    if stop - guard < width:
        return None
    place = np.arange(guard, stop, dtype=float)
    expected = line.level_db + line.slope * (place - line.centre)
    power = 10.0 ** (-(samples_db[guard:stop] - expected) / 5.0)
    low = np.convolve(power, np.ones(width) / width, mode="valid") < 0.5
    stays = np.flatnonzero(np.cumprod(low[::-1])[::-1])
    if len(stays) < width // 2 + 1:
        return None
    middle = guard + int(stays[0]) + width / 2.0
    place_at = middle - pulse / 2.0
    left = int(place_at - max(2.0, 0.5 * width))
    return Mark(left=left, right=len(samples_db), place=float(place_at))


def _last_fall(
    samples_db: Array, trace: Trace, width: int, scale: tuple[float, float, float]
) -> int | None:
    """Sample of the fall behind which nothing looks like fibre any more."""
    values = samples_db[trace.start : trace.stop]
    if len(values) < 6 * width:
        return None
    total = np.concatenate([[0.0], np.cumsum(values)])
    mean = (total[width:] - total[:-width]) / width
    drop = mean[2 * width :] - mean[: -2 * width]
    hot = np.flatnonzero(drop > LEAST_FALL_DB)
    falls: list[int] = []
    while len(hot):
        best = int(hot[np.argmax(drop[hot])])
        falls.append(trace.start + best + 3 * width // 2)
        hot = hot[np.abs(hot - best) > 4 * width]
    falls.sort()
    later = [*falls[1:], trace.stop]
    fibre = [
        number
        for number, fall in enumerate(falls)
        if _nature(samples_db, (fall + 2 * width, later[number] - width), scale)
        == "fibre"
    ]
    after = fibre[-1] + 1 if fibre else 0
    return falls[after] if after < len(falls) else None
