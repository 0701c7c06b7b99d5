"""Figures of the documents: plain data in, SVG bytes out, the same bytes every time.

Nothing here knows a language or a limit: every label arrives as text.
"""

from eavelight.closeout.figures.level_line import LevelLine, LevelPoint, level_line
from eavelight.closeout.figures.trace_plot import TraceMark, TracePlot, trace_plot
from eavelight.closeout.figures.volts_line import (
    VoltsCurve,
    VoltsLine,
    VoltsPoint,
    volts_line,
)
from eavelight.closeout.fonts import printable
from eavelight.closeout.readable import each_text

Drawing = LevelLine | VoltsLine | TracePlot

__all__ = [
    "Drawing",
    "LevelLine",
    "LevelPoint",
    "TraceMark",
    "TracePlot",
    "VoltsCurve",
    "VoltsLine",
    "VoltsPoint",
    "draw",
    "level_line",
    "trace_plot",
    "volts_line",
]

WIDE_MM, NARROW_MM = 150.0, 88.0
"""Widths at which figures are drawn: for a page, and for a telephone."""


def draw(drawing: Drawing, *, width_mm: float = WIDE_MM) -> bytes:
    """The drawing as SVG, signs that its font lacks shown by number."""
    drawing = each_text(drawing, printable)
    if isinstance(drawing, LevelLine):
        return level_line(drawing, width_mm=width_mm)
    if isinstance(drawing, VoltsLine):
        return volts_line(drawing, width_mm=width_mm)
    return trace_plot(drawing, width_mm=width_mm)
