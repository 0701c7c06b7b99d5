"""All marks of a face: spots on glass and ferrule, scratches on the glass."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.endface.geometry import smallest_circle
from eavelight.endface.grade import Kind, Sized
from eavelight.endface.scratches import Stroke, find_scratches
from eavelight.endface.spots import Blob, find_spots
from eavelight.endface.surface import (
    Mask,
    Surface,
    around,
    noise_of,
    without_core,
)

Array = NDArray[np.float64]
ASPECT = 5.0
"""Length over width from which a mark is a scratch; a setting, no standard's number."""
SHORTEST_SCRATCH_UM = 5.0
WIDEST_SCRATCH_UM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """One mark; position from the fibre centre, down and right positive.

    `contrast` is negative for a dark mark; `bow` is the sagitta over the length;
    `filled` the area over that of the enclosing circle; `rim` the share of the middle
    that is not itself dark or bright; `at_limit` says that only an upper bound of the
    size is known.
    """

    kind: Kind
    row_um: float
    col_um: float
    size_um: float
    size_u_um: float
    inner_um: float
    outer_um: float
    contrast: float
    significance: float
    length_um: float
    width_um: float
    angle_deg: float | None
    bow: float
    filled: float
    rim: float
    on_glass: bool
    at_limit: bool
    outline_um: Array
    pixels: NDArray[np.intp]

    @property
    def sized(self) -> Sized:
        """What grading needs."""
        return Sized(
            kind=self.kind,
            size_um=self.size_um,
            size_u_um=self.size_u_um,
            inner_um=self.inner_um,
            outer_um=self.outer_um,
        )


def _from_stroke(stroke: Stroke) -> Mark:
    distance = np.hypot(stroke.path_um[:, 0], stroke.path_um[:, 1])
    middle = stroke.path_um[stroke.path_um.shape[0] // 2]
    half = stroke.width_um / 2
    inner = _least_distance(stroke.path_um)
    return Mark(
        kind="scratch",
        row_um=float(middle[0]),
        col_um=float(middle[1]),
        size_um=stroke.width_um,
        size_u_um=stroke.width_u_um,
        inner_um=max(0.0, inner - half),
        outer_um=float(distance.max()) + half,
        contrast=stroke.contrast,
        significance=stroke.significance,
        length_um=stroke.length_um,
        width_um=stroke.width_um,
        angle_deg=stroke.angle_deg,
        bow=_bow(stroke.path_um),
        filled=0.0,
        rim=0.0,
        on_glass=True,
        at_limit=stroke.at_limit,
        outline_um=stroke.path_um,
        pixels=np.zeros(0, np.intp),
    )


def _least_distance(path: Array) -> float:
    """Least distance from the origin to a chain of segments."""
    start, step = path[:-1], np.diff(path, axis=0)
    length2 = (step**2).sum(axis=1) + 1e-12
    t = np.clip(-(start * step).sum(axis=1) / length2, 0.0, 1.0)
    nearest = start + t[:, None] * step
    return float(np.hypot(nearest[:, 0], nearest[:, 1]).min())


def _bow(path: Array) -> float:
    chord = path[-1] - path[0]
    length = float(np.hypot(*chord)) + 1e-9
    aside = (path[:, 0] - path[0, 0]) * chord[1] - (path[:, 1] - path[0, 1]) * chord[0]
    return float(np.abs(aside).max()) / length**2


def _is_scratch(blob: Blob, fwhm_um: float) -> bool:
    width = math.sqrt(max(blob.width_um**2 - 0.5 * fwhm_um**2, 0.05))
    return (
        blob.on_glass
        and blob.length_um >= SHORTEST_SCRATCH_UM
        and blob.length_um >= ASPECT * width
        and blob.width_um <= WIDEST_SCRATCH_UM
        and blob.bow_um <= 0.10 * blob.length_um
    )


def _from_blob(blob: Blob, surface: Surface) -> Mark:
    fwhm = 2.3548 * surface.blur_um
    scratch = _is_scratch(blob, fwhm)
    size = blob.width_um if scratch else blob.size_um
    middle = blob.outline_um - blob.outline_um.mean(axis=0)
    _, _, axes = np.linalg.svd(middle, full_matrices=False)
    return Mark(
        kind="scratch" if scratch else "spot",
        row_um=blob.row_um,
        col_um=blob.col_um,
        size_um=size,
        size_u_um=blob.size_u_um,
        inner_um=blob.inner_um,
        outer_um=blob.outer_um,
        contrast=blob.contrast,
        significance=blob.significance,
        length_um=blob.length_um,
        width_um=blob.width_um,
        angle_deg=math.degrees(math.atan2(axes[0, 0], axes[0, 1])) % 180
        if scratch
        else None,
        bow=blob.bow_um / max(blob.length_um, 1e-6),
        filled=blob.filled,
        rim=blob.rim,
        on_glass=blob.on_glass,
        at_limit=size < 1.3 * fwhm,
        outline_um=blob.outline_um,
        pixels=blob.pixels,
    )


def _joined_over_ring(blobs: list[Blob]) -> list[Blob]:
    """A mark across the cladding edge was seen as two; measure it as one."""
    glass = [b for b in blobs if b.on_glass and b.outer_um > 57.5]
    ferrule = [b for b in blobs if not b.on_glass and b.inner_um < 68.0]
    gone: set[int] = set()
    merged: list[Blob] = []
    for a in glass:
        for b in ferrule:
            if id(b) in gone or id(a) in gone or a.contrast * b.contrast < 0:
                continue
            gap = np.hypot(
                a.outline_um[:, None, 0] - b.outline_um[None, :, 0],
                a.outline_um[:, None, 1] - b.outline_um[None, :, 1],
            ).min()
            if gap < 6.0:
                gone |= {id(a), id(b)}
                merged.append(_union(a, b))
    return [b for b in blobs if id(b) not in gone] + merged


def _union(a: Blob, b: Blob) -> Blob:
    outline = np.concatenate([a.outline_um, b.outline_um])
    circle = smallest_circle(outline[:, 0], outline[:, 1])
    return replace(
        a,
        outline_um=outline,
        row_um=circle.row,
        col_um=circle.col,
        size_um=2 * circle.radius,
        size_u_um=max(a.size_u_um, b.size_u_um),
        inner_um=min(a.inner_um, b.inner_um),
        outer_um=max(a.outer_um, b.outer_um),
        length_um=2 * circle.radius,
        width_um=max(a.width_um, b.width_um),
        pixels=np.zeros(0, np.intp),
    )


def _corridor(surface: Surface, strokes: list[Stroke]) -> Mask:
    """Pixels that belong to scratches."""
    mask = np.zeros(surface.glass.shape, bool)
    for stroke in strokes:
        reach = math.ceil((stroke.width_um / 2 + 1.2 + surface.blur_um) / surface.um)
        rows = np.rint(stroke.path_um[:, 0] / surface.um + surface.row0).astype(int)
        cols = np.rint(stroke.path_um[:, 1] / surface.um + surface.col0).astype(int)
        for row, col in zip(rows, cols, strict=True):
            mask[
                max(0, row - reach) : row + reach + 1,
                max(0, col - reach) : col + reach + 1,
            ] = True
    return mask


def _compact(surface: Surface, blobs: list[Blob], noise: float) -> Mask:
    """Strong round marks, which must not act as lines."""
    mask = np.zeros(surface.glass.size, bool)
    for blob in blobs:
        long = blob.length_um >= 4.0 * max(blob.width_um, 0.5) and blob.width_um < 6.0
        open_shape = blob.filled < 0.25 and blob.length_um > 10.0
        if not (long or open_shape) and abs(blob.contrast) > 3.0 * noise:
            mask[blob.pixels] = True
    from scipy import ndimage

    grown = ndimage.binary_dilation(
        mask.reshape(surface.glass.shape),
        np.ones((3, 3), bool),
        iterations=max(1, math.ceil(1.2 / surface.um)),
    )
    return np.asarray(grown, dtype=bool)


def _is_core(blob: Blob) -> bool:
    """A faint round disc of core size in the very middle belongs to the fibre."""
    return (
        math.hypot(blob.row_um, blob.col_um) < 3.2
        and 5.0 < blob.size_um < 12.0
        and abs(blob.contrast) < 0.06
        and blob.filled > (0.4 if abs(blob.contrast) > 0.03 else 0.15)
    )


def _nearest(blob: Blob, stroke: Stroke) -> float:
    return float(
        np.hypot(
            stroke.path_um[:, 0] - blob.row_um, stroke.path_um[:, 1] - blob.col_um
        ).min()
    )


def _of_a_spot(stroke: Stroke, blobs: list[Blob]) -> bool:
    """A short faint line through a strong compact spot is the spot's own trace."""
    return any(
        abs(blob.contrast) > 2.5 * abs(stroke.contrast)
        and blob.filled > 0.3
        and _nearest(blob, stroke) < blob.size_um / 2 + 3.0
        and stroke.length_um < 3.0 * blob.size_um + 14.0
        for blob in blobs
    )


def _on_scratch(blob: Blob, strokes: list[Stroke], corridor: Mask) -> bool:
    """Whether a blob is a piece of a scratch, not a stronger mark lying on it."""
    if corridor.ravel()[blob.pixels].mean() < 0.6:
        return False
    near = [
        abs(stroke.contrast)
        for stroke in strokes
        if _nearest(blob, stroke) < blob.size_um / 2 + stroke.width_um + 2.5
    ]
    compact = blob.filled > 0.5 and blob.width_um > 1.5
    return abs(blob.contrast) < (1.3 if compact else 2.5) * max(near, default=0.0)


def _in_shade(blob: Blob, stroke: Stroke) -> bool:
    """The faint halo beside a strong scratch."""
    if abs(blob.contrast) > 0.1 * abs(stroke.contrast):
        return False
    gap = np.hypot(
        blob.outline_um[:, None, 0] - stroke.path_um[None, :, 0],
        blob.outline_um[:, None, 1] - stroke.path_um[None, :, 1],
    ).min()
    return bool(gap < 3.5 + stroke.width_um / 2)


def _glass_spots(near: Surface, ripple: float) -> list[Blob]:
    factor = 7.0 if ripple > 0 else 6.3
    blobs = find_spots(
        near,
        region=near.glass,
        scales=(
            (0.35, factor, 0.025 + 2.2 * ripple),
            (0.8, factor, 0.018 + 1.8 * ripple),
            (2.5, 9.0, 0.02 + ripple),
        ),
    )
    return [
        blob
        for blob in blobs
        if not (ripple > 0 and _ringing(blob, near))
        and not (abs(blob.contrast) < 0.15 and blob.inner_um > 58.5)
        and not _leak_of_ring(blob)
    ]


def _leak_of_ring(blob: Blob) -> bool:
    """A small faint cloud at the rim of the glass is the blurred ring."""
    return abs(blob.contrast) < 0.04 and blob.outer_um > 58.5 and blob.size_um < 12.0


def _ringing(blob: Blob, surface: Surface) -> bool:
    """Faint specks within one compression block of the ring are its echo."""
    return abs(blob.contrast) < 0.08 and blob.outer_um > 62.0 - 9.0 * surface.um


def _without_nested(marks: list[Mark]) -> list[Mark]:
    """Rim and middle of one droplet are one mark."""
    ordered = sorted(marks, key=lambda mark: -mark.size_um)
    kept: list[Mark] = []
    for mark in ordered:
        inside = mark.kind == "spot" and any(
            other.kind == "spot"
            and math.hypot(mark.row_um - other.row_um, mark.col_um - other.col_um)
            + mark.size_um / 2
            < 0.55 * other.size_um
            and other.filled > 0.35
            for other in kept
        )
        if not inside:
            kept.append(mark)
    return kept


def find_marks(
    surface: Surface, *, block_step: float = 0.0, grey_step: float = 0.0
) -> list[Mark]:
    """Every mark that stands out of its region's noise.

    Parameters
    ----------
    surface : Surface
        The flat face [1]
    block_step : float, optional
        Height of the ripples that compression may have drawn, full scale is 1 [1]
    grey_step : float, optional
        One grey level of the file, full scale is 1 [1]

    Returns
    -------
    marks : list of Mark
        Largest first [1]
    """
    near = around(surface, 64.0)
    lossy = block_step > 0
    ripple = block_step / max(surface.glass_level, 0.02)
    glass_blobs = _glass_spots(near, ripple)
    noise = noise_of(near.deviation, near.glass)
    strokes = find_scratches(
        near,
        hidden=_compact(near, glass_blobs, noise),
        threshold=7.0 if lossy else 6.3,
        least_contrast=max(0.008, 1.2 * ripple),
        grey_step=grey_step / max(surface.glass_level, 0.02),
    )
    strokes = [
        stroke
        for stroke in strokes
        if stroke.width_um <= WIDEST_SCRATCH_UM and _bow(stroke.path_um) <= 0.1
    ]
    strokes = [s for s in strokes if not _of_a_spot(s, glass_blobs)]
    corridor = _corridor(near, strokes)
    crossed = any(_least_distance(stroke.path_um) < 9.0 for stroke in strokes)
    if crossed and any(
        blob.outer_um < 16.0 and not _on_scratch(blob, strokes, corridor)
        for blob in glass_blobs
    ):
        glass_blobs = _glass_spots(without_core(near, corridor), ripple)
    spots = [
        blob
        for blob in glass_blobs
        if not _on_scratch(blob, strokes, corridor)
        and not _is_core(blob)
        and not any(_in_shade(blob, stroke) for stroke in strokes)
    ]
    ferrule_blobs = find_spots(
        surface,
        region=surface.ferrule,
        scales=((1.0, 7.0, 0.15), (3.0, 9.0, 0.08)),
        smallest_um=4.0,
    )
    blobs = _joined_over_ring(spots + ferrule_blobs)
    marks = [_from_stroke(stroke) for stroke in strokes]
    marks += [_from_blob(blob, surface) for blob in blobs]
    return _without_nested(marks)
