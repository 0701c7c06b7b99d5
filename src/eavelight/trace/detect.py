"""All marks of one trace: launch, reflections, end of the fibre, steps, tails."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.lines import LineSums, SlopePrior
from eavelight.trace.noise import (
    DB_PER_NEPER,
    Floor,
    NoiseMap,
    noise_floor,
    noise_map,
    usable_stop,
)
from eavelight.trace.refine import (
    Mark,
    Trace,
    prune,
    ramp_place,
    section_bounds,
    section_lines,
    tail_fit,
)
from eavelight.trace.reflections import (
    Reflection,
    find_reflections,
    find_weak_reflections,
    launch_settled,
    local_deviation_db,
    saturation_level_db,
)
from eavelight.trace.steps import StepTest, find_steps

Array = NDArray[np.float64]

ATTENUATION_DB_PER_KM = {1310: 0.33, 1490: 0.22, 1550: 0.20, 1625: 0.21, 1650: 0.23}
"""Ordinary attenuation of single-mode fibre: the centre of the slope prior."""

ATTENUATION_U_DB_PER_KM = 0.12
STEEPEST_DB_PER_KM = 1.5
"""Whatever falls faster over a long stretch is the receiver, not glass."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Detection:
    """Marks in order; the last one is the end where `end_seen`."""

    trace: Trace
    noise: NoiseMap
    marks: tuple[Mark, ...]
    end: Mark | None
    beyond: tuple[Reflection, ...]
    launch: int


def slope_prior(wavelength_nm: float, spacing_m: float) -> SlopePrior:
    """What glass may attenuate, per sample.

    Parameters
    ----------
    wavelength_nm : float
        Wavelength [nm]
    spacing_m : float
        Sample spacing [m]

    Returns
    -------
    prior : SlopePrior
        Mean and standard deviation per sample [dB]
    """
    known = sorted(ATTENUATION_DB_PER_KM)
    middle = np.interp(wavelength_nm, known, [ATTENUATION_DB_PER_KM[k] for k in known])
    return SlopePrior(
        slope=float(middle) * spacing_m / 1000.0,
        deviation=ATTENUATION_U_DB_PER_KM * spacing_m / 1000.0,
    )


def _nature(
    samples_db: Array, span: tuple[int, int], scale: tuple[float, float]
) -> str:
    """Whether a stretch falls like glass, like a receiver, or is too short to say.

    The median fall over a fifth of the stretch is deaf to single steps.
    """
    start, stop = span
    footprint, km_per_sample = scale
    size = stop - start
    lag = size // 5
    if lag < 2 or size < 2.0 * footprint + 6.0:
        return "unknown"
    values = samples_db[start:stop]
    falls = values[lag:] - values[:-lag]
    slope = float(np.median(falls)) / lag / km_per_sample
    second = np.abs(np.diff(values, 2))
    noise = float(np.median(second)) / 0.6745 / np.sqrt(6.0) * np.sqrt(footprint)
    noise = max(noise, float(np.median(np.abs(falls - np.median(falls)))))
    error = (
        noise / lag / km_per_sample * 1.8 / np.sqrt(max(1.0, size / footprint / 5.0))
    )
    limit = 2.0 * STEEPEST_DB_PER_KM
    if slope - 2.0 * error > limit and slope * size * km_per_sample > 0.05:
        return "tail"
    return "fibre" if slope + 2.0 * error < limit else "unknown"


def _rough_end(
    samples_db: Array,
    peaks: list[Reflection],
    span: tuple[int, int],
    scale: tuple[float, float],
) -> int | None:
    """Number of the reflection behind which only receiver and noise are left."""
    natures = []
    for number, peak in enumerate(peaks):
        later = peaks[number + 1].foot if number + 1 < len(peaks) else span[1]
        natures.append(_nature(samples_db, (peak.settled, later), scale))
    fibre = [number for number, nature in enumerate(natures) if nature == "fibre"]
    after = fibre[-1] + 1 if fibre else 0
    if after >= len(peaks):
        return None
    tails = [k for k in range(after, len(peaks)) if natures[k] == "tail"]
    if tails:
        return tails[0]
    full = [k for k in range(after, len(peaks)) if peaks[k].saturated]
    return full[0] if full else len(peaks) - 1


def _plain_end(trace_db: Array, trace: Trace, pulse: float) -> Mark | None:
    """An end without reflection: where the level leaves its line for good."""
    width = max(3, int(trace.footprint))
    guard = max(trace.start + 8, trace.stop - 6 * width - 12)
    if guard - trace.start < 8:
        return None
    line = trace.sums.fit(max(trace.start, guard - 60 * width), guard)
    stop = min(len(trace_db), trace.stop + 4 * width)
    place = np.arange(guard, stop, dtype=float)
    expected = line.level_db + line.slope * (place - line.centre)
    power = 10.0 ** (-(trace_db[guard:stop] - expected) / 5.0)
    low = np.convolve(power, np.ones(width) / width, mode="valid") < 0.5
    stays = np.flatnonzero(np.cumprod(low[::-1])[::-1])
    if len(stays) < width // 2 + 1:
        return None
    middle = guard + int(stays[0]) + width / 2.0
    place_at = middle - pulse / 2.0
    left = int(place_at - max(2.0, 0.5 * width))
    return Mark(left=left, right=len(trace_db), place=float(place_at))


def template_footprint(pulse: float, peaks: Sequence[Reflection]) -> float:
    """Length of ramps and peaks as the receiver really makes them.

    Parameters
    ----------
    pulse : float
        Nominal pulse, in samples [1]
    peaks : sequence of Reflection
        Reflections of the same trace [dB]

    Returns
    -------
    footprint : float
        In samples, never shorter than the nominal pulse [1]
    """
    widths = [
        peak.width
        for peak in peaks
        if not peak.saturated and peak.height_db > 0.5 and peak.width > 0.0
    ]
    if not widths:
        return max(pulse, 1.0)
    return float(np.clip(np.quantile(widths, 0.25), max(pulse, 1.0), 3.0 * pulse + 4.0))


def _corrected(samples_db: Array, noise: NoiseMap) -> Array:
    """Stored axis less the bias of the logarithm near the noise."""
    time_db2 = np.maximum(noise.sample_db2 - noise.pattern_db2, 0.0)
    ratio = np.minimum(time_db2 / DB_PER_NEPER**2, 0.09)
    return np.asarray(samples_db[: noise.stop] - 0.5 * DB_PER_NEPER * ratio)


def detect(
    samples_db: Array, *, pulse: float, spacing_m: float, wavelength_nm: float
) -> Detection:
    """Find everything that the trace can show.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    pulse : float
        Nominal pulse, in samples [1]
    spacing_m : float
        Sample spacing [m]
    wavelength_nm : float
        Wavelength [nm]

    Returns
    -------
    detection : Detection
        Marks in samples, with the noise they were judged by [dB]
    """
    rough = max(pulse, 1.0)
    floor = noise_floor(samples_db, rough)
    stop = usable_stop(samples_db, floor, int(rough / 2.0))
    deviation = local_deviation_db(samples_db[: max(stop, 8)], int(np.ceil(rough)) + 2)
    full = saturation_level_db(samples_db)
    tilt = STEEPEST_DB_PER_KM / 3.0 * spacing_m / 1000.0
    launch = launch_settled(samples_db, deviation, footprint=rough, tilt_db=tilt)
    launch = min(launch, stop)
    peaks = find_reflections(
        samples_db, deviation, footprint=rough, span=(launch, stop), full_db=full,
        tilt_db=tilt,
    )  # fmt: skip
    scale = (rough, spacing_m / 1000.0)
    number = _rough_end(samples_db, peaks, (launch, stop), scale)
    beyond: tuple[Reflection, ...] = ()
    end = None
    if number is not None:
        last = peaks[number]
        beyond = tuple(peaks[number + 1 :])
        stop, end = max(last.foot, launch), _mark(last)
        peaks = peaks[:number]
    footprint = template_footprint(pulse, peaks)
    prior = slope_prior(wavelength_nm, spacing_m)
    noise = _measured(samples_db, (launch, stop), footprint, floor)
    trace = _prepared(samples_db, noise, footprint, prior)
    trace = replace(trace, start=launch)
    if end is None:
        end = _plain_end(samples_db, trace, pulse)
        if end is not None:
            trace = replace(trace, stop=max(end.left, launch))
    marks = [
        _mark(peak)
        for peak in peaks
        if peak.foot < trace.stop
        and peak.height_db > 6.0 * np.sqrt(noise.sample_db2[peak.foot])
    ]
    trace, marks = _with_steps(trace, _with_weak(trace, marks))
    residual = _residual(trace, marks)
    noise = _measured(samples_db, (launch, stop), footprint, floor, residual)
    second = _prepared(samples_db, noise, footprint, prior)
    trace = replace(second, start=trace.start, stop=trace.stop)
    trace, marks = _with_steps(trace, prune(trace, marks))
    return Detection(
        trace=trace,
        noise=noise,
        marks=tuple(marks),
        end=end,
        beyond=beyond,
        launch=launch,
    )


def _measured(
    samples_db: Array,
    span: tuple[int, int],
    footprint: float,
    floor: Floor,
    residual_db: Array | None = None,
) -> NoiseMap:
    """Noise of the fibre only; samples in the dead zone at the port copy the next."""
    start, stop = span
    noise = noise_map(
        samples_db[start:],
        footprint=footprint,
        stop=max(stop - start, 0),
        floor=floor,
        residual_db=None if residual_db is None else residual_db[start:],
    )
    if len(noise.sample_db2) == 0:
        flat = np.full(start, 1e-4)
        return replace(noise, sample_db2=flat, long_run_db2=flat, stop=start)
    return replace(
        noise,
        sample_db2=np.pad(noise.sample_db2, (start, 0), mode="edge"),
        long_run_db2=np.pad(noise.long_run_db2, (start, 0), mode="edge"),
        stop=noise.stop + start,
    )


def _residual(trace: Trace, marks: Sequence[Mark]) -> Array:
    """Samples less their lines; NaN where an event hides the fibre."""
    residual = np.full(len(trace.samples_db), np.nan)
    for line in section_lines(trace, marks):
        place = np.arange(line.start, line.stop)
        fitted = line.level_db + line.slope * (place - line.centre)
        residual[line.start : line.stop] = trace.samples_db[place] - fitted
    return residual


def _prepared(
    samples_db: Array, noise: NoiseMap, footprint: float, prior: SlopePrior
) -> Trace:
    values = _corrected(samples_db, noise)
    return Trace(
        samples_db=samples_db[: noise.stop],
        variance_db2=noise.long_run_db2,
        sums=LineSums(values, noise.long_run_db2, prior),
        footprint=footprint,
        start=0,
        stop=noise.stop,
    )


def _mark(peak: Reflection) -> Mark:
    return Mark(
        left=max(peak.foot - 1, 0), right=peak.settled, place=peak.edge, reflection=peak
    )


def _segments(trace: Trace, marks: Sequence[Mark]) -> list[tuple[int, int]]:
    return [(low, high) for low, high in section_bounds(trace, marks) if high > low]


def _with_weak(trace: Trace, marks: list[Mark]) -> list[Mark]:
    weak = find_weak_reflections(
        trace.samples_db,
        trace.variance_db2,
        _segments(trace, marks),
        footprint=trace.footprint,
        slope_db=trace.sums.prior.slope,
    )
    marks = [*marks, *(_mark(peak) for peak in weak)]
    return sorted(marks, key=lambda mark: mark.place)


def _port(start: int) -> Mark:
    """The instrument's own reflection, whose tail lies on the first section."""
    peak = Reflection(
        foot=0, apex=0, edge=0.0, width=0.0, top_stop=0, settled=start,
        height_db=0.0, saturated=False,
    )  # fmt: skip
    return Mark(left=-1, right=start, place=-1.0, reflection=peak)


def _with_steps(trace: Trace, marks: list[Mark]) -> tuple[Trace, list[Mark]]:
    """Add steps between the reflections, place them, and drop what was a tail."""
    test = StepTest(
        before=1 + round(0.2 * trace.footprint),
        after=int(np.ceil(1.2 * trace.footprint)) + 1,
        shortest=max(4, int(np.ceil(trace.footprint / 2.0))),
    )
    found = find_steps(trace.sums, _segments(trace, marks), test)
    steps = [_step_mark(place, test, ratio) for place, ratio in found]
    marks = sorted([*marks, *steps], key=lambda mark: mark.place)
    port, *marks = _without_tails(trace, [_port(trace.start), *_joined(trace, marks)])
    trace = replace(trace, start=port.right)
    marks = prune(trace, marks)
    return trace, prune(trace, _joined(trace, _placed(trace, marks, test)))


def _joined(trace: Trace, marks: list[Mark]) -> list[Mark]:
    """Marks without room for a line between them are judged together."""
    room = max(3, int(np.ceil(trace.footprint / 2.0)))
    joined: list[Mark] = []
    start = trace.start
    for mark in marks:
        if mark.reflection is None and (
            (mark.left - start < room and not joined) or trace.stop - mark.right < room
        ):
            continue
        if joined and mark.left - joined[-1].right < room:
            joined[-1] = _together(joined[-1], mark)
        else:
            joined.append(mark)
        start = joined[-1].right
    return joined


def _together(first: Mark, second: Mark) -> Mark:
    """One mark for two; the position is that of the first reflection."""
    lead = first
    if first.reflection is None and second.reflection is not None:
        lead = second
    step = second.reflection is None and first.reflection is None
    return replace(
        lead,
        left=min(first.left, second.left),
        right=max(first.right, second.right),
        others=(
            *first.others,
            *second.others,
            second.place if lead is first else first.place,
        ),
        significance=max(first.significance, second.significance, key=abs)
        if step
        else 0.0,
    )


def _step_mark(place: float, test: StepTest, ratio: float) -> Mark:
    return Mark(
        left=int(np.floor(place)) - test.before,
        right=int(np.ceil(place)) + test.after,
        place=float(place),
        significance=ratio,
    )


def _placed(trace: Trace, marks: list[Mark], test: StepTest) -> list[Mark]:
    lines = section_lines(trace, marks)
    placed = []
    for number, mark in enumerate(marks):
        if mark.reflection is None:
            place, _ = ramp_place(trace, mark, (lines[number], lines[number + 1]))
            mark = _step_mark(place, test, mark.significance)
        placed.append(mark)
    return sorted(placed, key=lambda mark: mark.place)


def _without_tails(trace: Trace, marks: list[Mark]) -> list[Mark]:
    """Steps behind a reflection that its own tail explains better are no events."""
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
            gain, amplitude, _, _ = tail_fit(trace, mark.right, later, step=step)
            if gain < -4.0 or amplitude <= 0.0:
                break
            queue.pop(0)
        stop = queue[0].left if queue else trace.stop
        kept[-1] = _behind_tail(trace, mark, stop)
    return kept


def _behind_tail(trace: Trace, mark: Mark, stop: int) -> Mark:
    """Move the start of the next section to where the tail no longer matters."""
    if stop - mark.right < 16:
        return mark
    _, amplitude, sigma, decay = tail_fit(trace, mark.right, stop)
    if amplitude < 2.5 * sigma or amplitude <= 0.0:
        return mark
    room = stop - mark.right
    level = float(np.sqrt(trace.variance_db2[mark.right] * 4.0 / room))
    skip = decay * np.log(max(amplitude / max(0.3 * level, 5e-4), 1.0))
    return replace(mark, right=mark.right + int(min(skip, 0.6 * room)))
