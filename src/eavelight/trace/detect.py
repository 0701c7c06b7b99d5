"""All marks of one trace: launch, reflections, end of the fibre, steps, tails."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.backscatter import pulse_footprint_m
from eavelight.trace.ends import STEEPEST_DB_PER_KM, last_reflection, plain_end
from eavelight.trace.falls import half_power_place, has_fibre, without_glow
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
from eavelight.trace.tails import late_start, without_tails

Array = NDArray[np.float64]

ATTENUATION_DB_PER_KM = {1310: 0.33, 1490: 0.22, 1550: 0.20, 1625: 0.21, 1650: 0.23}
"""Ordinary attenuation of single-mode fibre: the centre of the slope prior."""

ATTENUATION_U_DB_PER_KM = 0.12


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Survey:
    """First look: noise behind the fibre, strong reflections, a reflecting end."""

    floor: Floor
    launch: int
    stop: int
    peaks: tuple[Reflection, ...]
    end: Mark | None
    beyond: tuple[Reflection, ...]
    scale: tuple[float, float, float]


def _survey(samples_db: Array, pulse: float, spacing_m: float) -> _Survey:
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
    number = last_reflection(samples_db, peaks, (launch, stop), scale)
    beyond: tuple[Reflection, ...] = ()
    end = None
    if number is not None:
        last = peaks[number]
        beyond = tuple(peaks[number + 1 :])
        stop, end = max(last.foot, launch), _mark(last)
        peaks = peaks[:number]
    return _Survey(
        floor=floor,
        launch=launch,
        stop=stop,
        peaks=tuple(peaks),
        end=end,
        beyond=beyond,
        scale=scale,
    )


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
    seen = _survey(samples_db, pulse, spacing_m)
    launch, stop, end = seen.launch, seen.stop, seen.end
    samples_db = _filled(samples_db, seen.floor, stop)
    footprint = template_footprint(pulse, seen.peaks)
    prior = slope_prior(wavelength_nm, spacing_m)
    noise = _measured(samples_db, (launch, stop), footprint, seen.floor)
    trace = _prepared(samples_db, noise, footprint, prior)
    per_ns = pulse_footprint_m(1.0, 1.468) / spacing_m
    trace = replace(trace, start=launch, ns=per_ns)
    if end is None:
        end = plain_end(samples_db, trace, pulse, seen.scale)
        if end is not None and has_fibre(trace, end, _behind(seen.peaks, end)):
            end = None
        if end is not None:
            trace = replace(trace, stop=min(max(end.left, launch), trace.stop))
    marks = [
        _mark(peak)
        for peak in seen.peaks
        if peak.foot < trace.stop
        and peak.height_db > 6.0 * np.sqrt(noise.sample_db2[peak.foot])
    ]
    trace, marks, dark = _with_steps(trace, _with_weak(trace, marks), first=4.0)
    residual = _residual(trace, marks)
    noise = _measured(samples_db, (launch, stop), footprint, seen.floor, residual)
    second = _prepared(samples_db, noise, footprint, prior)
    trace = replace(second, start=launch, stop=trace.stop, ns=per_ns)
    trace, marks, later = _with_steps(
        trace, prune(trace, marks), first=1.0, known=marks
    )
    dark = later or dark
    if dark is not None and end is None:
        end = replace(dark, right=len(samples_db))
    return Detection(
        trace=late_start(trace, marks),
        noise=noise,
        marks=tuple(marks),
        end=end,
        beyond=seen.beyond,
        launch=launch,
    )


def _behind(peaks: Sequence[Reflection], end: Mark) -> list[Mark]:
    return [_mark(peak) for peak in peaks if peak.foot > end.place]


def _filled(samples_db: Array, floor: Floor, stop: int) -> Array:
    """Clamped samples inside the fibre are missing, not dark: bridge them."""
    if floor.clamp_db is None:
        return samples_db
    lost = samples_db >= floor.clamp_db - 1e-9
    lost[stop:] = False
    if not np.any(lost) or np.all(lost[:stop]):
        return samples_db
    index = np.arange(len(samples_db))
    return np.where(lost, np.interp(index, index[~lost], samples_db[~lost]), samples_db)


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
    return residual if trace.gain is None else residual / trace.gain


def _prepared(
    samples_db: Array, noise: NoiseMap, footprint: float, prior: SlopePrior
) -> Trace:
    values = _corrected(samples_db, noise)
    return Trace(
        samples_db=samples_db[: noise.stop],
        unbiased_db=values,
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


def _with_steps(
    trace: Trace, marks: list[Mark], *, first: float, known: Sequence[Mark] = ()
) -> tuple[Trace, list[Mark], Mark | None]:
    """Add steps between the reflections, place them, and drop what was a tail.

    The last answer is the fall behind which only the receiver is left, if there is one.
    """
    test = StepTest(
        before=1 + round(0.2 * trace.footprint),
        after=int(np.ceil(1.2 * trace.footprint)) + 1,
        shortest=max(4, int(np.ceil(trace.footprint / 2.0))),
        first=max(4, int(np.ceil(first * trace.footprint))),
    )
    found = find_steps(trace.sums, _segments(trace, marks), test)
    steps = [_step_mark(place, test, ratio) for place, ratio in found]
    marks = sorted([*marks, *steps], key=lambda mark: mark.place)
    port, *marks = without_tails(trace, [_port(trace.start), *_joined(trace, marks)])
    trace = replace(trace, start=port.right, tail=port.tail)
    cleared = without_glow(trace, prune(trace, marks), test, known)
    trace, marks = cleared.trace, cleared.marks
    marks = prune(trace, _joined(trace, _placed(trace, marks, test)))
    return trace, marks, cleared.dark


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
            around = (lines[number], lines[number + 1])
            found = half_power_place(trace, mark, around)
            place, sigma = found or ramp_place(trace, mark, around)
            fresh = _step_mark(place, test, mark.significance)
            right = max(fresh.right, mark.right) if mark.tail[0] > 0.0 else fresh.right
            mark = replace(
                fresh, place_u=sigma, right=right, tail=mark.tail,
                level_u_db=mark.level_u_db,
            )  # fmt: skip
        placed.append(mark)
    return sorted(placed, key=lambda mark: mark.place)
