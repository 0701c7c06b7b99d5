"""Spots, flakes and films: connected departures of either sign, sized by their
smallest enclosing circle at half height.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from eavelight.endface.geometry import smallest_circle
from eavelight.endface.surface import Image, Mask, Surface, noise_of

MOST = 400
Array = NDArray[np.float64]
EIGHT = np.ones((3, 3), bool)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blob:
    """One connected departure; outline and centre in micrometres from the fibre."""

    outline_um: Array
    row_um: float
    col_um: float
    size_um: float
    size_u_um: float
    inner_um: float
    outer_um: float
    contrast: float
    length_um: float
    width_um: float
    bow_um: float
    filled: float
    rim: float
    significance: float
    pixels: NDArray[np.intp]
    on_glass: bool


@lru_cache(maxsize=1)
def _blur_table() -> tuple[Array, Array]:
    """Half-height diameter of a blurred disc over its blur FWHM, and the true ratio."""
    from scipy.special import ive

    sigma = 1.0 / 2.3548
    truth = np.linspace(0.1, 4.0, 40)
    seen = []
    for diameter in truth:
        rho = np.linspace(0.0, diameter / 2, 80)
        r = np.linspace(0.0, diameter / 2 + 4 * sigma, 300)
        kernel = np.exp(-((r[:, None] - rho) ** 2) / (2 * sigma**2)) * ive(
            0, r[:, None] * rho / sigma**2
        )
        value = np.trapezoid(kernel * rho, rho, axis=1)
        seen.append(2 * float(np.interp(-0.5 * value[0], -value, r)))
    return np.array(seen), truth


def size_without_blur(seen_um: float, blur_fwhm_um: float) -> float:
    """True diameter of a disc whose blurred picture has a known half-height diameter.

    Above 1.3 times the blur the two agree to about 10 %; below, the seen size stops
    at the blur and says little.

    Parameters
    ----------
    seen_um : float
        Diameter at half of the peak [µm]
    blur_fwhm_um : float
        Full width at half maximum of the point spread [µm]

    Returns
    -------
    size_um : float
        Diameter before blur [µm]

    Examples
    --------
    >>> size_without_blur(5.0, 0.9)
    5.06
    """
    if blur_fwhm_um <= 0:
        return seen_um
    if seen_um > 3.8 * blur_fwhm_um:
        # the half height of a curved edge lies sigma squared over 2 R inside it
        return seen_um + 2 * (blur_fwhm_um / 2.3548) ** 2 / seen_um
    seen, truth = _blur_table()
    ratio = seen_um / blur_fwhm_um
    return float(seen_um * np.interp(ratio, seen, truth) / max(ratio, seen[0]))


def _outline(height: Image, mask: Mask, half: float) -> Array:
    """Sub-pixel crossings of the half height round a mask, rows and columns."""
    points = []
    for axis, step in ((0, 1), (0, -1), (1, 1), (1, -1)):
        other_mask = np.roll(mask, -step, axis)
        other = np.roll(height, -step, axis)
        rows, cols = np.nonzero(mask & ~other_mask)
        top, low = height[rows, cols], other[rows, cols]
        t = np.clip((top - half) / np.maximum(top - low, 1e-6), 0.0, 1.0) * step
        points.append(
            np.column_stack([rows + t, cols] if axis == 0 else [rows, cols + t])
        )
    return np.concatenate(points)


def _shape(outline: Array) -> tuple[float, float, float]:
    """Length, width and bow (sagitta) of an outline along its main axis."""
    middle = outline - outline.mean(axis=0)
    _, _, axes = np.linalg.svd(middle, full_matrices=False)
    u, v = middle @ axes[0], middle @ axes[1]
    length = float(np.ptp(u))
    if length < 1e-6:
        return 0.0, 0.0, 0.0
    curve = np.polyfit(u, v, 2) if u.size > 8 else np.zeros(3)
    spread = v - np.polyval(curve, u)
    width = float(np.quantile(spread, 0.9) - np.quantile(spread, 0.1))
    return length, width, float(abs(curve[0]) * (length / 2) ** 2)


def _size_u(surface: Surface, noise: float, contrast: float, size: float) -> float:
    """Standard uncertainty of a size: noise on the contour, grid, blur, scale."""
    jitter = noise / max(abs(contrast), noise) * 2.5 * surface.blur_um
    blur = 0.3 * surface.blur_um if size < 4.0 * surface.blur_um else 0.0
    return math.sqrt(
        jitter**2 + blur**2 + (0.12 * surface.um) ** 2 + 0.06**2 + (0.006 * size) ** 2
    )


def _blob(
    surface: Surface,
    window: tuple[slice, slice],
    parts: tuple[Image, Mask, float, float],
    noise_and_blur: tuple[float, float],
) -> Blob:
    height, piece, half, contrast = parts
    noise, blur = noise_and_blur
    um = surface.um
    filled_mask = ndimage.binary_fill_holes(piece) if piece.sum() > 8 else piece
    outline = _outline(height, piece, half)
    corner = np.array([window[0].start - surface.row0, window[1].start - surface.col0])
    outline = (outline + corner) * um
    circle = smallest_circle(outline[:, 0], outline[:, 1])
    size = size_without_blur(2 * circle.radius, 2.3548 * blur)
    distance = np.hypot(outline[:, 0], outline[:, 1])
    rows, cols = np.nonzero(filled_mask)
    pixels = (rows + window[0].start) * surface.raw.shape[1] + cols + window[1].start
    home = round(surface.row0) * surface.raw.shape[1] + round(surface.col0)
    shrink = (2 * circle.radius - size) / 2
    length, width, bow = _shape(outline)
    area = float(filled_mask.sum()) * um * um
    return Blob(
        outline_um=outline,
        row_um=circle.row,
        col_um=circle.col,
        size_um=size,
        size_u_um=_size_u(surface, noise, contrast, size),
        inner_um=0.0 if home in pixels else float(distance.min()) + shrink,
        outer_um=float(distance.max()) - shrink,
        contrast=contrast,
        length_um=length,
        width_um=width,
        bow_um=bow,
        filled=area / max(math.pi * circle.radius**2, um * um),
        rim=float(1 - piece.sum() / filled_mask.sum()),
        significance=abs(contrast) / noise,
        pixels=pixels,
        on_glass=bool(
            surface.glass[(rows + window[0].start), (cols + window[1].start)].mean()
            > 0.5
        ),
    )


def _pieces(
    height: Image, inside: Mask, limit: float, pad: int
) -> list[tuple[Mask, float, float]]:
    """Half-height pieces of one component; a weaker neighbour gets its own height."""
    left = inside.copy()
    found: list[tuple[Mask, float, float]] = []
    summit = (height >= ndimage.maximum_filter(height, 3)) & (height > limit)
    for _ in range(8):
        # the slope round a strong mark has no summit of its own
        if not (left & summit).any():
            break
        masked = np.where(left, height, 0.0)
        plateau = masked[masked > 0.6 * masked.max()]
        top = float(np.quantile(plateau, 0.9))
        labels, _ = ndimage.label(height > 0.5 * top, EIGHT)
        covered = np.zeros_like(left)
        for label in np.unique(labels[left & (masked > 0.5 * top)])[:60]:
            piece = labels == label
            # a part much weaker than the strongest is a neighbour with its own height
            if height[piece & left].max() < 0.7 * top:
                continue
            covered |= piece
            if not any((piece & other[0]).any() for other in found):
                found.append((piece, 0.5 * top, top))
        left &= ~ndimage.binary_dilation(covered, EIGHT, iterations=pad)
    return found


def _at_scale(
    surface: Surface, mask: Mask, sigma_um: float, limits: tuple[float, float]
) -> tuple[Image, float, float]:
    sigma = max(sigma_um / surface.um, 0.6)
    smooth = ndimage.gaussian_filter(
        surface.deviation, sigma, truncate=3.0, mode="nearest"
    )
    noise = noise_of(smooth, mask)
    return smooth, noise, max(limits[0] * noise, limits[1])


def find_spots(
    surface: Surface,
    *,
    region: Mask,
    scales: tuple[tuple[float, float, float], ...],
    smallest_um: float = 0.0,
) -> list[Blob]:
    """Marks of one region, from fine to coarse scale.

    Parameters
    ----------
    surface : Surface
        The flat face [1]
    region : ndarray of shape (M, N)
        Where to look: glass or ferrule, each with its own noise [1]
    scales : tuple of (smoothing in µm, factor on the noise, least contrast)
        Fine scale first [1]
    smallest_um : float, optional
        Smaller marks are not reported [µm]

    Returns
    -------
    blobs : list of Blob
        Strongest first, at most a few hundred [1]
    """
    taken = np.zeros(region.shape, bool)
    found: list[Blob] = []
    for sigma, factor, floor in scales:
        smooth, noise, limit = _at_scale(surface, region, sigma, (factor, floor))
        height = np.abs(smooth) * region
        labels, count = ndimage.label(height > 0.6 * limit, EIGHT)
        if count == 0:
            continue
        inside_any = labels > 0
        peaks = np.zeros(count + 1, np.float32)
        np.maximum.at(peaks, labels[inside_any], height[inside_any])
        peaks = peaks[1:]
        boxes = ndimage.find_objects(labels)
        order = np.argsort(-peaks)
        for index in order[:MOST]:
            if peaks[index] < limit or len(found) >= MOST:
                break
            box = _padded(boxes[index], region.shape, 3)
            inside = labels[box] == index + 1
            if (taken[box] & inside).sum() > 0.15 * inside.sum():
                continue
            pad = max(1, math.ceil(1.1 * surface.blur_um / surface.um + 0.5))
            for piece, half, top in _pieces(height[box], inside, limit, pad):
                sign = 1.0 if smooth[box][piece].mean() > 0 else -1.0
                blob = _blob(
                    surface,
                    box,
                    (height[box], piece, half, sign * top),
                    (noise, math.hypot(surface.blur_um, max(sigma, 0.6 * surface.um))),
                )
                if blob.size_um >= smallest_um:
                    found.append(blob)
            taken[box] |= inside
        taken = ndimage.binary_dilation(taken, EIGHT, iterations=2)
    return found


def _padded(
    box: tuple[slice, ...], shape: tuple[int, ...], pad: int
) -> tuple[slice, slice]:
    row, col = (
        slice(max(0, part.start - pad), min(n, part.stop + pad))
        for part, n in zip(box, shape, strict=True)
    )
    return row, col
