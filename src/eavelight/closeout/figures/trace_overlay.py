"""Several traces over each other: events numbered, fit windows shaded, u as bars."""

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.closeout.figures.style import (
    FONT_PT,
    INK,
    Label,
    LabelPlacer,
    figure,
    margins,
    svg,
)

DASHES: tuple[tuple[float, ...], ...] = ((1, 0), (5, 2), (2, 1.5), (7, 2, 1.5, 2))
COLUMNS = 900
NUMBERED = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayEvent:
    """One event with its place and twice its standard uncertainty."""

    number: str
    position_m: float
    bar_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverlayTrace:
    """One trace; `windows_m` are the stretches from which sections were fitted."""

    label: str
    positions_m: NDArray[np.float64]
    samples_db: NDArray[np.float64]
    windows_m: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceOverlay:
    """Traces of one line on one axis, with the events of the first."""

    traces: tuple[OverlayTrace, ...]
    events: tuple[OverlayEvent, ...]
    x_label: str
    y_label: str
    from_m: float
    to_m: float


def trace_overlay(data: TraceOverlay, *, width_mm: float = 180.0) -> bytes:
    """The traces as SVG, told apart by dash and a label at the line."""
    with figure(width_mm=width_mm, height_mm=90.0) as (drawn, axes):
        margins(drawn, axes, left=15, bottom=13, right=6, top=4)
        shown = [_thinned(trace, data) for trace in data.traces]
        _axes(axes, data, shown)
        placer = LabelPlacer(axes)
        for number, (trace, (x, y)) in enumerate(zip(data.traces, shown, strict=True)):
            dashes = DASHES[number % len(DASHES)]
            style: dict[str, Any] = {} if dashes == (1, 0) else {"dashes": dashes}
            axes.plot(x, y, color=INK, linewidth=0.9, **style)
            placer.avoid_line(x[:: max(1, x.size // 400)], y[:: max(1, x.size // 400)])
            if number == 0:
                for first, last in trace.windows_m:
                    axes.axvspan(first, last, color=INK, alpha=0.08, lw=0)
        _events(axes, data, shown[0], placer)
        if len(data.traces) > 1:
            for trace, (x, y) in zip(data.traces, shown, strict=True):
                _name(trace, x, y, placer)
        return svg(drawn)


Line = tuple[NDArray[np.float64], NDArray[np.float64]]


def _thinned(trace: OverlayTrace, data: TraceOverlay) -> Line:
    """The shown stretch with the highest and lowest sample of every column."""
    inside = (trace.positions_m >= data.from_m) & (trace.positions_m <= data.to_m)
    x, y = trace.positions_m[inside], trace.samples_db[inside]
    if x.size <= 3 * COLUMNS:
        return x, y
    edges = np.linspace(0, x.size, COLUMNS + 1).astype(int)
    picked: list[int] = []
    for first, last in itertools.pairwise(edges):
        part = y[first:last]
        picked += sorted({first + int(part.argmax()), first + int(part.argmin())})
    return x[picked], y[picked]


def _axes(axes: Any, data: TraceOverlay, shown: list[Line]) -> None:
    low = min((float(y.min()) for _, y in shown if y.size), default=-1.0)
    high = max((float(y.max()) for _, y in shown if y.size), default=0.0)
    room = max(high - low, 1.0)
    axes.set_xlim(data.from_m, max(data.to_m, data.from_m + 1.0))
    axes.set_ylim(low - 0.06 * room, high + 0.22 * room)
    axes.set_xlabel(data.x_label)
    axes.set_ylabel(data.y_label)


def _events(axes: Any, data: TraceOverlay, line: Line, placer: LabelPlacer) -> None:
    """Numbered ticks over the first trace, each with its bar of uncertainty."""
    low, high = axes.get_ylim()
    x, y = line
    tick = 0.05 * (high - low)
    for event in data.events:
        if not data.from_m <= event.position_m <= data.to_m or not x.size:
            continue
        near = np.abs(x - event.position_m) <= 0.006 * (data.to_m - data.from_m)
        level = float(y[near].max()) if near.any() else float(y.max())
        axes.plot([event.position_m] * 2, [level, level + tick], color=INK, lw=1.1)
        bar = [event.position_m - event.bar_m, event.position_m + event.bar_m]
        axes.plot(bar, [level + tick] * 2, color=INK, lw=2.0)
        if len(data.events) <= NUMBERED:
            placer.place(
                Label(
                    text=event.number,
                    anchors=((event.position_m, level + tick),),
                    offsets=((0.0, 3.0), (0.0, 14.0), (8.0, 3.0), (-8.0, 3.0)),
                    size=FONT_PT,
                )
            )


def _name(
    trace: OverlayTrace, x: NDArray[np.float64], y: NDArray[np.float64], placer: Any
) -> None:
    """The label beside its line, at one of a few places."""
    if not x.size:
        return
    places = [round(share * (x.size - 1)) for share in (0.3, 0.15, 0.5, 0.7, 0.05)]
    placer.place(
        Label(
            text=trace.label,
            anchors=tuple((float(x[k]), float(y[k])) for k in places),
            size=FONT_PT - 0.5,
        )
    )
