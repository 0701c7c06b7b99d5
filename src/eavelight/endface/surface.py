"""The face made flat: light removed, so that only what lies on the face is left.

Glass and ferrule get their own background and their own noise, never one across the
ring between them. What belongs to the fibre (core, core ring, graded core) is removed
by its shape, within bounds that dirt would break.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from eavelight.endface.fibre import Fibre, binned

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
REACH_UM = 132.0
RING_UM = 2.0
"""Half width of the belt round the cladding edge that is not judged."""
CORE_BESIDE_UM = 1.2
"""Core to cladding offset that is taken out: 0.6 µm (G.652) and the centre's doubt."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """Relative deviation from the clean face, on a square round the fibre.

    `deviation` is 0 in the belt round the cladding edge and outside; `row0`, `col0`
    is the fibre centre on this grid; `radius_um` the distance from the centre, with
    the oval of the cladding taken out; `core` the share by which the core is brighter.
    """

    deviation: Image
    raw: Image
    radius_um: Image
    glass: Mask
    ferrule: Mask
    row0: float
    col0: float
    um: float
    blur_um: float
    glass_level: float
    ferrule_level: float
    core: float
    seen_share: float


def _crop(values: Image, fibre: Fibre) -> tuple[Image, float, float, float]:
    """Square round the fibre, at about half a micrometre per pixel or coarser."""
    um = fibre.um_per_px
    reach = math.ceil(REACH_UM / um)
    row, col = round(fibre.row_px), round(fibre.col_px)
    top, left = max(0, row - reach), max(0, col - reach)
    part = values[top : row + reach + 1, left : col + reach + 1]
    factor = max(1, round(0.45 / um)) if um < 0.31 else 1
    shift = (factor - 1) / 2
    return (
        np.ascontiguousarray(binned(part, factor)),
        (fibre.row_px - top - shift) / factor,
        (fibre.col_px - left - shift) / factor,
        um * factor,
    )


def _monomials(y: Image, x: Image, order: int) -> list[Image]:
    return [y**i * x**j for i in range(order + 1) for j in range(order + 1 - i)]


def _background(part: Image, mask: Mask, y: Image, x: Image) -> Image:
    """Robust cubic surface through the masked pixels, evaluated everywhere."""
    stride = max(1, round(math.sqrt(mask.sum() / 6000)))
    thin = mask[::stride, ::stride]
    value = part[::stride, ::stride][thin].astype(float)
    yy = np.broadcast_to(y, part.shape)[::stride, ::stride][thin]
    xx = np.broadcast_to(x, part.shape)[::stride, ::stride][thin]
    design = np.column_stack(_monomials(yy.astype(float), xx.astype(float), 3))
    weight = np.ones(value.size)
    answer = np.zeros(design.shape[1])
    for _ in range(8):
        gram = (design * weight[:, None]).T @ design
        gram += 1e-6 * value.size * np.diag([0.0] + [1.0] * (design.shape[1] - 1))
        answer = np.linalg.solve(gram, (design * weight[:, None]).T @ value)
        rest = value - design @ answer
        scale = 4.7 * max(1.4826 * float(np.median(np.abs(rest))), 1e-4)
        weight = np.clip(1 - (rest / scale) ** 2, 0.0, None) ** 2
    out = np.zeros(part.shape, np.float32)
    powers = [np.ones_like(x), x, x * x, x * x * x]
    index = 0
    for i in range(4):
        row = np.zeros_like(x)
        for j in range(4 - i):
            row = row + np.float32(answer[index]) * powers[j]
            index += 1
        out += y**i * row
    return out


def ring_medians(
    values: Image, ring: NDArray[np.intp], count: int, *, least: int = 3
) -> Image:
    """Median of the values of each ring.

    Parameters
    ----------
    values : ndarray of shape (N,)
        Values [1]
    ring : ndarray of shape (N,)
        Number of the ring of each value, from 0 [1]
    count : int
        How many rings [1]
    least : int, optional
        A ring with fewer values gets 0 [1]

    Returns
    -------
    medians : ndarray of shape (count,)
        Upper median of each ring [1]

    Examples
    --------
    >>> import numpy as np
    >>> ring = np.array([0, 0, 0, 1, 1, 1])
    >>> ring_medians(np.array([1, 5, 2, 7, 7, 9.0]), ring, 2).tolist()
    [2.0, 7.0]
    """
    order = np.argsort(ring.astype(np.int16), kind="stable")
    ordered = values[order]
    edges = np.searchsorted(ring[order], np.arange(count + 1))
    out = np.zeros(count, np.float32)
    for k in range(count):
        part = ordered[edges[k] : edges[k + 1]]
        if part.size >= least:
            half = part.size // 2
            out[k] = np.partition(part, half)[half]
    return out


def _core_shape(profile: Image, step: float, blur: float) -> tuple[Image, float]:
    """Best disc or ring of core size through the inner radial profile."""
    from scipy.special import ndtr

    r = (np.arange(profile.size) + 0.5) * step
    near = r < 9.0
    r, y = r[near], profile[near].astype(float)
    weight = np.sqrt(r)
    best = (np.inf, np.zeros_like(r))
    for a in np.arange(2.5, 6.1, 0.25):
        disc = 1 - ndtr((r - a) / blur)
        ring = np.exp(-0.5 * ((r - a) / max(blur, 0.35)) ** 2)
        design = np.column_stack([disc, ring]) * weight[:, None]
        coefficients = np.linalg.lstsq(design, y * weight, rcond=None)[0]
        if not (abs(coefficients) < (0.12, 0.12)).all():
            continue
        model = np.column_stack([disc, ring]) @ coefficients
        misfit = float((((y - model) * weight) ** 2).sum())
        if misfit < best[0]:
            best = (misfit, model)
    out = np.zeros(profile.size, np.float32)
    out[: r.size] = best[1]
    total = float(((y * weight) ** 2).sum())
    explained = 1 - best[0] / total if total > 0 else 0.0
    if explained < 0.5:
        return np.zeros(profile.size, np.float32), 0.0
    return out, float(out[:4].mean())


def _core_place(deviation: Image, y: Image, x: Image) -> tuple[float, float]:
    """Middle of a faint disc of core size near the centre, in µm; else the centre."""
    um = float(x[0, 1] - x[0, 0])
    rows, cols = np.flatnonzero(np.abs(y[:, 0]) < 13), np.flatnonzero(np.abs(x[0]) < 13)
    box = (slice(rows[0], rows[-1] + 1), slice(cols[0], cols[-1] + 1))
    soft = ndimage.gaussian_filter(np.clip(deviation[box], -0.13, 0.13), 1.0 / um)
    yy, xx = y[box[0]], x[:, box[1]]
    r = np.hypot(yy, xx)
    ring = soft[(r > 8.0) & (r < 12.0)]
    level = float(np.median(ring))
    noise = 1.4826 * float(np.median(np.abs(ring - level))) + 1e-5
    inner = soft[r < 3.0] - level
    sign = 1.0 if float(np.median(inner)) > 0 else -1.0
    weight = np.clip(sign * (soft - level) - 2.0 * noise, 0.0, None) * (r < 7.0)
    if abs(float(np.median(inner))) < 3.0 * noise or weight.sum() <= 0:
        return 0.0, 0.0
    total = float(weight.sum())
    away = (float((weight * yy).sum()) / total, float((weight * xx).sum()) / total)
    length = math.hypot(*away)
    shrink = min(1.0, CORE_BESIDE_UM / length) if length > 0 else 0.0
    return away[0] * shrink, away[1] * shrink


def _design_features(
    deviation: Image, radius: Image, glass: Mask, blur: float, *, graded: bool
) -> tuple[Image, float]:
    """What belongs to the fibre, as a function of radius only."""
    step = 0.5
    inside = radius[glass]
    bins = (inside / step).astype(np.intp)
    count = int(62.5 / step) + 1
    values = deviation[glass]
    profile = ring_medians(values, bins, count)
    # what departs more than a core may is a mark and must not shape the core
    calm = (np.abs(values) < 0.13) & (inside < 9.0)
    inner = int(9.0 / step)
    profile[:inner] = ring_medians(values[calm], bins[calm], count)[:inner]
    # only a graded core shapes the glass beyond the core itself
    bound = 0.15 if graded else 0.0
    smooth = np.clip(ndimage.gaussian_filter1d(profile, 1.0), -bound, bound)
    r = (np.arange(count) + 0.5) * step
    core = 0.0
    hole = r < 7.0
    if graded:
        near = (r >= 7.0) & (r < 20.0)
        fit = np.polyfit(r[near] ** 2, smooth[near], 1)
        smooth[hole] = np.clip(np.polyval(fit, r[hole] ** 2), -bound, bound)
    else:
        level = float(np.median(profile[(r >= 7.0) & (r < 10.0)]))
        rest = np.where(hole, profile - np.clip(level, -0.02, 0.02), 0.0)
        shape, core = _core_shape(rest, step, blur)
        smooth = smooth + shape
    return np.interp(radius, r, smooth).astype(np.float32), core


def flatten(values: Image, fibre: Fibre, *, graded_core: bool = False) -> Surface:
    """Remove light and design features from the face.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values from 0 to 1 [1]
    fibre : Fibre
        The cladding found in them [1]
    graded_core : bool, optional
        Whether the fibre has a wide graded core that may show [1]

    Returns
    -------
    surface : Surface
        Relative deviation from the clean face [1]
    """
    part, row0, col0, um = _crop(values, fibre)
    y = ((np.arange(part.shape[0]) - row0) * um).astype(np.float32)[:, None]
    x = ((np.arange(part.shape[1]) - col0) * um).astype(np.float32)[None, :]
    radius = np.sqrt(y * y + x * x)
    if fibre.axis_ratio > 1.002:
        cos2 = (x * x - y * y) / np.maximum(radius, np.float32(0.1)) ** 2
        sin2 = 2 * y * x / np.maximum(radius, np.float32(0.1)) ** 2
        a, b = (term / fibre.radius_px for term in fibre.oval_px)
        radius = radius * (1 - np.float32(a) * cos2 - np.float32(b) * sin2)
    radius = radius * np.float32(fibre.scale_radius_px / fibre.radius_px)
    belt = max(RING_UM, 1.3 * fibre.edge_um)
    glass = radius < 62.5 - belt
    ferrule = (radius > 62.5 + belt) & (radius < REACH_UM - 2.0)
    # no lens of these instruments resolves better than about 0.6 µm
    blur = math.hypot(max(fibre.edge_um / 2.563, 0.27), 0.2 * um)
    scale = np.float32(1.0 / 62.5)
    deviation = np.zeros_like(part)
    levels = []
    for mask, narrow in ((glass, 1.0), (ferrule, 0.5)):
        k = np.float32(narrow) * scale
        background = _background(part, mask, y * k, x * k)
        floor = np.float32(0.25 * max(float(np.median(part[mask])), 0.02))
        np.maximum(background, floor, out=background)
        deviation[mask] = part[mask] / background[mask] - 1
        levels.append(float(np.median(part[mask])))
    # the core may sit a little beside the middle of the cladding
    beside = (0.0, 0.0) if graded_core else _core_place(deviation, y, x)
    from_core = np.where(
        radius < 12.0, np.hypot(y - beside[0], x - beside[1]), radius
    ).astype(np.float32)
    features, core = _design_features(
        deviation, from_core, glass, max(blur, 0.3), graded=graded_core
    )
    deviation[glass] -= features[glass]
    full = math.pi * ((REACH_UM - 2.0) ** 2 - (62.5 + belt) ** 2) / um**2
    return Surface(
        deviation=deviation,
        raw=part,
        radius_um=radius,
        glass=glass,
        ferrule=ferrule,
        row0=row0,
        col0=col0,
        um=um,
        blur_um=blur,
        glass_level=levels[0],
        ferrule_level=levels[1],
        core=core,
        seen_share=min(1.0, 1.001 * float(ferrule.sum()) / full),
    )


def without_core(surface: Surface, hidden: Mask) -> Surface:
    """The same face with the core removed again, without looking at hidden pixels.

    Parameters
    ----------
    surface : Surface
        A flat face whose core a mark may have distorted [1]
    hidden : ndarray of shape (M, N)
        Pixels of marks [1]

    Returns
    -------
    surface : Surface
        The face with what was left of the core taken out [1]
    """
    step = 0.5
    seen = surface.glass & ~hidden & (surface.radius_um < 9.0)
    ring = (surface.radius_um[seen] / step).astype(np.intp)
    profile = ring_medians(surface.deviation[seen], ring, 18, least=6)
    shape, _ = _core_shape(profile, step, max(surface.blur_um, 0.3))
    r = (np.arange(18) + 0.5) * step
    core = np.interp(surface.radius_um, r, shape, right=0.0).astype(np.float32)
    return replace(
        surface, deviation=surface.deviation - np.where(surface.glass, core, 0.0)
    )


def around(surface: Surface, reach_um: float) -> Surface:
    """The part of a surface near the fibre.

    Parameters
    ----------
    surface : Surface
        The flat face [1]
    reach_um : float
        Half side of the square that is kept [µm]

    Returns
    -------
    part : Surface
        The same face on a smaller grid [1]
    """
    reach = math.ceil(reach_um / surface.um)
    top = max(0, round(surface.row0) - reach)
    left = max(0, round(surface.col0) - reach)
    box = (
        slice(top, round(surface.row0) + reach + 1),
        slice(left, round(surface.col0) + reach + 1),
    )
    return replace(
        surface,
        deviation=np.ascontiguousarray(surface.deviation[box]),
        raw=surface.raw[box],
        radius_um=surface.radius_um[box],
        glass=surface.glass[box],
        ferrule=surface.ferrule[box],
        row0=surface.row0 - top,
        col0=surface.col0 - left,
    )


def noise_of(smooth: Image, mask: Mask, tile_px: int = 24) -> float:
    """Noise of a flat picture, taken where it is quiet.

    The lower quartile over tiles of the scaled median absolute deviation: dirt on
    half of the face does not raise it.

    Parameters
    ----------
    smooth : ndarray of shape (M, N)
        Deviations [1]
    mask : ndarray of shape (M, N)
        Pixels that belong to the region [1]
    tile_px : int, optional
        Side of a tile [px]

    Returns
    -------
    noise : float
        Standard deviation [1]
    """
    rows, cols = (n // tile_px for n in smooth.shape)
    cut = (slice(0, rows * tile_px), slice(0, cols * tile_px))
    blocks = smooth[cut].reshape(rows, tile_px, cols, tile_px).swapaxes(1, 2)
    inside = mask[cut].reshape(rows, tile_px, cols, tile_px).swapaxes(1, 2)
    full = inside.all(axis=(2, 3))
    if full.sum() < 4:
        found = smooth[mask]
        return float(1.4826 * np.median(np.abs(found))) if found.size else 1.0
    tiles = blocks[full].reshape(int(full.sum()), -1)[:, ::2]
    middle = np.median(tiles, axis=1, keepdims=True)
    spread = 1.4826 * np.median(np.abs(tiles - middle), axis=1)
    offset = float(np.quantile(np.abs(middle), 0.25))
    return max(float(np.hypot(np.quantile(spread, 0.35), offset)), 1e-5)
