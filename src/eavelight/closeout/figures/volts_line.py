"""The volts line: volts along the copper on mains and at battery cut-off."""

from dataclasses import dataclass
from typing import Any

from eavelight.closeout.figures.style import (
    COLOURS,
    FAIL,
    FONT_PT,
    INK,
    MARKERS,
    Label,
    LabelPlacer,
    figure,
    margins,
    svg,
)

FEW_POINTS, ROOM_PER_POINT_MM = 2, 6.0
PARTS = (0.35, 0.5, 0.2, 0.6, 0.75, 0.1, 0.9)
BESIDE = tuple(
    (dx, dy)
    for far in (4.0, 9.0, 16.0, 26.0, 38.0, 52.0, 70.0, 90.0)
    for dx, dy in ((3.0, far), (-3.0, -far), (-3.0, far), (3.0, -far))
)
"""A falling line leaves room above to its right and below to its left."""
DASHES = ((1, 0), (5, 2), (1, 1.5), (7, 2, 1, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltsCurve:
    """One state of the supply; `terminal_v` is None where the feed collapses."""

    label: str
    end_label: str
    supply_v: float
    terminal_v: float | None
    below_min: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltsPoint:
    """Volts that were read, at 0 for the supply or at the length for the terminal.

    `told` points carry their value where there is little room too.
    """

    at_m: float
    value_v: float
    u_v: float
    label: str
    verdict: str = ""
    told: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltsLine:
    """Volts against metres of copper from the supply."""

    length_m: float
    curves: tuple[VoltsCurve, ...]
    points: tuple[VoltsPoint, ...]
    minimum_v: float
    minimum_label: str
    collapse_v: float
    collapse_label: str
    x_label: str
    y_label: str


def volts_line(data: VoltsLine, *, width_mm: float = 150.0) -> bytes:
    """The volts line as SVG."""
    narrow = width_mm < 110
    more = min(max(len(data.points) - FEW_POINTS, 0), 6) * ROOM_PER_POINT_MM
    height = (96.0 if narrow else 84.0) + more
    with figure(width_mm=width_mm, height_mm=height) as (drawn, axes):
        margins(drawn, axes, left=15, bottom=13, right=5, top=3)
        _axes(axes, data)
        placer = LabelPlacer(axes)
        _level(axes, data, placer)
        for number, curve in enumerate(data.curves):
            _curve(axes, data, curve, DASHES[number % len(DASHES)], placer)
        _marks(axes, data, placer)
        _points(data, placer, narrow=narrow)
        for curve in data.curves:
            _name(data, curve, placer, narrow=narrow)
        return svg(drawn)


def _axes(axes: Any, data: VoltsLine) -> None:
    volts = [data.minimum_v, data.collapse_v]
    for curve in data.curves:
        end = curve.terminal_v
        volts += [curve.supply_v, curve.supply_v / 2 if end is None else end]
    volts += [point.value_v for point in data.points]
    low, high = min(volts), max(volts)
    room = max(high - low, 1.0) * 0.15
    axes.set_xlim(-0.03 * data.length_m, 1.05 * data.length_m)
    axes.set_ylim(low - room, high + room)
    axes.set_xlabel(data.x_label)
    axes.set_ylabel(data.y_label)


def _level(axes: Any, data: VoltsLine, placer: LabelPlacer) -> None:
    """What the terminal needs, dashed, and the supply voltage of the collapse."""
    left, right = axes.get_xlim()
    axes.plot([left, right], [data.minimum_v] * 2, color=INK, lw=1.1, dashes=(6, 3))
    placer.avoid_line([left, right], [data.minimum_v] * 2)


def _curve(
    axes: Any,
    data: VoltsLine,
    curve: VoltsCurve,
    dashes: tuple[float, ...],
    placer: LabelPlacer,
) -> None:
    end = curve.terminal_v
    colour = FAIL if end is None or curve.below_min else INK
    solid = dashes == (1, 0)
    style: dict[str, Any] = {} if solid else {"dashes": dashes}
    last = curve.supply_v / 2 if end is None else end
    axes.plot([0, data.length_m], [curve.supply_v, last], color=colour, lw=1.6, **style)
    placer.avoid_line([0, data.length_m], [curve.supply_v, last])
    if end is None:
        axes.plot([data.length_m], [last], "X", color=FAIL, markersize=9, zorder=5)
    else:
        axes.plot([data.length_m], [last], ".", color=colour, markersize=6, zorder=5)


def _marks(axes: Any, data: VoltsLine, placer: LabelPlacer) -> None:
    left, right = axes.get_xlim()
    axes.plot(
        [0], [data.collapse_v], marker="_", color=INK, markersize=16, mew=2, zorder=5
    )
    placer.avoid_point(0, data.collapse_v, radius=5.0)
    for point in data.points:
        colour = COLOURS.get(point.verdict, INK)
        axes.errorbar(
            [point.at_m],
            [point.value_v],
            yerr=[[2 * point.u_v], [2 * point.u_v]],
            marker=MARKERS.get(point.verdict, "o"),
            color=colour,
            markersize=8,
            elinewidth=1.4,
            capsize=3,
            zorder=6,
        )
        placer.avoid_point(point.at_m, point.value_v)
    edges = ((5.0, 3.0), (5.0, -3.0), (-1.0, 3.0), (-1.0, -3.0))
    placer.place(
        Label(
            text=data.minimum_label,
            anchors=((left, data.minimum_v), (right, data.minimum_v)),
            offsets=edges,
            size=FONT_PT - 0.5,
        )
    )
    placer.place(
        Label(
            text=data.collapse_label,
            anchors=((0.0, data.collapse_v),),
            offsets=tuple((11.0, dy) for dy in (0.0, -3.0, 3.0, -12.0, 12.0, -22.0)),
            size=FONT_PT - 0.5,
        )
    )


def _name(
    data: VoltsLine, curve: VoltsCurve, placer: LabelPlacer, *, narrow: bool
) -> None:
    """The state and its volts at the terminal, beside the line."""
    end = curve.terminal_v
    last = curve.supply_v / 2 if end is None else end
    fall = last - curve.supply_v
    placer.place(
        Label(
            text=("\n" if narrow else ", ").join((curve.label, curve.end_label)),
            anchors=tuple(
                (part * data.length_m, curve.supply_v + part * fall) for part in PARTS
            ),
            offsets=BESIDE,
            later=1.0,
            far=1.0,
            colour=FAIL if end is None or curve.below_min else INK,
            bold=True,
        )
    )


def _points(data: VoltsLine, placer: LabelPlacer, *, narrow: bool) -> None:
    for point in data.points:
        if narrow and not point.told:
            continue
        placer.place(
            Label(
                text=point.label,
                anchors=((point.at_m, point.value_v),),
                colour=COLOURS.get(point.verdict, INK),
            )
        )
