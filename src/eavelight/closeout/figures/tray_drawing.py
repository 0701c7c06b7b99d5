"""The splice tray to scale: one millimetre on paper is one in the tray."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from eavelight.closeout.figures.style import FONT_PT, INK, figure, svg
from eavelight.glass.tray import Drawing as TrayLines
from eavelight.glass.tray_path import Arc, Piece

AROUND_MM, BELOW_MM = 6.0, 20.0
STROKES = {
    "tube": ((6.0, INK, 1.0), (4.6, "white", 1.1)),
    "fibre": ((3.2, INK, 2.0), (1.8, "white", 2.1)),
    "pigtail": ((1.2, INK, 3.0),),
}
"""Width, colour and layer of each stroke: a double line for the drop, a single one
for the pigtail, so that both show where they lie on each other."""
STEP_DEG = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayDrawing:
    """The lines of the tray, with the words for them."""

    lines: TrayLines
    labels: dict[str, str]
    entry_label: str
    pigtail_entry_label: str
    holder_label: str
    letters: float = 1.0
    """Size of the letters against those on paper, for a figure shown smaller."""


def drawn_width_mm(lines: TrayLines) -> float:
    """Width of the drawing at its real size [mm]."""
    return max(lines.length_mm, 90.0) + 2 * AROUND_MM


def tray_drawing(data: TrayDrawing) -> bytes:
    """The tray as SVG, at its real size."""
    lines, below = data.lines, BELOW_MM * data.letters
    width = drawn_width_mm(lines)
    height = lines.width_mm + AROUND_MM + below
    with figure(width_mm=width, height_mm=height) as (drawn, axes):
        axes.set_position((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(-AROUND_MM, width - AROUND_MM)
        axes.set_ylim(-below, lines.width_mm + AROUND_MM)
        edge = [(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]
        axes.plot(
            [x * lines.length_mm for x, _ in edge],
            [y * lines.width_mm for _, y in edge],
            color=INK,
            linewidth=1.5,
        )
        for route in lines.routes:
            lap = route.lap if route.laps else ()
            for piece in (*route.pieces, *lap):
                _piece(axes, piece, route.layer)
        _piece(axes, lines.lead, "fibre")
        _holder(axes, data)
        _words(axes, data)
        return svg(drawn)


def _piece(axes: Any, piece: Piece, layer: str) -> None:
    if isinstance(piece, Arc):
        steps = max(2, int(abs(piece.sweep_deg) / STEP_DEG))
        points = np.array([piece.point(k / steps) for k in range(steps + 1)])
    else:
        points = np.array([piece.start, piece.end])
    _stroke(axes, points[:, 0], points[:, 1], layer)


def _stroke(axes: Any, x: Any, y: Any, layer: str) -> None:
    for width, colour, order in STROKES.get(layer, STROKES["pigtail"]):
        axes.plot(x, y, color=colour, linewidth=width, zorder=order)


def _holder(axes: Any, data: TrayDrawing) -> None:
    """The sleeve with the bare glass inside it, and the middle where ends meet."""
    lines = data.lines
    heading = np.radians(lines.holder_heading_deg)
    along = np.array([np.cos(heading), np.sin(heading)])
    middle = np.array(lines.holder)
    for half, width, colour in (
        (lines.sleeve_mm / 2, 7.0, INK),
        (lines.sleeve_mm / 2 - 0.4, 5.0, "white"),
        (lines.bare_mm / 2, 2.0, INK),
    ):
        ends = np.array([middle - half * along, middle + half * along])
        axes.plot(
            ends[:, 0],
            ends[:, 1],
            color=colour,
            linewidth=width,
            solid_capstyle="butt",
            zorder=5,
        )
    axes.plot(*middle, marker="|", color=INK, markersize=14, mew=1.5, zorder=6)


def _words(axes: Any, data: TrayDrawing) -> None:
    lines, big = data.lines, data.letters
    x, y = lines.holder
    side = 4.0 if y < lines.width_mm / 2 else -4.0
    axes.text(
        x,
        y + side,
        data.holder_label,
        ha="center",
        va="bottom" if side > 0 else "top",
        fontsize=big * (FONT_PT - 2),
        zorder=7,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
    )
    for point, label in (
        (lines.entry, data.entry_label),
        (lines.pigtail_entry, data.pigtail_entry_label),
    ):
        axes.plot(*point, marker="o", color=INK, markersize=4, zorder=6)
        if label:
            axes.text(
                point[0], point[1] - 2.0, label, ha="center", va="top",
                fontsize=big * (FONT_PT - 2), zorder=7,
            )  # fmt: skip
    for row, layer in enumerate(route.layer for route in lines.routes):
        y = big * (-7.0 - 5.0 * row)
        _stroke(axes, [0, 14], [y, y], layer)
        words = data.labels.get(layer, layer)
        axes.text(16, y, words, va="center", fontsize=big * (FONT_PT - 1))
