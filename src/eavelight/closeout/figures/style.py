"""One look for every figure: white ground, black axes, labels at the lines.

Lines are told apart by dash and direct label, never by colour alone. Text is drawn
as outlines, so that a figure looks the same wherever it is shown.
"""

import io
import itertools
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.errors import MissingFeatureError

PASS, FAIL, INK = "#00509D", "#B34700", "#000000"
COLOURS = {"pass": PASS, "fail": FAIL}
MARKERS = {"pass": "o", "fail": "X", "undecided": "D"}
POINTS_PER_MM = 72.0 / 25.4
FONT_PT = 10.0
AXIS_PT = 1.1
SALT = "eavelight"
DPI = 72
"""That of an SVG, so that a place found while drawing is the place when written."""


@contextmanager
def figure(*, width_mm: float, height_mm: float) -> Iterator[tuple[Any, Any]]:
    """A new figure with one pair of axes in the common look."""
    try:
        import matplotlib
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError as error:
        raise MissingFeatureError("figures", "report", str(error)) from None
    settings: dict[Any, Any] = {
        "font.family": "DejaVu Sans",
        "font.size": FONT_PT,
        "svg.fonttype": "path",
        "svg.hashsalt": SALT,
        "text.parse_math": False,
        "axes.linewidth": AXIS_PT,
        "axes.unicode_minus": True,
        "path.simplify": False,
    }
    with matplotlib.rc_context(settings):
        drawn = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), dpi=DPI)
        FigureCanvasAgg(drawn)
        axes = drawn.add_axes((0.15, 0.2, 0.8, 0.75))
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(width=AXIS_PT, length=4)
        yield drawn, axes


def margins(
    drawn: Any, axes: Any, *, left: float, bottom: float, right: float, top: float
) -> None:
    """Place the axes by margins in mm, so that labels of any figure have room."""
    width, height = (float(side) * 25.4 for side in drawn.get_size_inches())
    axes.set_position(
        (
            left / width,
            bottom / height,
            max(0.05, (width - left - right) / width),
            max(0.05, (height - bottom - top) / height),
        )
    )


def names_height_mm(axes: Any) -> float:
    """Height of the names under the axis."""
    renderer = axes.figure.canvas.get_renderer()
    extents = [item.get_window_extent(renderer) for item in axes.get_xticklabels()]
    highest = max((float(extent.height) for extent in extents), default=0.0)
    return highest / float(axes.figure.dpi) * 25.4


def svg(drawn: Any) -> bytes:
    """The figure as SVG; no date, no version, ids from a fixed salt."""
    stream = io.BytesIO()
    drawn.savefig(
        stream,
        format="svg",
        facecolor="white",
        metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
    )
    return stream.getvalue()


def short(text: str, most: int) -> str:
    """A name that fits at an axis; marks that stack without end are cut too.

    >>> short("a very long name of a part", 12)
    'a very long…'
    """
    letters = [sign for sign in text if not unicodedata.combining(sign)]
    word = unicodedata.normalize("NFC", text)
    if len(letters) < len(word) - 8:
        word = "".join(letters)
    return word if len(word) <= most else word[: most - 1].rstrip() + "…"


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A text that belongs to one of some points in data coordinates, the first best.

    `side` is +1 where it should rather stand above, -1 below, 0 where it may do both.
    """

    text: str
    anchors: Sequence[tuple[float, float]]
    side: int = 0
    colour: str = INK
    bold: bool = False
    size: float = FONT_PT
    offsets: Sequence[tuple[float, float]] | None = None
    later: float = 4.0
    """Cost of each anchor after the first."""
    far: float = 0.35
    """Cost of each point of distance."""


Box = tuple[float, float, float, float]

ACROSS = (4.0, 8.0, -4.0, -8.0, 0.0, 16.0, -16.0, 30.0, -30.0, 55.0, -55.0)
STEPS = (4.0, 8.0, 13.0, 18.0, 24.0, 30.0, 36.0, 44.0, 52.0, 60.0, 75.0, 90.0, 110.0)
ALONG = tuple(sign * step for step in STEPS for sign in (1, -1))
OFFSETS = (*((dx, dy) for dy in ALONG for dx in ACROSS), (9.0, 0.0), (-9.0, 0.0))
"""Places round a point for its label, in points."""
OUTSIDE, OVERLAP, CROSSED = 60.0, 200.0, 8.0
WRONG_SIDE = 12.0
LEADER_FROM_PT = 24.0


class LabelPlacer:
    """Puts labels beside their points so that they cover neither lines nor labels.

    Every place has a cost: leaving the axes, covering a label or mark, crossing a
    line, distance from the point. A label that ends up far gets a thin leader.
    """

    def __init__(self, axes: Any) -> None:
        self.axes = axes
        self.renderer = axes.figure.canvas.get_renderer()
        self.pixels_per_pt = float(axes.figure.dpi) / 72.0
        self.frame: Box = _box(axes.get_window_extent(self.renderer))
        self.taken: list[Box] = []
        self.ink: list[NDArray[np.float64]] = []

    def avoid_line(self, x: Iterable[float], y: Iterable[float]) -> None:
        """Keep labels off a line given in data coordinates."""
        ends = self.axes.transData.transform(np.column_stack([list(x), list(y)]))
        for first, last in itertools.pairwise(ends):
            steps = int(min(max(np.hypot(*(last - first)) / 3.0, 2), 800))
            part = np.linspace(0.0, 1.0, steps)[:, None]
            self.ink.append(first + part * (last - first))

    def avoid_point(self, x: float, y: float, *, radius: float = 6.0) -> None:
        """Keep labels off a mark."""
        px, py = self.axes.transData.transform((x, y))
        self.taken.append((px - radius, py - radius, px + radius, py + radius))

    def place(self, label: Label) -> None:
        """Draw one label at the best of its places."""
        from matplotlib.transforms import IdentityTransform

        text = self.axes.text(
            0.0,
            0.0,
            label.text,
            color=label.colour,
            fontsize=label.size,
            fontweight="bold" if label.bold else "normal",
            ha="left",
            va="bottom",
            linespacing=1.15,
            transform=IdentityTransform(),
            zorder=6,
        )
        extent = text.get_window_extent(self.renderer)
        size = (float(extent.width), float(extent.height))
        ink = np.concatenate(self.ink) if self.ink else np.empty((0, 2))
        best: tuple[float, Box, tuple[float, float], float] | None = None
        for rank, anchor in enumerate(label.anchors):
            point = self.axes.transData.transform(anchor)
            for dx, dy in label.offsets or OFFSETS:
                box = self._at(point, size, (dx, dy))
                away = abs(dx) + abs(dy)
                wrong = WRONG_SIDE if dy * label.side < 0 else 0.0
                cost = (
                    self._cost(box, ink) + label.far * away + wrong + label.later * rank
                )
                if best is None or cost < best[0]:
                    best = (cost, box, (float(point[0]), float(point[1])), away)
        if best is None:
            return
        _, box, point, away = best
        text.set_position((box[0], box[1]))
        text.set_multialignment("right" if box[2] <= point[0] else "left")
        self.taken.append(box)
        if away > LEADER_FROM_PT:
            self._leader(box, point, label.colour)

    def _at(
        self, point: Any, size: tuple[float, float], offset: tuple[float, float]
    ) -> Box:
        """The box of a text at an offset; it grows away from the point."""
        left = float(point[0]) + offset[0] * self.pixels_per_pt
        bottom = float(point[1]) + offset[1] * self.pixels_per_pt
        if offset[0] <= 0:
            left -= size[0] if offset[0] < 0 else size[0] / 2
        if offset[1] <= 0:
            bottom -= size[1] if offset[1] < 0 else size[1] / 2
        return (left, bottom, left + size[0], bottom + size[1])

    def _cost(self, box: Box, ink: NDArray[np.float64]) -> float:
        left, bottom, right, top = box
        fl, fb, fr, ft = self.frame
        outside = max(0.0, fl - left) + max(0.0, fb - bottom)
        outside += max(0.0, right - fr - 8) + max(0.0, top - ft)
        cost = OUTSIDE * outside
        for other in self.taken:
            wide = min(right, other[2]) - max(left, other[0])
            high = min(top, other[3]) - max(bottom, other[1])
            if wide > 0 and high > 0:
                cost += OVERLAP + wide * high
        inside = (ink[:, 0] > left - 1) & (ink[:, 0] < right + 1)
        inside &= (ink[:, 1] > bottom - 1) & (ink[:, 1] < top + 1)
        return cost + CROSSED * float(inside.sum())

    def _leader(self, box: Box, point: tuple[float, float], colour: str) -> None:
        from matplotlib.lines import Line2D
        from matplotlib.transforms import IdentityTransform

        nearest = (
            min(max(point[0], box[0]), box[2]),
            min(max(point[1], box[1]), box[3]),
        )
        self.axes.add_artist(
            Line2D(
                [point[0], nearest[0]],
                [point[1], nearest[1]],
                color=colour,
                linewidth=0.7,
                transform=IdentityTransform(),
                zorder=5,
            )
        )


def _box(extent: Any) -> Box:
    return (extent.x0, extent.y0, extent.x1, extent.y1)
