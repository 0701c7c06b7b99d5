"""Scratches: long thin lines on the glass, found by oriented filters of long support.

Every filter is the second derivative of a Gaussian across and a Gaussian along the
line, applied to deviations that were clipped first, so that a strong round speck
cannot look like a faint long line.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from eavelight.endface.fibre import binned
from eavelight.endface.surface import Image, Mask, Surface, noise_of

Array = NDArray[np.float64]
ANGLES = 24
ALONG_UM = 5.0
ACROSS_UM = 0.5
WIDE_UM = 1.4
LEAST_CLIP = 0.08
EIGHT = np.ones((3, 3), bool)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stroke:
    """A straight or slightly curved line; `path_um` runs along it, rows and columns."""

    path_um: Array
    angle_deg: float
    length_um: float
    width_um: float
    width_u_um: float
    contrast: float
    significance: float
    at_limit: bool


@lru_cache(maxsize=6)
def _bank(side: int, um: float, angles: int, across_um: float) -> NDArray[np.float32]:
    """Transfer functions of the oriented filters on a square grid."""
    fy = (fft.fftfreq(side)[:, None] / um).astype(np.float32)
    fx = (fft.rfftfreq(side)[None, :] / um).astype(np.float32)
    filters = np.empty((angles, side, side // 2 + 1), np.float32)
    for k in range(angles):
        t = math.pi * k / angles
        along = fx * math.cos(t) + fy * math.sin(t)
        across = fy * math.cos(t) - fx * math.sin(t)
        filters[k] = -((2 * math.pi * across) ** 2) * np.exp(
            -2 * math.pi**2 * ((across_um * across) ** 2 + (ALONG_UM * along) ** 2)
        )
    return filters


def _responses(
    clipped: Image, um: float, inside: Mask, scale: tuple[int, float]
) -> tuple[Image, NDArray[np.intp]]:
    """Largest signed response in units of its noise, and the angle that gave it."""
    angles, across = scale
    side = int(fft.next_fast_len(max(clipped.shape) + math.ceil(12.0 / um), real=True))
    padded = np.zeros((side, side), np.float32)
    rows, cols = clipped.shape
    padded[:rows, :cols] = clipped
    spectrum = fft.rfft2(padded)
    bank = _bank(side, round(um, 3), angles, across)
    best = np.zeros(clipped.shape, np.float32)
    size = np.zeros(clipped.shape, np.float32)
    angle = np.zeros(clipped.shape, np.int16)
    sample = np.zeros(clipped.shape, bool)
    sample[::4, ::4] = True
    sample &= inside
    for k in range(angles):
        answer = fft.irfft2(spectrum * bank[k], s=(side, side))[:rows, :cols]
        noise = 1.4826 * float(np.median(np.abs(answer[sample]))) + 1e-9
        answer *= np.float32(1.0 / noise)
        strength = np.abs(answer)
        better = strength > size
        np.copyto(size, strength, where=better)
        np.copyto(best, answer, where=better)
        np.copyto(angle, k, where=better)
    return best, angle.astype(np.intp)


def _both_scales(part: Surface, clipped: Image) -> tuple[Image, NDArray[np.intp]]:
    """Fine lines at full resolution, wide ones on a grid twice as coarse."""
    inside = part.radius_um < 60.0
    signed, angle = _responses(clipped, part.um, inside, (ANGLES, ACROSS_UM))
    coarse = binned(clipped, 2)
    rows, cols = coarse.shape
    half = np.ascontiguousarray(inside[: 2 * rows : 2, : 2 * cols : 2])
    wide, turn = _responses(coarse, 2 * part.um, half, (ANGLES // 2, WIDE_UM))
    wide = np.repeat(np.repeat(wide, 2, 0), 2, 1)
    turn = 2 * np.repeat(np.repeat(turn, 2, 0), 2, 1)
    view = (slice(0, 2 * rows), slice(0, 2 * cols))
    better = np.abs(wide) > np.abs(signed[view])
    np.copyto(signed[view], wide, where=better)
    np.copyto(angle[view], turn, where=better)
    return signed, angle


def _walk(
    response: Image, start: tuple[int, int], theta: float, um: float, low: float
) -> list[tuple[float, float]]:
    """Follow a crest from its summit in one direction, over gaps of a few µm."""
    y, x = float(start[0]), float(start[1])
    step = 1.0 / um
    lateral = np.linspace(-1.0, 1.0, 5) / um
    path: list[tuple[float, float]] = []
    course, missing, reached = theta, 0, 0
    for _ in range(140):
        y, x = y + step * math.sin(theta), x + step * math.cos(theta)
        rows = np.rint(y + lateral * math.cos(theta)).astype(int)
        cols = np.rint(x - lateral * math.sin(theta)).astype(int)
        if rows.min() < 0 or cols.min() < 0:
            break
        if rows.max() >= response.shape[0] or cols.max() >= response.shape[1]:
            break
        here = response[rows, cols] - 0.15 * np.abs(np.arange(-2, 3))
        best = int(np.argmax(here))
        path.append((y, x))
        if here[best] > low:
            y += 0.25 * lateral[best] * math.cos(theta)
            x -= 0.25 * lateral[best] * math.sin(theta)
            path[-1] = (y, x)
            if len(path) >= 6:
                old = path[-6]
                turn = math.atan2(y - old[0], x - old[1]) - theta
                turn = (turn + math.pi) % (2 * math.pi) - math.pi
                # a scratch bends little: never turn off at a crossing
                theta += 0.3 * max(-0.12, min(0.12, turn))
                theta = min(max(theta, course - 0.4), course + 0.4)
            missing, reached = 0, len(path)
        else:
            missing += 1
            if missing > 5:
                break
    return path[:reached]


def _profile(surface: Surface, path: Array, normal: Array) -> tuple[Array, Array]:
    """Deviation across the line at every point of the path; NaN off the glass."""
    offsets = np.arange(-7.0, 7.01, 0.25)
    y = path[:, :1] + offsets / surface.um * normal[:, :1]
    x = path[:, 1:] + offsets / surface.um * normal[:, 1:]
    value = ndimage.map_coordinates(surface.deviation, [y, x], order=1, mode="nearest")
    rows = np.clip(np.rint(y).astype(int), 0, surface.glass.shape[0] - 1)
    cols = np.clip(np.rint(x).astype(int), 0, surface.glass.shape[1] - 1)
    value = np.where(surface.glass[rows, cols], value, np.nan).astype(float)
    return offsets, value


def _half_width(offsets: Array, profile: Array) -> tuple[float, float, float]:
    """Width at half height, signed height, and position of a line profile."""
    far = np.abs(offsets) > 4.5
    base = float(np.median(profile[far]))
    height = profile - base
    near = np.abs(offsets) <= 1.75
    middle = int(np.flatnonzero(near)[np.argmax(np.abs(height[near]))])
    sign = 1.0 if height[middle] > 0 else -1.0
    height = sign * height
    top = float(np.sort(height[max(0, middle - 2) : middle + 3])[-3:].mean())
    half = 0.5 * top
    edges = []
    for step in (-1, 1):
        k = middle
        while 0 < k < offsets.size - 1 and height[k] > half:
            k += step
        inner, outer = height[k - step], height[k]
        t = (inner - half) / max(inner - outer, 1e-9)
        edges.append(offsets[k - step] + step * 0.25 * min(max(t, 0.0), 1.0))
    return float(edges[1] - edges[0]), sign * top, float(edges[0] + edges[1]) / 2


def _line_width(seen_um: float, fwhm_um: float) -> float:
    """Width of a line before blur: half-height width of a blurred box, inverted."""
    if seen_um > 2.0 * fwhm_um:
        return seen_um
    return (
        math.sqrt(max(seen_um**2 - fwhm_um**2, 0.0) * 1.0)
        if seen_um < (1.25 * fwhm_um)
        else seen_um - 0.25 * (2.0 * fwhm_um - seen_um)
    )


def _chunks_seen(value: Array, offsets: Array, contrast: float) -> float:
    """Share of 5 µm pieces of the line that show it."""
    centre = np.abs(offsets) <= 0.75
    side = (np.abs(offsets) > 2.5) & (np.abs(offsets) < 6.0)
    with np.errstate(invalid="ignore"):
        dip = np.nanmean(value[:, centre], axis=1) - np.nanmedian(
            value[:, side], axis=1
        )
    dip = dip[np.isfinite(dip)]
    pieces = [dip[k : k + 5].mean() for k in range(0, max(dip.size - 2, 1), 5)]
    return float(np.mean(np.array(pieces) * np.sign(contrast) > 0.3 * abs(contrast)))


def _seen_part(value: Array, offsets: Array) -> slice:
    """The path between the ends of the line; the long filter answers beyond them."""
    centre = np.abs(offsets) <= 0.75
    side = (np.abs(offsets) > 2.5) & (np.abs(offsets) < 6.0)
    dip = np.nanmean(value[:, centre], axis=1) - np.nanmedian(value[:, side], axis=1)
    dip = np.nan_to_num(dip)
    soft = ndimage.uniform_filter1d(dip * np.sign(np.median(dip) or 1.0), 5)
    seen = np.flatnonzero(soft > 0.45 * np.quantile(soft, 0.75))
    if seen.size < 2:
        return slice(0, 0)
    return slice(int(seen[0]), int(seen[-1]) + 1)


def _stroke(surface: Surface, path: Array, noise: float) -> Stroke | None:
    import warnings

    if path.shape[0] < 5:
        return None
    smooth = ndimage.gaussian_filter1d(path, 2.0, axis=0, mode="nearest")
    tangent = np.gradient(smooth, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-9
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    offsets, value = _profile(surface, smooth, normal)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        kept = _seen_part(value, offsets)
        smooth, normal, value = smooth[kept], normal[kept], value[kept]
        if smooth.shape[0] < 5:
            return None
        profile = np.nanmedian(value, axis=0)
        if not np.isfinite(profile).all():
            return None
        width, contrast, shift = _half_width(offsets, profile)
        share = _chunks_seen(value, offsets, contrast)
    smooth = smooth + shift / surface.um * normal
    length = float(np.hypot(*np.diff(smooth, axis=0).T).sum()) * surface.um
    count = max(1.0, length / surface.um * max(width, surface.um) / surface.um)
    significance = abs(contrast) / noise * math.sqrt(count)
    if share < 0.6 or significance < 5.0:
        return None
    fwhm = 2.3548 * surface.blur_um
    first, last = smooth[0], smooth[-1]
    return Stroke(
        path_um=(smooth - [surface.row0, surface.col0]) * surface.um,
        angle_deg=math.degrees(math.atan2(last[0] - first[0], last[1] - first[1]))
        % 180,
        length_um=length,
        width_um=_line_width(width, fwhm),
        width_u_um=math.hypot(0.1, 0.12 * surface.um, 0.6 * width / significance),
        contrast=contrast,
        significance=significance,
        at_limit=width < 1.45 * fwhm,
    )


def _trace(
    surface: Surface, signed: Image, angle: NDArray[np.intp], summit: tuple[int, int]
) -> Array:
    sign = 1.0 if signed[summit] > 0 else -1.0
    response = signed * np.float32(sign)
    theta = math.pi * float(angle[summit]) / ANGLES
    ahead = _walk(response, summit, theta, surface.um, 3.0)
    behind = _walk(response, summit, theta + math.pi, surface.um, 3.0)
    return np.array([*behind[::-1], summit, *ahead], dtype=float)


def _erase(size: Image, path: Array, um: float) -> None:
    """Take a line out of the search, and its weak side lobes farther out."""
    near, far = math.ceil(2.5 / um), math.ceil(5.0 / um)
    rows, cols = np.rint(path).astype(int).T
    echo = 0.4 * float(np.median(size[rows, cols]))
    for row, col in zip(rows[::2], cols[::2], strict=True):
        wide = size[
            max(0, row - far) : row + far + 1, max(0, col - far) : col + far + 1
        ]
        wide[wide < echo] = 0.0
    for row, col in zip(rows, cols, strict=True):
        size[
            max(0, row - near) : row + near + 1, max(0, col - near) : col + near + 1
        ] = 0.0


def find_scratches(
    surface: Surface,
    *,
    hidden: Mask,
    threshold: float = 6.3,
    least_contrast: float = 0.008,
    grey_step: float = 0.0,
    shortest_um: float = 8.0,
    most: int = 60,
) -> list[Stroke]:
    """Scratches on the glass; the ferrule has no scratch limit and much grain.

    Parameters
    ----------
    surface : Surface
        The flat face [1]
    hidden : ndarray of shape (M, N)
        Strong compact marks that must not act as lines [1]
    threshold : float, optional
        Least filter response in units of its noise [1]
    least_contrast : float, optional
        Fainter lines are left out [1]
    grey_step : float, optional
        One grey level of the file, as a share of the glass level [1]
    shortest_um : float, optional
        Shorter lines are left to the spots [µm]
    most : int, optional
        Stop after so many [1]

    Returns
    -------
    strokes : list of Stroke
        Lines, strongest first, pieces of one line joined [1]
    """
    part = surface
    noise = max(noise_of(part.deviation, part.glass), 0.5 * grey_step)
    # a lower clip would turn the faint halo of a strong line into a wide plateau
    limit = np.float32(max(3.5 * noise, LEAST_CLIP))
    clipped = np.clip(np.where(part.glass, part.deviation, 0.0), -limit, limit)
    clipped[hidden] = 0.0
    signed, angle = _both_scales(part, clipped.astype(np.float32))
    size = np.where(part.radius_um < 60.5, np.abs(signed), 0.0)
    found: list[Stroke] = []
    for _ in range(most):
        summit = np.unravel_index(int(np.argmax(size)), size.shape)
        if size[summit] < threshold:
            break
        path = _trace(part, signed, angle, (int(summit[0]), int(summit[1])))
        _erase(size, path, part.um)
        stroke = _stroke(part, path, noise)
        if stroke is None or abs(stroke.contrast) < least_contrast:
            continue
        if stroke.length_um >= shortest_um:
            found.append(stroke)
    found.sort(key=lambda stroke: -stroke.significance)
    kept: list[Stroke] = []
    for stroke in found:
        if _hugs_edge(stroke) or any(_echo(stroke, other) for other in kept):
            continue
        if not _explained(stroke, kept):
            kept.append(stroke)
    return _joined(kept)


def _explained(stroke: Stroke, kept: list[Stroke]) -> bool:
    """A path that runs mostly on stronger lines is a walk from one to the other."""
    gaps = [
        np.hypot(
            stroke.path_um[:, None, 0] - other.path_um[None, :, 0],
            stroke.path_um[:, None, 1] - other.path_um[None, :, 1],
        ).min(axis=1)
        - other.width_um / 2
        for other in kept
    ]
    return bool(gaps) and float(np.mean(np.min(gaps, axis=0) < 2.0)) > 0.6


def _echo(stroke: Stroke, other: Stroke) -> bool:
    """The same line again, or the filter's weak side lobe of a stronger one."""
    turn = abs((stroke.angle_deg - other.angle_deg + 90) % 180 - 90)
    turned = stroke.contrast * other.contrast < 0
    bound = 0.35 if turned else 0.1
    faint = abs(stroke.contrast) < bound * abs(other.contrast)
    if turn > 15.0 and not faint:
        return False
    gap = np.hypot(
        stroke.path_um[:, None, 0] - other.path_um[None, :, 0],
        stroke.path_um[:, None, 1] - other.path_um[None, :, 1],
    ).min(axis=1)
    apart = float(np.median(gap))
    share = abs(stroke.contrast) / abs(other.contrast)
    if faint and apart < 8.0:
        return True
    return apart < 1.5 or (apart < 2.0 + other.width_um and share < 0.3)


def _hugs_edge(stroke: Stroke) -> bool:
    """A line along the cladding edge is the edge itself."""
    radius = np.hypot(stroke.path_um[:, 0], stroke.path_um[:, 1])
    return bool(np.quantile(radius, 0.2) > 56.5)


def _follows(a: Stroke, b: Stroke) -> bool:
    """Whether b continues a: nearly parallel, little aside, not far along."""
    turn = abs((a.angle_deg - b.angle_deg + 90) % 180 - 90)
    if turn > 9.0 or a.contrast * b.contrast < 0:
        return False
    ends = [a.path_um[0], a.path_um[-1]]
    others = [b.path_um[0], b.path_um[-1]]
    gap, p, q = min(
        (
            (float(np.hypot(*(p - q))), i, j)
            for i, p in enumerate(ends)
            for j, q in enumerate(others)
        ),
        key=lambda item: item[0],
    )
    t = math.radians(a.angle_deg)
    between = ends[p] - others[q]
    aside = abs(between[0] * math.cos(t) - between[1] * math.sin(t))
    return gap < 30.0 and aside < 1.5 + 0.08 * gap


def _joined(strokes: list[Stroke]) -> list[Stroke]:
    """Pieces of one scratch counted once."""
    left = list(strokes)
    done: list[Stroke] = []
    while left:
        stroke = left.pop(0)
        partner = next((other for other in left if _follows(stroke, other)), None)
        if partner is None:
            done.append(stroke)
            continue
        left.remove(partner)
        t = math.radians(stroke.angle_deg)
        path = np.concatenate([stroke.path_um, partner.path_um])
        path = path[np.argsort(path[:, 1] * math.cos(t) + path[:, 0] * math.sin(t))]
        bigger = max(stroke, partner, key=lambda item: item.length_um)
        left.insert(0, _merged(bigger, path))
    return done


def _merged(stroke: Stroke, path: Array) -> Stroke:
    from dataclasses import replace

    length = float(np.hypot(*(path[-1] - path[0])))
    return replace(stroke, path_um=path, length_um=length)
