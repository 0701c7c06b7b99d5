"""What the samples say about their own noise: clamp, floor, end of use, variance map.

Two variances per sample are kept: that of one sample, and the long-run variance (the
spectral density at zero frequency), which decides the error of every mean and line
through many samples. Both follow a/P**2 + b/P + c with P the power: thermal noise,
shot noise, and the frozen pattern of the glass, which is constant in decibels.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DB_PER_NEPER = 5.0 / np.log(10.0)
"""Decibels on the one-way axis per unit of relative power."""

NOISIEST = 0.3
"""Noise of a sample over its power, from which on a level says little."""

LARGEST_ZONE = 3.0
"""A zone above this many times the law holds an event and counts for no more."""

ZONES_TOGETHER = 5
"""Zones of one power of which most cannot hold an event."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """Clamp value, noise rms and the first sample of the noise behind the fibre."""

    clamp_db: float | None
    rms_db: float | None
    p98_db: float | None
    start: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NoiseMap:
    """Variances of each usable sample [dB²]; `stop` is the end of usable data."""

    sample_db2: Array
    long_run_db2: Array
    pattern_db2: float
    stop: int
    floor: Floor


def clamp_level_db(samples_db: Array) -> float | None:
    """Value at which the instrument stored non-positive samples.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]

    Returns
    -------
    clamp_db : float or None
        The repeated maximum, None where the maximum is a single draw [dB]

    Examples
    --------
    >>> clamp_level_db(np.array([8.0, 8.1, 40.0, 39.0, 40.0, 40.0]))
    40.0
    """
    top = float(np.max(samples_db))
    held = int(np.count_nonzero(samples_db >= top - 1e-9))
    return top if held >= max(3, len(samples_db) // 2000) else None


def noise_floor(samples_db: Array, footprint: float = 1.0) -> Floor:
    """Noise behind the fibre, taken from upper quantiles of the raw samples.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    footprint : float, optional
        Pulse and receiver together, in samples [1]

    Returns
    -------
    floor : Floor
        Clamp value, rms and 98 % level; None where no noise is seen [dB]
    """
    clamp = clamp_level_db(samples_db)
    size = int(np.clip(len(samples_db) // 256, 8, 64))
    count = len(samples_db) // size
    power = 10.0 ** (-(samples_db[: count * size] - np.median(samples_db)) / 5.0)
    if clamp is not None:
        power[samples_db[: count * size] >= clamp - 1e-9] = 0.0
    blocks = power.reshape(count, size)
    rough = np.median(np.abs(np.diff(blocks, axis=1)), axis=1)
    # a block that is all clamp has neither power nor spread
    noisy = rough >= np.maximum(0.25 * np.median(blocks, axis=1), 1e-30)
    noisy |= np.median(blocks, axis=1) <= 0.0
    begin = _last_run(noisy, 1 + int(np.ceil(3.0 * footprint / size)))
    if count - begin < 2:
        return Floor(clamp_db=clamp, rms_db=None, p98_db=None, start=len(samples_db))
    start = begin * size
    tail = power[(start + len(power)) // 2 :]
    # 98 % of zero-mean Gaussian noise lies below 2.054 standard deviations
    middle = float(np.median(samples_db))
    # where nothing but the clamp is left, the clamp is all that is known
    least = 10.0 ** (-(float(np.max(samples_db)) - middle) / 5.0)
    level = max(float(np.quantile(tail, 0.98)), least)
    p98 = middle - 5.0 * np.log10(level)
    return Floor(
        clamp_db=clamp,
        rms_db=float(p98 + 5.0 * np.log10(2.054)),
        p98_db=float(p98),
        start=start,
    )


def _last_run(noisy: NDArray[np.bool_], patience: int) -> int:
    """First block of the noise at the far end; short calm stretches are echoes."""
    begin, calm = len(noisy), 0
    for index in range(len(noisy) - 1, -1, -1):
        calm = 0 if noisy[index] else calm + 1
        if calm > patience:
            break
        if noisy[index]:
            begin = index
    return begin


def _non_negative(columns: Array, target: Array) -> Array:
    """Least squares with three non-negative coefficients, by trying the few subsets.

    Plain arithmetic: the matrices are too small for a solver to pay.
    """
    normal = columns.T @ columns
    scale = np.sqrt(np.diag(normal))
    m = (normal / np.outer(scale, scale)).tolist()
    r = ((columns.T @ target) / scale).tolist()
    tries = [(_determined(m, r, part), part) for part in _SUBSETS]
    best, answer = 0.0, np.zeros(3)
    for found, part in tries:
        if found is None or min(found) < 0.0:
            continue
        gain = sum(value * r[k] for value, k in zip(found, part, strict=True))
        if gain > best * (1.0 + 1e-12):
            best, answer = gain, np.zeros(3)
            answer[list(part)] = found
    return np.asarray(answer / scale)


_SUBSETS = [part for size in (1, 2, 3) for part in combinations(range(3), size)]


def _determined(
    m: list[list[float]], r: list[float], part: tuple[int, ...]
) -> list[float] | None:
    """Gaussian elimination of a few columns; None where they are not independent."""
    rows = [[m[i][j] for j in part] + [r[i]] for i in part]
    size = len(part)
    for k in range(size):
        if abs(rows[k][k]) < 1e-10:
            return None
        for i in range(k + 1, size):
            factor = rows[i][k] / rows[k][k]
            for j in range(k, size + 1):
                rows[i][j] -= factor * rows[k][j]
    answer = [0.0] * size
    for k in range(size - 1, -1, -1):
        rest = sum(rows[k][j] * answer[j] for j in range(k + 1, size))
        answer[k] = (rows[k][size] - rest) / rows[k][k]
    return answer


def _zone_variances(values: Array, lag: int, zone: int) -> Array:
    """Robust variance of second differences at `lag`, per zone, for one sample."""
    second = values[2 * lag :] - 2.0 * values[lag:-lag] + values[: -2 * lag]
    padded = np.pad(second, lag, mode="edge")
    count = max(1, len(padded) // zone)
    zones = np.abs(padded[: count * zone] if len(padded) >= zone else padded)
    middle = np.median(zones.reshape(count, -1), axis=1)
    return np.asarray((middle / 0.6745) ** 2 / 6.0)


def _law(power: Array, variance: Array, floor: float | None) -> Array:
    """Coefficients of a/P**2 + b/P + c; weights come from the fit, not from the data.

    Weighting by the scattered zone values themselves would favour the small ones.
    Behind a splitter they differ by thousands, and one value for all hides the bright
    part of the trace from the first fit and so from all: then the zones themselves are
    a start.
    """
    columns = np.column_stack([power**-2.0, power**-1.0, np.ones_like(power)])
    flat = np.full(len(power), float(np.median(variance)))
    answer = _reweighted(columns, variance, floor, flat)
    missed = _missed(power, variance, columns @ answer)
    if missed > LARGEST_ZONE:
        other = _reweighted(columns, variance, floor, variance)
        if _missed(power, variance, columns @ other) < missed:
            return other
    return answer


def _missed(power: Array, variance: Array, expected: Array) -> float:
    """How far zones of about one power lie above the law, all but a few of them."""
    ratio = (variance / np.maximum(expected, 1e-12))[np.argsort(power)]
    width = min(ZONES_TOGETHER, len(ratio))
    together = np.lib.stride_tricks.sliding_window_view(ratio, width)
    return float(np.max(np.median(together, axis=1)))


def _reweighted(
    columns: Array, variance: Array, floor: float | None, expected: Array
) -> Array:
    answer = np.zeros(3)
    for _ in range(4):
        expected = np.maximum(expected, 1e-12)
        weight = 1.0 / expected
        target = np.minimum(variance, LARGEST_ZONE * expected) * weight
        rows = columns * weight[:, None]
        if floor is not None:
            rows = np.vstack([rows, [[2.0 / floor, 0.0, 0.0]]])
            target = np.append(target, 2.0)
        answer = _non_negative(rows, target)
        expected = columns @ answer
    return answer


def usable_stop(samples_db: Array, floor: Floor, width: int) -> int:
    """Index behind the last sample whose noise is below 0.3 of its power.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    floor : Floor
        Noise behind the fibre [dB]
    width : int
        Samples to average over, about half a pulse [1]

    Returns
    -------
    stop : int
        Sample index [1]
    """
    if floor.rms_db is None:
        return len(samples_db)
    power = 10.0 ** (-(samples_db - floor.rms_db) / 5.0)
    if floor.clamp_db is not None:
        power[samples_db >= floor.clamp_db - 1e-9] = 0.0
    width = max(5, width)
    total = np.concatenate([[0.0], np.cumsum(power)])
    mean = (total[width:] - total[:-width]) / width
    above = np.flatnonzero(mean[: max(1, floor.start + 4 * width)] > 3.3)
    return int(above[-1]) + width if len(above) else 0


def noise_map(
    samples_db: Array,
    *,
    footprint: float,
    stop: int,
    floor: Floor,
    residual_db: Array | None = None,
) -> NoiseMap:
    """Variance of every usable sample, from the trace itself.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    footprint : float
        Pulse and receiver together, in samples [1]
    stop : int
        End of usable data [1]
    floor : Floor
        Noise behind the fibre [dB]
    residual_db : ndarray of shape (N,), optional
        Samples less their fitted lines, NaN where an event hides the fibre [dB]

    Returns
    -------
    noise : NoiseMap
        Sample variance, long-run variance and pattern share [dB²]
    """
    values = samples_db[:stop]
    lag = int(np.ceil(footprint)) + 2
    if stop < 4 * lag + 8:
        flat = np.full(stop, 1e-4)
        return NoiseMap(
            sample_db2=flat,
            long_run_db2=flat * footprint,
            pattern_db2=1e-4,
            stop=stop,
            floor=floor,
        )
    reference = float(np.median(values))
    noise = (
        None if floor.rms_db is None else 10.0 ** (-(floor.rms_db - reference) / 2.5)
    )
    floor_db2 = None if noise is None else DB_PER_NEPER**2 * noise
    power = 10.0 ** (-(smoothed_db(values, lag) - reference) / 5.0)
    clear, at = values, power
    if residual_db is not None:
        kept = np.isfinite(residual_db[:stop])
        if np.count_nonzero(kept) >= 4 * lag + 8:
            clear, at = residual_db[:stop][kept], power[kept]
    sample = _fit(clear, at, lag, floor_db2)
    block = 3 * lag
    law = np.array([power**-2.0, power**-1.0, np.ones_like(power)])
    each = np.maximum(sample @ law, 1e-7)
    if len(clear) > 16 * block:
        mean = _moving_mean(clear, block)
        centre = at[block // 2 : block // 2 + len(mean)]
        known = None if floor_db2 is None else floor_db2 / block
        blocks = _fit(mean, centre, block, known)
        # neighbouring blocks share their edges, and a block loses part of a correlation
        shared = 1.0 - 5.0 / 9.0 * footprint / block
        # no colour reaches further than about two footprints; more is misfit
        long_run = np.clip(
            block / shared * (blocks @ law), each, (2.0 * footprint + 2.0) * each
        )
    else:
        long_run = each * max(1.0, footprint)
    return NoiseMap(
        sample_db2=each,
        long_run_db2=long_run,
        pattern_db2=float(sample[2]),
        stop=stop,
        floor=floor,
    )


def _moving_mean(values: Array, width: int) -> Array:
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray((total[width:] - total[:-width]) / width)


def smoothed_db(values_db: Array, width: int) -> Array:
    """Moving mean of full length, so that the level follows every large step.

    Parameters
    ----------
    values_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    width : int
        Samples to average over [1]

    Returns
    -------
    level_db : ndarray of shape (N,)
        The ends repeat the first and last mean [dB]
    """
    mean = _moving_mean(values_db, min(width, len(values_db)))
    before = (len(values_db) - len(mean)) // 2
    return np.pad(mean, (before, len(values_db) - len(mean) - before), mode="edge")


def _fit(values: Array, power: Array, lag: int, floor_db2: float | None) -> Array:
    zone = int(np.clip(len(values) // 24, max(48, 6 * lag), 1024))
    variance = _zone_variances(values, lag, min(zone, len(values)))
    zone = len(values) // len(variance) if len(variance) == 1 else zone
    shape = power[: len(variance) * zone].reshape(len(variance), -1)
    return _law(np.median(shape, axis=1), variance, floor_db2)
