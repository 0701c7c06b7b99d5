"""Draws traces that were read: over each other, with the events of the first."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from eavelight.app.trace_files import TraceFile
from eavelight.closeout.figures.page import Captioned, figure_page
from eavelight.closeout.figures.trace_overlay import (
    OverlayEvent,
    OverlayTrace,
    TraceOverlay,
    trace_overlay,
)
from eavelight.errors import EavelightError
from eavelight.model.message import Message
from eavelight.trace.results import TraceAnalysis
from eavelight.wording import say

SUFFIXES = (".svg", ".png", ".pdf")
BEYOND_END = 0.12


class PlotError(EavelightError):
    """A figure cannot be written where it was asked for."""


def plot_traces(items: Iterable[TraceFile], target: Path) -> None:
    """Write a figure of all readable traces; the suffix says the form."""
    if target.suffix not in SUFFIXES:
        raise PlotError(
            f"{target.as_posix()}: suffix: expected one of {', '.join(SUFFIXES)}, "
            f"found {target.suffix or 'none'}; name the figure so"
        )
    read = [item for item in items if item.analysis is not None]
    if not read:
        raise PlotError(f"{target.as_posix()}: nothing to draw: no trace was read")
    drawn = trace_overlay(overlay_of(read))
    caption = " · ".join(_label(item) for item in read)
    page = figure_page([Captioned(svg=drawn, caption=caption)], suffix=target.suffix)
    target.write_bytes(page)


def overlay_of(items: list[TraceFile]) -> TraceOverlay:
    """The traces as the figure wants them, from the end of the lead."""
    analyses = [item.analysis for item in items if item.analysis is not None]
    first = analyses[0]
    ends = [a.length_m for a in analyses if a.length_m is not None]
    last = max(
        [
            *(event.position_m for a in analyses for event in a.events),
            *ends,
        ],
        default=1.0,
    )
    start = min(_positions(a)[0] for a in analyses)
    return TraceOverlay(
        traces=tuple(_trace(item) for item in items if item.analysis is not None),
        events=tuple(
            OverlayEvent(
                number=str(number),
                position_m=event.position_m,
                bar_m=2.0 * event.position_u_m,
            )
            for number, event in enumerate(first.events, start=1)
        ),
        x_label=say(Message("trace.figure.x")),
        y_label=say(Message("trace.figure.y")),
        from_m=float(start),
        to_m=float(last + BEYOND_END * max(last - start, 1.0)),
    )


def _positions(analysis: TraceAnalysis) -> tuple[float, float]:
    last = (analysis.points - 1) * analysis.sample_spacing_m
    return -analysis.zero_m, last - analysis.zero_m


def _trace(item: TraceFile) -> OverlayTrace:
    analysis = item.analysis
    if analysis is None:
        raise PlotError(f"{item.path}: not read")
    index = np.arange(analysis.points, dtype=np.float64)
    return OverlayTrace(
        label=f"{analysis.wavelength_nm:.0f} nm",
        positions_m=index * analysis.sample_spacing_m - analysis.zero_m,
        samples_db=-np.asarray(analysis.samples_db, dtype=float),
        windows_m=tuple((s.from_m, s.to_m) for s in analysis.sections),
    )


def _label(item: TraceFile) -> str:
    analysis = item.analysis
    name = Path(item.path).name
    if analysis is None:
        return name
    return f"{name}, {analysis.wavelength_nm:.0f} nm, {analysis.pulse_ns:g} ns"
