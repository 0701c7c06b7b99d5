"""The level line: power against the parts of the path, with what was read."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from eavelight.closeout.figures.style import (
    COLOURS,
    FONT_PT,
    INK,
    MARKERS,
    Label,
    LabelPlacer,
    figure,
    margins,
    names_height_mm,
    short,
    svg,
)

LONGEST_NAME, LONGEST_NAME_CROWDED, CROWDED = 18, 14, 11
TICK_MM = 4.9
JOINED_DB = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPoint:
    """A level that was read after one place; `gap_label` where the gap matters."""

    place: int
    value_dbm: float
    u_db: float
    label: str
    verdict: str
    expected_dbm: float
    gap_label: str = ""
    below: bool = False
    superseded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelLine:
    """Levels in order of the path.

    Row 0 is the source. `starts_dbm[k]` is the level at the head of part k: it differs
    from `expected_dbm[k - 1]` where a reading moved the expectation.
    """

    places: tuple[str, ...]
    expected_dbm: tuple[float, ...]
    starts_dbm: tuple[float, ...]
    low_dbm: tuple[float, ...]
    high_dbm: tuple[float, ...]
    points: tuple[LevelPoint, ...]
    y_label: str
    x_label: str
    line_label: str
    floor_dbm: float | None = None
    floor_label: str = ""
    ceiling_dbm: float | None = None
    ceiling_label: str = ""


def level_line(data: LevelLine, *, width_mm: float = 150.0) -> bytes:
    """The level line as SVG."""
    narrow = width_mm < 110
    height = 98.0 if narrow else 86.0
    with figure(width_mm=width_mm, height_mm=height) as (drawn, axes):
        margins(drawn, axes, left=15, bottom=30, right=5, top=3)
        _axes(axes, data, width_mm=width_mm, narrow=narrow)
        bottom = names_height_mm(axes) + 7.5
        margins(drawn, axes, left=15, bottom=bottom, right=5, top=3)
        placer = LabelPlacer(axes)
        _expected(axes, data, placer)
        _limits(axes, data, placer)
        _points(axes, data, placer)
        _line_label(data, placer)
        return svg(drawn)


def _axes(axes: Any, data: LevelLine, *, width_mm: float, narrow: bool) -> None:
    count = len(data.places)
    crowded = count > CROWDED or narrow
    most = LONGEST_NAME_CROWDED if crowded else LONGEST_NAME
    ticks = _ticks(data, width_mm)
    levels = [
        *data.low_dbm,
        *data.high_dbm,
        *(p.value_dbm for p in data.points if not p.superseded),
        *(x for x in (data.floor_dbm, data.ceiling_dbm) if x is not None),
    ]
    low, high = min(levels), max(levels)
    told = any(point.gap_label for point in data.points)
    room = max(high - low, 4.0) * (0.15 if told else 0.08)
    axes.set_xlim(-0.3, max(count - 1, 1) + 0.5)
    axes.set_ylim(low - room, high + room)
    axes.set_xticks(
        ticks,
        [short(data.places[k], most) for k in ticks],
        rotation=55 if crowded else 38,
        ha="right",
        va="top",
        rotation_mode="anchor",
        fontsize=FONT_PT - (1.0 if crowded else 0.0),
    )
    axes.set_ylabel(data.y_label)
    axes.set_xlabel(data.x_label, fontsize=FONT_PT - 1.5, loc="right")


def _ticks(data: LevelLine, width_mm: float) -> list[int]:
    """Places that get a name: ends and readings first, then as many as have room."""
    count = len(data.places)
    apart = max(1, math.ceil(count * TICK_MM / (width_mm - 20.0)))
    wanted = [count - 1, 0, *(p.place for p in data.points), *range(count)]
    chosen: list[int] = []
    for place in wanted:
        if all(abs(place - other) >= apart for other in chosen):
            chosen.append(place)
    return sorted(chosen)


def _expected(axes: Any, data: LevelLine, placer: LabelPlacer) -> None:
    """One piece per part; a reading that moved the expectation breaks the line."""
    half_low = np.subtract(data.expected_dbm, data.low_dbm)
    half_high = np.subtract(data.high_dbm, data.expected_dbm)
    for k in range(1, len(data.places)):
        start, end = data.starts_dbm[k], data.expected_dbm[k]
        joined = abs(start - data.expected_dbm[k - 1]) < JOINED_DB
        before = k - 1 if joined else k
        axes.fill_between(
            [k - 1, k],
            [start - half_low[before], end - half_low[k]],
            [start + half_high[before], end + half_high[k]],
            color=INK,
            alpha=0.14,
            linewidth=0,
        )
        axes.plot([k - 1, k], [start, end], color=INK, linewidth=1.5)
        placer.avoid_line([k - 1, k], [start, end])


def _limits(axes: Any, data: LevelLine, placer: LabelPlacer) -> None:
    right = axes.get_xlim()[1]
    for value, text in (
        (data.ceiling_dbm, data.ceiling_label),
        (data.floor_dbm, data.floor_label),
    ):
        if value is None:
            continue
        axes.plot([-0.3, right], [value, value], color=INK, lw=1.1, dashes=(6, 3))
        placer.avoid_line([-0.3, right], [value, value])
        placer.place(
            Label(
                text=text,
                anchors=((-0.3, value), (right, value)),
                offsets=((6.0, 3.0), (6.0, -3.0), (-1.0, 3.0), (-1.0, -3.0)),
                size=FONT_PT - 0.5,
            )
        )


def _points(axes: Any, data: LevelLine, placer: LabelPlacer) -> None:
    """What was read; what it replaced is small, and left out where it is far off."""
    low, high = axes.get_ylim()
    seen = [p for p in data.points if not p.superseded or low < p.value_dbm < high]
    for point in seen:
        colour = COLOURS.get(point.verdict, INK)
        hollow = point.superseded or point.verdict not in COLOURS
        axes.errorbar(
            [point.place],
            [point.value_dbm],
            yerr=[[2 * point.u_db], [2 * point.u_db]],
            marker="v" if point.below else MARKERS.get(point.verdict, "o"),
            color=colour,
            markersize=5.5 if point.superseded else 8,
            markerfacecolor="white" if hollow else colour,
            markeredgewidth=1.4 if hollow else 0.5,
            linewidth=0,
            elinewidth=1.4,
            capsize=3,
            zorder=5,
        )
        placer.avoid_point(point.place, point.value_dbm)
        if point.gap_label and not point.superseded:
            _gap(axes, point, colour)
            placer.avoid_line(
                [point.place, point.place], [point.expected_dbm, point.value_dbm]
            )
    for point in data.points:
        if point.superseded:
            continue
        text = "\n".join(part for part in (point.label, point.gap_label) if part)
        placer.place(
            Label(
                text=text,
                anchors=((point.place, point.value_dbm),),
                side=-1 if point.value_dbm < point.expected_dbm else 1,
                colour=COLOURS.get(point.verdict, INK),
                bold=True,
            )
        )


def _gap(axes: Any, point: LevelPoint, colour: str) -> None:
    axes.annotate(
        "",
        xy=(point.place, point.value_dbm),
        xytext=(point.place, point.expected_dbm),
        arrowprops={
            "arrowstyle": "|-|,widthA=0.35,widthB=0",
            "color": colour,
            "linewidth": 1.4,
            "shrinkA": 0,
            "shrinkB": 3,
        },
        zorder=4,
    )


def _line_label(data: LevelLine, placer: LabelPlacer) -> None:
    """The name of the line, beside one of its places."""
    places = list(enumerate(data.expected_dbm))
    order = [*places[1:3], *places[:1], *places[3:]]
    placer.place(Label(text=data.line_label, anchors=order, side=1))
