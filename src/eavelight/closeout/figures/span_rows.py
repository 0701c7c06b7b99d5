"""Bands of one quantity under each other, each with its words, against one mark."""

import textwrap
from dataclasses import dataclass
from typing import Any

from eavelight.closeout.figures.style import FAIL, FONT_PT, INK, figure, margins, svg

LINE_MM, BAR_MM, GAP_MM = 4.6, 5.0, 4.0
MM_PER_SIGN = 1.9


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanRow:
    """A band with the words over it; one that fails carries a cross too."""

    label: str
    low: float
    high: float
    fails: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanRows:
    """Rows from the top, and the dashed mark that they are held against."""

    rows: tuple[SpanRow, ...]
    mark: float
    mark_label: str
    x_label: str


def span_rows(data: SpanRows, *, width_mm: float = 150.0) -> bytes:
    """The rows as SVG."""
    signs = int((width_mm - 12.0) / MM_PER_SIGN)
    labels = [textwrap.wrap(row.label, signs) or [""] for row in data.rows]
    heights = [LINE_MM * len(lines) + BAR_MM + GAP_MM for lines in labels]
    height = sum(heights)
    with figure(width_mm=width_mm, height_mm=height + 19.0) as (drawn, axes):
        margins(drawn, axes, left=6, bottom=13, right=6, top=6)
        _axes(axes, data, height)
        y = height
        for row, lines, tall in zip(data.rows, labels, heights, strict=True):
            _row(axes, row, "\n".join(lines), top=y, bottom=y - tall)
            y -= tall
        return svg(drawn)


def _axes(axes: Any, data: SpanRows, height: float) -> None:
    most = max([data.mark, *(row.high for row in data.rows)])
    axes.set_xlim(0.0, max(most * 1.08, 1.0))
    axes.set_ylim(0.0, height)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(data.x_label)
    axes.plot([data.mark] * 2, [0.0, height], color=INK, lw=1.1, dashes=(6, 3))
    axes.text(
        data.mark,
        height + 1.0,
        data.mark_label,
        ha="center",
        va="bottom",
        fontsize=FONT_PT - 0.5,
    )


def _row(axes: Any, row: SpanRow, text: str, *, top: float, bottom: float) -> None:
    colour = FAIL if row.fails else INK
    middle = bottom + GAP_MM / 2 + BAR_MM / 2
    axes.plot(
        [row.low, row.high],
        [middle] * 2,
        color=colour,
        linewidth=7,
        solid_capstyle="butt",
        zorder=3,
    )
    for end in (row.low, row.high):
        axes.plot([end], [middle], marker="|", color=colour, markersize=11, zorder=4)
    if row.fails:
        axes.plot([row.low], [middle], marker="X", color=FAIL, markersize=9, zorder=5)
    axes.text(
        0.0,
        top - 0.5,
        text,
        va="top",
        color=colour,
        fontsize=FONT_PT - 0.5,
        fontweight="bold",
        zorder=6,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )
