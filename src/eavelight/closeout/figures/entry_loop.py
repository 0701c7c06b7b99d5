"""The drip loop of a cable entry to scale: what the cable needs, what is planned."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from eavelight.climate.entry import loop_outline
from eavelight.closeout.figures.style import FAIL, FONT_PT, INK, figure, svg

SCALES = (1, 2, 5, 10, 20)
LARGEST_MM = 130.0
AROUND_MM, ABOVE_MM, BELOW_MM = 10.0, 28.0, 15.0
BOX_MM, BOX_HIGH_MM = 46.0, 16.0
POINTS_PER_MM = 72.0 / 25.4
SMALL_PT = FONT_PT - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryLoop:
    """One entry: cable, the width its loop needs and the width there is, with words.

    `scale_label` is told the scale by the word SCALE; every other text is ready.
    """

    diameter_mm: float
    needed_mm: float
    planned_mm: float | None
    title: str
    entry_label: str
    needed_label: str
    planned_label: str
    lowest_label: str
    scale_label: str


def loop_scale(data: EntryLoop) -> int:
    """How many millimetres one millimetre of paper stands for."""
    widest = max(data.needed_mm, data.planned_mm or 0.0) + data.diameter_mm
    return next(
        (scale for scale in SCALES if widest / scale <= LARGEST_MM - BOX_MM), SCALES[-1]
    )


def entry_loop(data: EntryLoop) -> bytes:
    """The loop as SVG, to scale on paper that is printed at 100 %."""
    scale = loop_scale(data)
    widths = [data.needed_mm] + ([data.planned_mm] if data.planned_mm else [])
    widest = max(widths) / scale
    right = BOX_MM
    deepest = widest / 2.0 + data.diameter_mm / scale
    size = (
        max(widest + right + 2 * AROUND_MM, LARGEST_MM),
        deepest + ABOVE_MM + BELOW_MM,
    )
    with figure(width_mm=size[0], height_mm=size[1]) as (drawn, axes):
        axes.set_position((0, 0, 1, 1))
        axes.set_axis_off()
        left = -size[0] + right + AROUND_MM
        axes.set_xlim(left, right + AROUND_MM)
        axes.set_ylim(-deepest - BELOW_MM, ABOVE_MM)
        _box(axes, data)
        short = data.planned_mm is not None and data.planned_mm < data.needed_mm
        spare = data.planned_mm is not None and data.planned_mm > data.needed_mm
        thick = data.diameter_mm / scale
        if short or spare:
            _axis_only(axes, data.needed_mm / scale)
            _cable(axes, widths[1] / scale, thick, colour=FAIL if short else INK)
        else:
            _cable(axes, data.needed_mm / scale, thick, colour=INK)
        _widths(axes, data, scale, deepest=deepest, short=short)
        axes.text(
            left + AROUND_MM, ABOVE_MM - 3.0, data.title, ha="left", va="top",
            fontsize=FONT_PT, fontweight="bold",
        )  # fmt: skip
        axes.text(
            right + AROUND_MM - 2.0, -deepest - BELOW_MM + 2.0,
            data.scale_label.replace("SCALE", f"1:{scale}"),
            ha="right", va="bottom", fontsize=SMALL_PT,
        )  # fmt: skip
        return svg(drawn)


def _box(axes: Any, data: EntryLoop) -> None:
    """The bottom corner of the box, with the entry in it."""
    axes.plot(
        [-5.0, -5.0, BOX_MM, BOX_MM], [BOX_HIGH_MM, 0.0, 0.0, BOX_HIGH_MM],
        color=INK, linewidth=1.6, zorder=3,
    )  # fmt: skip
    axes.text(
        5.0, BOX_HIGH_MM / 2, data.entry_label, ha="left", va="center",
        fontsize=SMALL_PT,
    )  # fmt: skip


def _line(width_mm: float) -> np.ndarray:
    """The axis of the cable: down the wall, around, up into the box."""
    outline = loop_outline(1.0, width_mm=width_mm, points=181)
    down = np.array([[-width_mm, ABOVE_MM - 11.0]])
    up = np.array([[0.0, BOX_HIGH_MM * 0.8]])
    return np.vstack([down, outline, up])


def _cable(axes: Any, width_mm: float, thick_mm: float, *, colour: str) -> None:
    """The cable as thick as it is, in the scale of the drawing."""
    line = _line(width_mm)
    outer = thick_mm * POINTS_PER_MM
    for stroke, paint, layer in (
        (outer, colour, 4),
        (max(outer - 2.2, 0.4), "white", 5),
    ):
        axes.plot(
            line[:, 0], line[:, 1], color=paint, linewidth=stroke, zorder=layer,
            solid_capstyle="butt",
        )  # fmt: skip


def _axis_only(axes: Any, width_mm: float) -> None:
    line = _line(width_mm)
    axes.plot(line[:, 0], line[:, 1], color=INK, linewidth=1.2, dashes=(5, 3), zorder=6)


def _widths(
    axes: Any, data: EntryLoop, scale: int, *, deepest: float, short: bool
) -> None:
    """Dimension lines, from cable axis to cable axis; the lowest point of the loop."""
    rows = [(data.needed_mm, data.needed_label, INK)]
    if data.planned_mm is not None and data.planned_mm != data.needed_mm:
        colour = FAIL if short else INK
        rows.append((data.planned_mm, data.planned_label, colour))
    for row, (width, label, colour) in enumerate(rows):
        y = ABOVE_MM - 15.0 - 6.5 * row
        axes.annotate(
            "", xy=(-width / scale, y), xytext=(0.0, y), zorder=7,
            arrowprops={"arrowstyle": "<->", "color": colour, "linewidth": 1.1,
                        "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip
        axes.text(
            -width / scale / 2.0, y + 0.6, label, ha="center", va="bottom",
            fontsize=SMALL_PT, color=colour, zorder=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip
    shown = data.needed_mm if data.planned_mm is None else data.planned_mm
    low = -shown / scale / 2.0
    axes.annotate(
        data.lowest_label, xy=(-shown / scale / 2.0, low),
        xytext=(6.0, -deepest + 2.0), fontsize=SMALL_PT, ha="left", va="center",
        zorder=8,
        arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8, "shrinkB": 2},
    )  # fmt: skip
