"""All marks of one trace: launch, reflections, end of the fibre, steps, tails."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.backscatter import pulse_footprint_m
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
    NO_TAIL,
    TAIL_U_DB,
    Mark,
    Trace,
    prune,
    ramp_place,
    section_bounds,
    section_lines,
    tail_fit,
    tail_size_db,
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
    if lag < 2 or size < 2.0 * footprint + 6.0:
        return "unknown"
    whole = samples_db[start:stop]
    if float(np.median(whole)) > dark_db:
        return "unknown"
    # the tail of a connector dies away before the next event, that of the end does not
    values = whole[size // 2 :] if size > 8.0 * footprint + 24.0 else whole
    size = len(values)
    lag = size // 5
    limit = 2.0 * STEEPEST_DB_PER_KM * km_per_sample
    slope, error = _slope(values, footprint)
    if slope < -limit:
        return "unknown"
    if slope + 2.0 * error < limit:
        return "fibre"
    if slope - 2.0 * error < limit or slope * size < 0.05:
        return "unknown"
    falls = values[lag:] - values[:-lag]
    typical = float(np.median(falls)) / lag
    noise = float(np.median(np.abs(falls - np.median(falls))))
    doubt = noise / lag * 1.8 / np.sqrt(max(1.0, size / footprint / 5.0))
    if typical - doubt > limit:
        return "tail" if float(whole[-lag:].mean() - whole[:lag].mean()) > 1.0 else "steep"
    return "fibre" if typical + 2.0 * doubt < limit else "unknown"


def _rough_end(
    samples_db: Array,
    peaks: list[Reflection],
    span: tuple[int, int],
    scale: tuple[float, float, float],
) -> int | None:
    """Number of the reflection behind which only receiver and noise are left."""
    natures = []
    for number, peak in enumerate(peaks):
        later = peaks[number + 1].foot if number + 1 < len(peaks) else span[1]
        natures.append(_nature(samples_db, (peak.settled, later), scale))
    lit = [
        k
        for k, peak in enumerate(peaks)
        if samples_db[peak.foot] < scale[2] or samples_db[peak.apex] < scale[2] - 6.0
    ]
    if not lit:
        return None
    last = min(natures.index("tail"), lit[-1]) if "tail" in natures else lit[-1]
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


def _goes_on(samples_db: Array, peak: Reflection, stop: int, nature: str) -> bool:
    """Whether the level behind the last reflection is still that of fibre."""
    if nature in {"tail", "steep"} or stop - peak.settled < 8:
        return False
    before = float(np.median(samples_db[max(0, peak.foot - 8) : peak.foot + 1]))
    behind = samples_db[peak.settled : peak.settled + 8]
    calm = float(np.ptp(behind)) < 1.5
    return calm and float(np.median(behind)) - before < 3.0


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
    dark = np.inf if floor.rms_db is None else floor.rms_db - 4.0
    scale = (rough, spacing_m / 1000.0, dark)
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
    per_ns = pulse_footprint_m(1.0, 1.468) / spacing_m
    trace = replace(trace, start=launch, ns=per_ns)
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
    trace = replace(
        second, start=trace.start, stop=trace.stop, ns=per_ns, tail=trace.tail
    )
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
        first=max(4, int(np.ceil(trace.footprint))),
    )
    found = find_steps(trace.sums, _segments(trace, marks), test)
    steps = [_step_mark(place, test, ratio) for place, ratio in found]
    marks = sorted([*marks, *steps], key=lambda mark: mark.place)
    port, *marks = _without_tails(trace, [_port(trace.start), *_joined(trace, marks)])
    trace = replace(trace, start=port.right, tail=port.tail)
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
            size = tail_size_db(mark.reflection)
            gain, amplitude, _, _ = tail_fit(
                trace, (mark.right, later), size, step=step
            )
            if gain < 0.0 or amplitude <= 0.0:
                break
            queue.pop(0)
        stop = queue[0].left if queue else trace.stop
        kept[-1] = _behind_tail(trace, mark, stop)
    return kept


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
