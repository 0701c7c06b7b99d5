"""One trace in, everything it shows out, each number with its uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.trace.backscatter import (
    BACKSCATTER_U_DB,
    pulse_footprint_m,
    reflectance_db,
    typical_backscatter_db,
)
from eavelight.trace.detect import Detection, detect
from eavelight.trace.kinds import LOSSLESS_DB, event_kind, is_echo
from eavelight.trace.lines import Line
from eavelight.trace.orl import trace_return_loss_db
from eavelight.trace.refine import (
    Mark,
    linear_line,
    section_lines,
    step_between,
    tail_size_db,
)
from eavelight.trace.reflections import Reflection
from eavelight.trace.results import Event, Section, TraceAnalysis

Array = NDArray[np.float64]

INDEX_U = 2e-4
"""Standard uncertainty of a group index taken from a table."""

STATED_BACKSCATTER_U_DB = 0.5
SHELF_TAILS = 1.5
"""A shelf behind a peak is a second part where it is larger than its tail may be."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Setting:
    samples_db: Array
    spacing_m: float
    pulse_ns: float
    wavelength_nm: float
    group_index: float
    backscatter_db: float
    backscatter_u_db: float
    found: Detection
    lines: list[Line]

    @property
    def footprint_m(self) -> float:
        return pulse_footprint_m(self.pulse_ns, self.group_index)


def analyse(
    samples_db: ArrayLike,
    *,
    sample_spacing_m: float,
    pulse_ns: float,
    wavelength_nm: float,
    group_index: float = 1.468,
    backscatter_db: float | None = None,
    lead_m: float = 0.0,
    tail_m: float = 0.0,
) -> TraceAnalysis:
    """Events, sections, totals and noise of one backscatter trace.

    Parameters
    ----------
    samples_db : array_like of shape (N,)
        Trace on the attenuation axis, first sample at the port [dB]
    sample_spacing_m : float
        Distance between samples, one way [m]
    pulse_ns : float
        Pulse width [ns]
    wavelength_nm : float
        Wavelength [nm]
    group_index : float, optional
        Group index that made the spacing [1]
    backscatter_db : float, optional
        Two-way backscatter of a one-nanosecond pulse; typical if absent [dB]
    lead_m : float, optional
        Length of the launch lead, 0 if there is none [m]
    tail_m : float, optional
        Length of the receive lead, 0 if there is none [m]

    Returns
    -------
    analysis : TraceAnalysis
        Positions [m], losses and levels in decibels

    Examples
    --------
    >>> y = 8.0 + 0.33e-3 * np.arange(0.0, 3000.0)
    >>> y[2000:] = 65.535
    >>> round(analyse(y, sample_spacing_m=1.0, pulse_ns=100.0,
    ...               wavelength_nm=1310).length_m / 100.0)
    20
    """
    values = _checked(samples_db, sample_spacing_m, pulse_ns)
    if backscatter_db is not None and not -95.0 < backscatter_db < -65.0:
        backscatter_db = None  # an empty field of the record
    pulse = pulse_footprint_m(pulse_ns, group_index) / sample_spacing_m
    found = detect(
        values, pulse=pulse, spacing_m=sample_spacing_m, wavelength_nm=wavelength_nm
    )
    lines = [
        linear_line(found.trace, item)
        for item in section_lines(found.trace, found.marks)
    ]
    typical = typical_backscatter_db(wavelength_nm)
    setting = _Setting(
        samples_db=values,
        spacing_m=sample_spacing_m,
        pulse_ns=pulse_ns,
        wavelength_nm=wavelength_nm,
        group_index=group_index,
        backscatter_db=typical if backscatter_db is None else backscatter_db,
        backscatter_u_db=(
            BACKSCATTER_U_DB if backscatter_db is None else STATED_BACKSCATTER_U_DB
        ),
        found=found,
        lines=lines,
    )
    return _assembled(setting, _leads(setting, lead_m, tail_m), backscatter_db is None)


def _checked(samples_db: ArrayLike, sample_spacing_m: float, pulse_ns: float) -> Array:
    values = np.array(samples_db, dtype=float)
    if values.ndim != 1 or len(values) < 16:
        raise ValueError(
            f"samples_db must hold at least 16 samples, got {values.shape}"
        )
    if not np.all(np.isfinite(values)):
        raise ValueError("samples_db must be finite")
    if not sample_spacing_m > 0.0 or not pulse_ns > 0.0:
        raise ValueError(
            f"sample_spacing_m and pulse_ns must be positive, got {sample_spacing_m}, "
            f"{pulse_ns}"
        )
    return values


@dataclass(frozen=True, slots=True, kw_only=True)
class _Span:
    """The line under test: marks inside, samples of its ends, what was missing."""

    first: int
    stop: int
    zero: float
    finish: float | None
    lead_m: float
    tail_m: float
    notes: tuple[str, ...]


def _nearest(marks: Sequence[Mark], place: float, tolerance: float) -> int | None:
    """Mark nearest to a place; a reflection wins over a step."""
    close = [k for k, mark in enumerate(marks) if abs(mark.place - place) < tolerance]
    if not close:
        return None
    return min(
        close, key=lambda k: (marks[k].reflection is None, abs(marks[k].place - place))
    )


def _leads(setting: _Setting, lead_m: float, tail_m: float) -> _Span:
    """Find the connectors at the ends of the leads and cut the leads off."""
    found, spacing = setting.found, setting.spacing_m
    marks = found.marks
    notes: list[str] = []
    first, zero = 0, 0.0
    if lead_m > 0.0:
        margin = 0.03 * lead_m + 2.0 * setting.footprint_m + 2.0
        number = _nearest(marks, lead_m / spacing, margin / spacing)
        if number is None:
            zero = lead_m / spacing
            first = sum(mark.place < zero for mark in marks)
            notes.append(
                "no event at the end of the launch lead: first connector not measured"
            )
        else:
            first, zero = number, marks[number].place
    else:
        notes.append("no launch lead: the connector at the port cannot be measured")
    end = None if found.end is None else found.end.place
    stop, finish = len(marks), end
    if tail_m > 0.0 and end is not None:
        margin = 0.03 * tail_m + 2.0 * setting.footprint_m + 2.0
        number = _nearest(marks, end - tail_m / spacing, margin / spacing)
        if number is None or number < first:
            finish = end - tail_m / spacing
            stop = sum(mark.place < finish for mark in marks)
            notes.append("no event at the receive lead: last connector not measured")
        else:
            stop, finish = number + 1, marks[number].place
    elif end is not None:
        notes.append("no receive lead: the last connector cannot be measured")
    if end is None:
        notes.append("end of the fibre not seen")
    return _Span(
        first=first, stop=stop, zero=zero, finish=finish,
        lead_m=lead_m, tail_m=tail_m, notes=tuple(notes),
    )  # fmt: skip


def _assembled(setting: _Setting, span: _Span, assumed: bool) -> TraceAnalysis:  # noqa: FBT001
    found = setting.found
    events = _events(setting, span)
    loss, loss_u = _total(setting, span)
    notes = list(span.notes)
    if assumed:
        notes.append(f"typical backscatter {setting.backscatter_db:.1f} dB used")
    if any(event.reflectance_is_bound for event in events):
        notes.append("receiver full at a reflection: its reflectance is a lower bound")
    length = None
    length_u = None
    if span.finish is not None:
        length = (span.finish - span.zero) * setting.spacing_m
        length_u = float(np.hypot(0.5 * setting.spacing_m, INDEX_U / 1.468 * length))
    return TraceAnalysis(
        wavelength_nm=setting.wavelength_nm,
        pulse_ns=setting.pulse_ns,
        group_index=setting.group_index,
        sample_spacing_m=setting.spacing_m,
        backscatter_db=setting.backscatter_db,
        events=tuple(events),
        sections=tuple(_sections(setting, span)),
        length_m=length,
        length_u_m=length_u,
        loss_db=loss,
        loss_u_db=loss_u,
        orl_db=_orl(setting),
        noise_floor_db=found.noise.floor.p98_db,
        points=len(setting.samples_db),
        notes=tuple(notes),
        lead_m=span.lead_m,
        tail_m=span.tail_m,
        zero_m=span.zero * setting.spacing_m,
        samples_db=setting.samples_db,
        noise=found.noise,
        found=found,
        lines=tuple(setting.lines),
    )


def _events(setting: _Setting, span: _Span) -> list[Event]:
    found = setting.found
    events = [_launch(setting, span)]
    ghosts = _echoes(setting)
    hidden = _hidden(setting)
    events += [
        _event(setting, span, number, ghost=number in ghosts, hidden=hidden)
        for number in range(span.first, span.stop)
    ]
    if found.end is not None:
        events.append(_end(setting, span))
    return events


def _launch(setting: _Setting, span: _Span) -> Event:
    level = setting.lines[0].at(0.0)
    top = float(np.min(setting.samples_db[: max(setting.found.launch, 1)]))
    spacing = setting.spacing_m
    return Event(
        position_m=-span.zero * spacing,
        position_u_m=spacing,
        kind="launch",
        reflective=bool(level - top > 0.3),
        loss_db=None,
        loss_u_db=None,
        reflectance_db=None,
        reflectance_u_db=None,
        reflectance_is_bound=False,
        merged=False,
        start_m=-span.zero * spacing,
        end_m=(setting.found.trace.start - span.zero) * spacing,
    )


def _reflectors(setting: _Setting) -> list[tuple[float, float]]:
    """Position and top level of each reflection, the port first."""
    seen = [(0.0, float("-inf"))]
    marks = list(setting.found.marks)
    if setting.found.end is not None:
        marks.append(setting.found.end)
    for mark in marks:
        if mark.reflection is not None:
            top = float(setting.samples_db[mark.reflection.apex])
            seen.append((mark.place * setting.spacing_m, top))
    return seen


def _echoes(setting: _Setting) -> set[int]:
    """Numbers of the marks that are echoes: lossless, weak, in the right place."""
    seen = _reflectors(setting)
    tolerance = 0.5 * setting.footprint_m + setting.spacing_m
    ghosts = set()
    for number, mark in enumerate(setting.found.marks):
        if mark.reflection is None:
            continue
        loss, sigma = step_between(
            setting.lines[number], setting.lines[number + 1], mark.place
        )
        if abs(loss) > max(2.5 * sigma, LOSSLESS_DB):
            continue
        own = float(setting.samples_db[mark.reflection.apex])
        stronger = [place for place, top in seen if top < own - 1.0]
        position = mark.place * setting.spacing_m
        if is_echo(position, stronger, tolerance_m=tolerance):
            ghosts.add(number)
    return ghosts


def _reflectance(
    setting: _Setting, peak: Reflection, line: Line
) -> tuple[float | None, float | None]:
    height = peak.height_db
    if height > 0.6 and line.weight > 0.0:
        height = line.at(float(peak.foot)) - float(setting.samples_db[peak.apex])
    if height <= 0.0:
        return None, None
    value = reflectance_db(height, setting.backscatter_db, setting.pulse_ns)
    index = int(np.clip(peak.foot, 0, len(setting.found.noise.sample_db2) - 1))
    sigma = float(np.sqrt(setting.found.noise.sample_db2[index]))
    grown = 10.0 ** (height / 5.0)
    return value, float(
        np.hypot(setting.backscatter_u_db, 2.0 * grown / (grown - 1.0) * sigma)
    )


def _event(
    setting: _Setting, span: _Span, number: int, *, ghost: bool, hidden: set[int]
) -> Event:
    found, spacing = setting.found, setting.spacing_m
    mark = found.marks[number]
    before, after = setting.lines[number], setting.lines[number + 1]
    loss, loss_u = step_between(before, after, mark.place)
    known = bool(np.isfinite(loss_u))
    peak = mark.reflection
    level, level_u = (
        (None, None) if peak is None else _reflectance(setting, peak, before)
    )
    kind = "ghost" if ghost else event_kind(
        loss if known else None, loss_u_db=loss_u if known else 0.0,
        reflective=peak is not None, wavelength_nm=setting.wavelength_nm,
    )  # fmt: skip
    return Event(
        position_m=(mark.place - span.zero) * spacing,
        position_u_m=_place_u(setting, mark, span),
        kind=kind,
        reflective=peak is not None,
        loss_db=loss if known else None,
        loss_u_db=loss_u if known else None,
        reflectance_db=level,
        reflectance_u_db=level_u,
        reflectance_is_bound=peak is not None and peak.saturated,
        merged=bool(mark.others) or number in hidden,
        start_m=(mark.left - span.zero) * spacing,
        end_m=(mark.right - span.zero) * spacing,
    )


def _shelf(setting: _Setting, number: int) -> tuple[float, float] | None:
    """Level left between a peak and the fibre behind it, with its error."""
    mark, trace = setting.found.marks[number], setting.found.trace
    after, peak = setting.lines[number + 1], mark.reflection
    if peak is None or peak.saturated or after.weight <= 0.0:
        return None
    width = max(peak.width, trace.footprint)
    start = int(np.ceil(peak.edge + width + 0.35 * trace.footprint)) + 1
    stop = start + max(2, round(0.5 * trace.footprint))
    if stop >= trace.stop:
        return None
    place = np.arange(start, stop)
    shelf = after.at(float(place.mean())) - float(np.mean(trace.samples_db[place]))
    noise = trace.variance_db2[start] / len(place) + after.variance(float(start))
    return shelf, float(np.sqrt(noise))


def _hidden(setting: _Setting) -> set[int]:
    """Reflections too wide, or with a shelf behind them that no tail explains.

    What every peak of the trace shows in proportion to its power is the receiver.
    """
    wide: set[int] = set()
    shelves: dict[int, tuple[float, float, float, float]] = {}
    for number, mark in enumerate(setting.found.marks):
        peak = mark.reflection
        if peak is None or peak.saturated:
            continue
        if peak.width > 1.6 * setting.found.trace.footprint + 1.0:
            wide.add(number)
        seen = _shelf(setting, number)
        if seen is not None:
            power = float(10.0 ** (peak.height_db / 5.0))
            shelves[number] = (seen[0], seen[1], power, tail_size_db(peak))
    shares = [max(shelf / power, 0.0) for shelf, _, power, _ in shelves.values()]
    common = 2.0 * min(shares) if len(shares) > 1 else 0.0
    for number, (shelf, noise, power, size) in shelves.items():
        if shelf > max(common * power, SHELF_TAILS * size, 3.5 * noise, 0.03):
            wide.add(number)
    return wide


def _place_u(setting: _Setting, mark: Mark, span: _Span) -> float:
    """Sampling, noise and index; index errors cancel up to the zero of the axis."""
    spacing = setting.spacing_m
    distance = abs(mark.place - span.zero) * spacing
    index = INDEX_U / setting.group_index * distance
    if mark.reflection is None:
        return float(np.hypot(mark.place_u * spacing, index))
    sampling = spacing / np.sqrt(12.0)
    edge = 0.05 * setting.found.trace.footprint * spacing
    return float(np.sqrt(sampling**2 + edge**2 + index**2))


def _end(setting: _Setting, span: _Span) -> Event:
    mark, spacing = setting.found.end, setting.spacing_m
    if mark is None:
        raise ValueError("the trace has no end")
    peak = mark.reflection
    before = setting.lines[-1]
    level, level_u = (
        (None, None) if peak is None else _reflectance(setting, peak, before)
    )
    return Event(
        position_m=(mark.place - span.zero) * spacing,
        position_u_m=_place_u(setting, mark, span)
        if peak is not None
        else float(np.hypot(0.15 * setting.footprint_m, spacing)),
        kind="end",
        reflective=peak is not None,
        loss_db=None,
        loss_u_db=None,
        reflectance_db=level,
        reflectance_u_db=level_u,
        reflectance_is_bound=peak is not None and peak.saturated,
        merged=False,
        start_m=(mark.left - span.zero) * spacing,
        end_m=(min(mark.right, len(setting.samples_db)) - span.zero) * spacing,
    )


def _sections(setting: _Setting, span: _Span) -> list[Section]:
    sections = []
    spacing = setting.spacing_m
    for number in range(span.first + (span.lead_m > 0.0), span.stop + 1):
        if number >= len(setting.lines):
            break
        line = setting.lines[number]
        if line.stop - line.start < 3 or (
            span.finish is not None and line.start >= span.finish
        ):
            continue
        sections.append(
            Section(
                from_m=(line.start - span.zero) * spacing,
                to_m=(line.stop - span.zero) * spacing,
                attenuation_db_per_km=line.slope / spacing * 1000.0,
                u=float(line.spread**-0.5) / spacing * 1000.0,
            )
        )
    return sections


def _total(setting: _Setting, span: _Span) -> tuple[float | None, float | None]:
    """Loss between the ends of the line, the connectors at measured leads included."""
    finish = span.finish
    if finish is None:
        return None, None
    start = setting.lines[span.first] if span.lead_m > 0.0 else setting.lines[0]
    has_tail = span.tail_m > 0.0 and span.stop < len(setting.lines)
    last = setting.lines[span.stop] if has_tail else setting.lines[-1]
    if start is last:
        loss = start.slope * (finish - span.zero)
        return loss, float(start.spread**-0.5 * (finish - span.zero))
    loss = last.at(finish) - start.at(span.zero)
    sigma = np.sqrt(start.variance(span.zero) + last.variance(finish))
    if not np.isfinite(sigma):
        return None, None
    return float(loss), float(sigma)


def _orl(setting: _Setting) -> float | None:
    """Return loss up to behind the end, the dead zone at the port replaced."""
    end = setting.found.end
    if end is None or setting.lines[0].weight <= 0.0:
        return None
    first = setting.lines[0]
    stop = min(
        len(setting.samples_db),
        int(end.place + 3.0 * setting.found.trace.footprint) + 4,
    )
    values = setting.samples_db[:stop].copy()
    blind = min(setting.found.trace.start, stop)
    values[:blind] = [first.at(float(place)) for place in range(blind)]
    return trace_return_loss_db(
        values,
        launch_level_db=first.at(0.0),
        backscatter_db=setting.backscatter_db,
        spacing_m=setting.spacing_m,
        group_index=setting.group_index,
    )
