"""Curves over hours: a discharge, or a day in the box, with the limit that counts."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from eavelight.closeout.figures.style import (
    FAIL,
    FONT_PT,
    INK,
    Label,
    LabelPlacer,
    figure,
    margins,
    svg,
)

DASHES = ((1, 0), (5, 2), (1, 1.5), (7, 2, 1, 2), (3, 1), (9, 2))
MOST_POINTS = 200
SHARES = (0.95, 0.85, 0.75, 0.62, 0.5, 0.38, 0.25, 0.12)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeCurve:
    """One line; `fails` where it crosses what it must not, `thin` for a background."""

    label: str
    at_h: tuple[float, ...]
    value: tuple[float, ...]
    fails: bool = False
    thin: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLimit:
    """A dashed line over the whole width."""

    value: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeCurves:
    """Several curves over the same hours, and their limits."""

    curves: tuple[TimeCurve, ...]
    limits: tuple[TimeLimit, ...]
    x_label: str
    y_label: str
    note: str = ""


def time_curves(data: TimeCurves, *, width_mm: float = 150.0) -> bytes:
    """The curves as SVG."""
    with figure(width_mm=width_mm, height_mm=84.0) as (drawn, axes):
        margins(drawn, axes, left=15, bottom=13, right=5, top=6 if data.note else 3)
        _axes(axes, data)
        placer = LabelPlacer(axes)
        for limit in data.limits:
            _limit(axes, limit, placer)
        for number, curve in enumerate(data.curves):
            _curve(axes, curve, DASHES[number % len(DASHES)], placer)
        for limit in data.limits:
            left, right = axes.get_xlim()
            placer.place(
                Label(
                    text=limit.label,
                    anchors=((left, limit.value), ((left + right) / 2, limit.value)),
                    size=FONT_PT - 0.5,
                )
            )
        for number, curve in enumerate(data.curves):
            others = [*data.curves[:number], *data.curves[number + 1 :]]
            _name(axes, curve, others, placer)
        if data.note:
            axes.set_title(data.note, fontsize=FONT_PT - 1.5, loc="right", pad=2)
        return svg(drawn)


def _axes(axes: Any, data: TimeCurves) -> None:
    hours = [hour for curve in data.curves for hour in curve.at_h]
    values = [value for curve in data.curves for value in curve.value]
    values += [limit.value for limit in data.limits]
    low, high = min(values), max(values)
    room = max(high - low, 1.0) * 0.12
    axes.set_xlim(min(hours), max(max(hours), min(hours) + 0.1))
    axes.set_ylim(low - room, high + room)
    axes.set_xlabel(data.x_label)
    axes.set_ylabel(data.y_label)


def _limit(axes: Any, limit: TimeLimit, placer: LabelPlacer) -> None:
    left, right = axes.get_xlim()
    axes.plot([left, right], [limit.value] * 2, color=INK, lw=1.1, dashes=(6, 3))
    placer.avoid_line([left, right], [limit.value] * 2)


def _curve(
    axes: Any, curve: TimeCurve, dashes: tuple[float, ...], placer: LabelPlacer
) -> None:
    x, y = _thinned(curve)
    style: dict[str, Any] = {} if dashes == (1, 0) else {"dashes": dashes}
    axes.plot(
        x,
        y,
        color=FAIL if curve.fails else INK,
        linewidth=0.9 if curve.thin else 1.6,
        **style,
    )
    placer.avoid_line(x, y)


def _thinned(curve: TimeCurve) -> tuple[list[float], list[float]]:
    step = max(1, len(curve.at_h) // MOST_POINTS)
    keep = sorted({*range(0, len(curve.at_h), step), len(curve.at_h) - 1})
    return [curve.at_h[k] for k in keep], [curve.value[k] for k in keep]


def _name(
    axes: Any, curve: TimeCurve, others: list[TimeCurve], placer: LabelPlacer
) -> None:
    """Beside the line, where it stands farthest from all others."""
    x, y = _thinned(curve)
    low, high = axes.get_ylim()
    apart = []
    for share in SHARES:
        k = round(share * (len(x) - 1))
        gaps = [
            abs(y[k] - float(np.interp(x[k], other.at_h, other.value)))
            for other in others
            if other.at_h[0] <= x[k] <= other.at_h[-1]
        ]
        apart.append((-min(gaps, default=high - low), k))
    placer.place(
        Label(
            text=curve.label,
            anchors=tuple((x[k], y[k]) for _, k in sorted(apart)[:4]),
            colour=FAIL if curve.fails else INK,
            bold=not curve.thin,
            size=FONT_PT - (0.5 if curve.thin else 0.0),
        )
    )
