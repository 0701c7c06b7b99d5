"""The trace: level against metres, events numbered in order."""

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

COLUMNS = 900
"""Columns of the plot: each keeps its highest and lowest sample."""
STAND = ((0.0, 2.0), (0.0, 13.0), (0.0, 24.0), (7.0, 2.0), (-7.0, 2.0))
LEAST_SHOWN_M = 1.0
NUMBERED = 40
"""Events beyond this many are drawn without a number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceMark:
    """One event in the plot; the table under it has the same number."""

    number: str
    position_m: float
    windows_m: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TracePlot:
    """Samples with the events that somebody found in them.

    `marks_label` says who found them, such as "events as stored"; `lead_m` is the end
    of the lead, `from_m` to `to_m` the stretch that is shown.
    """

    positions_m: NDArray[np.float64]
    samples_db: NDArray[np.float64]
    marks: tuple[TraceMark, ...]
    marks_label: str
    x_label: str
    y_label: str
    from_m: float
    to_m: float
    lead_m: float | None = None
    lead_label: str = ""


def trace_plot(data: TracePlot, *, width_mm: float = 150.0) -> bytes:
    """The trace as SVG."""
    narrow = width_mm < 110
    with figure(width_mm=width_mm, height_mm=86.0 if narrow else 74.0) as (drawn, axes):
        margins(drawn, axes, left=15, bottom=13, right=5, top=3)
        x, y = envelope(data)
        _axes(axes, data, y)
        placer = LabelPlacer(axes)
        axes.plot(x, y, color=INK, linewidth=0.8)
        placer.avoid_line(x[:: max(1, x.size // 400)], y[:: max(1, x.size // 400)])
        if data.lead_m is not None and data.from_m < data.lead_m < data.to_m:
            _lead(axes, data, placer)
        _marks(axes, data, placer, x, y)
        return svg(drawn)


def envelope(data: TracePlot) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The shown stretch with the highest and lowest sample of every column."""
    inside = (data.positions_m >= data.from_m) & (data.positions_m <= data.to_m)
    x, y = data.positions_m[inside], data.samples_db[inside]
    finite = np.isfinite(y)
    x, y = x[finite], y[finite]
    if x.size <= 3 * COLUMNS:
        return x, y
    edges = np.linspace(0, x.size, COLUMNS + 1).astype(int)
    picked: list[int] = []
    for first, last in itertools.pairwise(edges):
        part = y[first:last]
        picked += sorted({first + int(part.argmax()), first + int(part.argmin())})
    return x[picked], y[picked]


def _axes(axes: Any, data: TracePlot, y: NDArray[np.float64]) -> None:
    low, high = (float(y.min()), float(y.max())) if y.size else (-1.0, 0.0)
    room = max(high - low, 1.0)
    axes.set_xlim(data.from_m, max(data.to_m, data.from_m + LEAST_SHOWN_M))
    axes.set_ylim(low - 0.06 * room, high + 0.3 * room)
    axes.set_xlabel(data.x_label)
    axes.set_ylabel(data.y_label)


def _lead(axes: Any, data: TracePlot, placer: LabelPlacer) -> None:
    low, high = axes.get_ylim()
    axes.plot([data.lead_m] * 2, [low, high], color=INK, lw=1.0, dashes=(2, 2))
    placer.avoid_line([data.lead_m or 0.0] * 2, [low, high])
    placer.place(
        Label(
            text=data.lead_label,
            anchors=((data.lead_m or 0.0, low),),
            offsets=((4.0, 4.0), (-4.0, 4.0), (4.0, 16.0), (-4.0, 16.0)),
            size=FONT_PT - 1,
        )
    )


def _marks(
    axes: Any,
    data: TracePlot,
    placer: LabelPlacer,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> None:
    low, high = axes.get_ylim()
    tick = 0.04 * (high - low)
    shown = [mark for mark in data.marks if data.from_m <= mark.position_m <= data.to_m]
    for mark in shown:
        near = np.abs(x - mark.position_m) <= 0.01 * (data.to_m - data.from_m)
        level = float(y[near].max()) if near.any() else float(y.max(initial=low))
        axes.plot([mark.position_m] * 2, [level, level + tick], color=INK, lw=1.2)
        if mark.windows_m is not None:
            for first, last in (mark.windows_m[:2], mark.windows_m[2:]):
                axes.axvspan(first, last, color=INK, alpha=0.08, lw=0)
        if len(shown) <= NUMBERED:
            placer.place(
                Label(
                    text=mark.number,
                    anchors=((mark.position_m, level + tick),),
                    offsets=STAND,
                    bold=True,
                )
            )
    if shown:
        axes.text(
            0.99,
            0.99,
            data.marks_label,
            transform=axes.transAxes,
            ha="right",
            va="top",
            fontsize=FONT_PT - 1,
        )
