"""Two pictures of one face: laid on each other, mark by mark.

What went or moved was loose, what stayed is part of the face. The plug may have been
turned in the holder; the turn is found from the marks and the grain round the fibre.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from eavelight.endface.marks import Mark
from eavelight.endface.surface import Surface

Array = NDArray[np.float64]
Fate = Literal["moved", "gone", "stayed"]
ANGLES = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Fates of the marks before, and of those after (None: a new mark).

    `turn_deg` turns the earlier picture onto the later one; `agreement` is the
    height of the best match over that of chance; `new_parallel` counts new scratches
    that run alike, a sign of damage by polishing or wiping.
    """

    turn_deg: float
    agreement: float
    before: tuple[Fate, ...]
    after: tuple[Fate | None, ...]
    new_parallel: int


def _polar(surface: Surface) -> Array:
    """Deviations on rings round the fibre, ring by ring, angle along axis 1."""
    radius = np.concatenate([np.arange(8.0, 58.0, 1.5), np.arange(68.0, 112.0, 1.5)])
    t = np.arange(ANGLES) * (2 * math.pi / ANGLES)
    y = surface.row0 + radius[:, None] / surface.um * np.sin(t)
    x = surface.col0 + radius[:, None] / surface.um * np.cos(t)
    smooth = ndimage.gaussian_filter(surface.deviation, 0.8 / surface.um)
    value = ndimage.map_coordinates(smooth, [y, x], order=1, mode="constant")
    spread = np.median(np.abs(value), axis=1, keepdims=True) + 1e-4
    return np.asarray(np.clip(value / spread, -8.0, 8.0))


def turn_between(before: Surface, after: Surface) -> tuple[float, float]:
    """Turn of the plug between two pictures of the same face.

    Parameters
    ----------
    before : Surface
        The earlier face [1]
    after : Surface
        The later face [1]

    Returns
    -------
    turn_deg : float
        Counted from column axis to row axis [°]
    agreement : float
        Height of the best match in units of its scatter [1]
    """
    a, b = (fft.rfft(_polar(surface), axis=1) for surface in (before, after))
    match = fft.irfft((np.conj(a) * b).sum(axis=0), n=ANGLES)
    spread = 1.4826 * np.median(np.abs(match - np.median(match))) + 1e-12
    height = (match - np.median(match)) / spread
    best = int(np.argmax(height))
    step = 360.0 / ANGLES
    turn = best * step if best <= ANGLES // 2 else best * step - 360.0
    return turn, float(height[best])


def _turned(mark: Mark, turn_deg: float) -> tuple[float, float]:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return mark.row_um * c + mark.col_um * s, mark.col_um * c - mark.row_um * s


def _partner(
    place: tuple[float, float],
    mark: Mark,
    others: Sequence[Mark],
    free: set[int],
    turn_deg: float,
) -> int | None:
    """The other picture's mark in the same place and of the same kind and size."""
    best, nearest = None, math.inf
    for index in free:
        other = others[index]
        apart = math.hypot(place[0] - other.row_um, place[1] - other.col_um)
        reach = 2.0 + 0.25 * min(mark.size_um, other.size_um)
        reach += 0.02 * math.hypot(*place)
        if mark.kind == other.kind == "scratch":
            angle = (mark.angle_deg or 0.0) + turn_deg - (other.angle_deg or 0.0)
            if abs((angle + 90) % 180 - 90) > 8.0:
                continue
            reach = 3.0 + 0.5 * max(mark.length_um, other.length_um)
        elif not 0.5 < mark.size_um / max(other.size_um, 0.1) < 2.0:
            continue
        if apart < min(reach, nearest):
            best, nearest = index, apart
    return best


def _moved_partner(mark: Mark, others: Sequence[Mark], free: set[int]) -> int | None:
    """A like mark elsewhere: a spot of nearly the same size and contrast."""
    if mark.kind != "spot" or mark.size_um < 2.0:
        return None
    for index in sorted(free):
        other = others[index]
        alike = abs(other.size_um - mark.size_um) < max(0.6, 0.15 * mark.size_um)
        tone = abs(other.contrast - mark.contrast) < 0.2
        if other.kind == "spot" and alike and tone:
            return index
    return None


def _new_parallel(marks: Sequence[Mark], fates: Sequence[Fate | None]) -> int:
    angles = [
        mark.angle_deg
        for mark, fate in zip(marks, fates, strict=True)
        if fate is None and mark.kind == "scratch" and mark.angle_deg is not None
    ]
    alike = [sum(abs((a - b + 90) % 180 - 90) < 8.0 for b in angles) for a in angles]
    return max(alike, default=0) if max(alike, default=0) >= 2 else 0


def compare_marks(
    before: Sequence[Mark],
    after: Sequence[Mark],
    *,
    turn_deg: float = 0.0,
    agreement: float = math.inf,
) -> Comparison:
    """Match the marks of two pictures of one face.

    Parameters
    ----------
    before : sequence of Mark
        Marks of the earlier picture [µm]
    after : sequence of Mark
        Marks of the later picture [µm]
    turn_deg : float, optional
        Turn of the plug between the two [°]
    agreement : float, optional
        Height of the match that gave the turn [1]

    Returns
    -------
    comparison : Comparison
        Fate of every mark [1]
    """
    free = set(range(len(after)))
    first: list[Fate | None] = []
    second: list[Fate | None] = [None] * len(after)
    for mark in before:
        index = _partner(_turned(mark, turn_deg), mark, after, free, turn_deg)
        first.append(None if index is None else "stayed")
        if index is not None:
            free.discard(index)
            second[index] = "stayed"
    fates: list[Fate] = []
    for mark, fate in zip(before, first, strict=True):
        if fate is not None:
            fates.append(fate)
            continue
        index = _moved_partner(mark, after, free)
        fates.append("gone" if index is None else "moved")
        if index is not None:
            free.discard(index)
            second[index] = "moved"
    return Comparison(
        turn_deg=turn_deg,
        agreement=agreement,
        before=tuple(fates),
        after=tuple(second),
        new_parallel=_new_parallel(after, second),
    )
