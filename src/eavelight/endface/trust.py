"""Whether a picture can be trusted: each reason not to is an id with its values.

A blurred, clipped or enlarged picture of a dirty face looks clean. A doubtful picture
is therefore refused, never graded.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from eavelight.endface.fibre import Fibre
from eavelight.endface.picture import Picture
from eavelight.endface.surface import Image, Mask, Surface, noise_of, ring_medians


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """Limits of the checks. Ours, not a standard's; change them together with care."""

    support: float = 0.6
    least_support: float = 0.5
    likeness: float = 0.88
    edge_um: float = 2.1
    clipped: float = 0.01
    clipped_ferrule: float = 0.3
    darkest: float = 0.04
    core_bright: float = 1.3
    one_sided_glass: float = 0.42
    one_sided_ferrule: float = 0.75
    one_sided_picture: float = 0.9
    uneven_focus: float = 0.4
    slight_glass: float = 0.2
    slight_ferrule: float = 0.35
    scale: float = 0.03
    stretched: float = 1.035
    coarsest_um_per_px: float = 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a picture is not graded; `values` fill the text of that reason."""

    reason: str
    values: tuple[tuple[str, float], ...] = ()


def refuse_dark(surface: Surface, trust: Trust) -> Refusal | None:
    """Too dark for marks to show.

    Parameters
    ----------
    surface : Surface
        The face with its raw grey values [1]
    trust : Trust
        Limits of the checks [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    black = float((surface.raw[surface.glass] <= 0.004).mean())
    if surface.glass_level < trust.darkest or black > 0.35:
        return Refusal(reason="too_dark", values=(("level", surface.glass_level),))
    return None


def refuse_clipped(surface: Surface, trust: Trust) -> Refusal | None:
    """Clipped to white where marks would show.

    Parameters
    ----------
    surface : Surface
        The face with its raw grey values [1]
    trust : Trust
        Limits of the checks [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    glass = surface.raw[surface.glass]
    top = float(surface.raw.max())
    white = min(0.994, top - 1e-4) if top > 0.6 else 0.994
    core = surface.radius_um[surface.glass] < 12.0
    share = float((glass[~core] >= white).mean())
    if share > trust.clipped:
        return Refusal(reason="overexposed", values=(("share", share),))
    ferrule = surface.raw[surface.ferrule]
    share = float((ferrule >= white).mean()) if ferrule.size else 0.0
    if share > trust.clipped_ferrule:
        return Refusal(reason="overexposed", values=(("share", share),))
    return None


def refuse_lit_core(surface: Surface, trust: Trust) -> Refusal | None:
    """A round bright core: light in the fibre hides what lies on it.

    Parameters
    ----------
    surface : Surface
        The face with its raw grey values [1]
    trust : Trust
        Limits of the checks [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    radius, raw = surface.radius_um, surface.raw
    inner = raw[radius < 2.5]
    around_it = raw[(radius > 18.0) & (radius < 30.0)]
    if inner.size < 4 or around_it.size < 4:
        return None
    ratio = float(np.median(inner) / max(float(np.median(around_it)), 0.02))
    if ratio > trust.core_bright:
        return Refusal(reason="light_in_core", values=(("ratio", ratio),))
    return None


def _sector_medians(surface: Surface, low: float, high: float) -> NDArray[np.float64]:
    rows, cols = np.nonzero((surface.radius_um > low) & (surface.radius_um < high))
    rows, cols = rows[::7], cols[::7]
    angle = np.arctan2(rows - surface.row0, cols - surface.col0)
    sector = ((angle / (2 * math.pi) + 0.5) * 8).astype(int) % 8
    values = surface.raw[rows, cols]
    return np.array(
        [
            np.median(values[sector == k]) if (sector == k).sum() > 10 else np.nan
            for k in range(8)
        ]
    )


def _one_sided(medians: NDArray[np.float64]) -> float:
    """Largest difference of opposite sectors over the mean."""
    difference = np.abs(medians - np.roll(medians, 4))
    known = difference[np.isfinite(difference)]
    mean = float(np.nanmean(medians)) if np.isfinite(medians).any() else 1.0
    return float(known.max()) / max(mean, 0.01) if known.size else 0.0


def light_imbalance(values: Image) -> float:
    """How much brighter one side of the picture is than the other.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values [1]

    Returns
    -------
    imbalance : float
        Larger difference of opposite outer quarters over their mean [1]
    """
    thin = values[::8, ::8]
    rows, cols = (max(1, n // 4) for n in thin.shape)
    sides = (
        (np.median(thin[:rows]), np.median(thin[-rows:])),
        (np.median(thin[:, :cols]), np.median(thin[:, -cols:])),
    )
    pairs = [(float(a), float(b)) for a, b in sides]
    return max(abs(a - b) / max((a + b) / 2, 0.01) for a, b in pairs)


def refuse_wrong_tip(surface: Surface, fibre: Fibre, trust: Trust) -> Refusal | None:
    """Light and focus on one side only: a flat tip on an angled plug.

    Parameters
    ----------
    surface : Surface
        The face with its raw grey values [1]
    fibre : Fibre
        The cladding [1]
    trust : Trust
        Limits of the checks [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    glass = _one_sided(_sector_medians(surface, 35.0, 58.0))
    ferrule = _one_sided(_sector_medians(surface, 68.0, 110.0))
    values = (("glass", glass), ("ferrule", ferrule), ("focus", fibre.uneven_focus))
    both = glass > trust.one_sided_glass and ferrule > trust.slight_ferrule
    if both or ferrule > trust.one_sided_ferrule:
        return Refusal(reason="one_sided", values=values)
    uneven = fibre.uneven_focus > trust.uneven_focus
    if uneven and (glass > trust.slight_glass or ferrule > trust.slight_ferrule):
        return Refusal(reason="one_sided", values=values)
    return None


def refuse_geometry(
    fibre: Fibre,
    shape: tuple[int, int],
    stated_um_per_px: float | None,
    trust: Trust,
) -> Refusal | None:
    """Cladding cut off, stretched, out of focus, or against the stated scale.

    Parameters
    ----------
    fibre : Fibre
        The cladding [1]
    shape : tuple of int
        Rows and columns of the picture [px]
    stated_um_per_px : float or None
        What the instrument states [µm/px]
    trust : Trust
        Limits of the checks [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    margin = fibre.radius_px * 0.97
    rows, cols = shape
    if (
        fibre.row_px < margin
        or fibre.col_px < margin
        or fibre.row_px > rows - 1 - margin
        or fibre.col_px > cols - 1 - margin
    ):
        return Refusal(reason="cut_off")
    if fibre.axis_ratio > trust.stretched:
        return Refusal(reason="stretched", values=(("ratio", fibre.axis_ratio),))
    if stated_um_per_px is not None:
        off = fibre.um_per_px / stated_um_per_px - 1.0
        if abs(off) > trust.scale:
            return Refusal(
                reason="scale_contradiction",
                values=(("stated", stated_um_per_px), ("measured", fibre.um_per_px)),
            )
    if fibre.um_per_px > trust.coarsest_um_per_px:
        return Refusal(reason="too_coarse", values=(("um_per_px", fibre.um_per_px),))
    if fibre.edge_um > max(trust.edge_um, 2.3 * fibre.um_per_px):
        return Refusal(reason="out_of_focus", values=(("edge_um", fibre.edge_um),))
    return None


def refuse_not_glass(surface: Surface) -> Refusal | None:
    """A circle whose inside is rougher than its outside is no fibre.

    Parameters
    ----------
    surface : Surface
        The flat face [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    inside = noise_of(surface.deviation, surface.glass)
    outside = noise_of(surface.deviation, surface.ferrule)
    if inside > max(0.12, 2.5 * outside):
        return Refusal(
            reason="no_end_face", values=(("inside", inside), ("outside", outside))
        )
    return None


def _sharp_pixels(values: Image, fibre: Fibre) -> int:
    """Steps and lines of strong contrast that no lens could make so sharp.

    The belt at the cladding edge is left out: nothing real is sharper.
    """
    count = 0
    for axis in (0, 1):
        if axis == 1:
            view = values[::2]
            rows, cols = np.nonzero(np.abs(view[:, 3:-2] - view[:, 2:-3]) > 0.25)
        else:
            view = values.T[::3]
            across = values[:, ::3]
            cols, rows = np.nonzero(np.abs(across[3:-2] - across[2:-3]) > 0.25)
        if rows.size == 0:
            continue
        cols = cols + 2
        jump = view[rows, cols + 1] - view[rows, cols]
        before = view[rows, cols] - view[rows, cols - 1]
        after = view[rows, cols + 2] - view[rows, cols + 1]
        size = np.abs(jump)
        clean_before = np.abs(before) < 0.07 * size
        clean_after = np.abs(after) < 0.07 * size
        line = clean_before & (np.abs(after + jump) < 0.25 * size)
        y, x = (2 * rows, cols) if axis == 1 else (cols, 3 * rows)
        away = np.hypot(y - fibre.row_px, x - fibre.col_px) / fibre.radius_px
        free = np.abs(away - 1.0) > 0.06
        count += int((((clean_before & clean_after) | line) & free).sum())
    return count


def _long_lines(values: Image) -> float:
    """Largest relative height of a straight line along a whole row or column."""
    worst = 0.0
    for axis in (0, 1):
        view = values if axis == 0 else values.T
        thin = np.ascontiguousarray(view[:, ::6])
        rise = thin[3:-3] - 0.5 * (thin[:-6] + thin[6:])
        half = rise.shape[1] // 2
        height = np.abs(np.partition(rise, half, axis=1)[:, half])
        level = max(float(np.median(thin[::8])), 0.05)
        # few places along a grainy row: the other rows tell how much is chance
        if height.max() > 8.0 * np.median(height):
            worst = max(worst, float(height.max()) / level)
    return worst


def _drawn_ring(surface: Surface) -> float:
    """Height of a thin line round the fibre that does not belong to it."""
    step = max(surface.um, 0.5)
    highest = 0.0
    for mask, every in ((surface.glass, 1), (surface.ferrule, 2)):
        some = mask[::every, ::every]
        radius = surface.radius_um[::every, ::every][some]
        values = surface.deviation[::every, ::every][some]
        bins = (radius / step).astype(np.intp)
        low, high = int(bins.min()), int(bins.max())
        profile = ring_medians(values, bins - low, high - low + 1, least=40)
        r = (np.arange(low, high + 1) + 0.5) * step
        flat = profile - ndimage.median_filter(profile, max(9, int(9 / step)))
        judged = (r > 9.0) & (r < r.max() - 2.0) & (r > r.min() + 1.0)
        flat = np.where(judged, flat, 0.0)
        peak = int(np.argmax(np.abs(flat)))
        if abs(flat[peak]) > highest and _all_round(surface, mask, r[peak], flat[peak]):
            highest = float(abs(flat[peak]))
    return highest


def _all_round(surface: Surface, mask: Mask, radius: float, height: float) -> bool:
    """Whether a ring of that radius shows in nearly every direction."""
    step = max(surface.um, 0.5)
    rows, cols = np.nonzero(mask & (np.abs(surface.radius_um - radius) <= 0.5 * step))
    angle = np.arctan2(rows - surface.row0, cols - surface.col0)
    sector = ((angle / (2 * math.pi) + 0.5) * 24).astype(np.intp) % 24
    medians = ring_medians(surface.deviation[rows, cols], sector, 24, least=1)
    return float(np.mean(medians * np.sign(height) > 0.4 * abs(height))) > 0.8


def refuse_rings(surface: Surface) -> Refusal | None:
    """Zone rings drawn round the fibre.

    Parameters
    ----------
    surface : Surface
        The flat face [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    ring = _drawn_ring(surface)
    if ring > 0.05:
        return Refusal(reason="graphics", values=(("ring", ring),))
    return None


def refuse_graphics(picture: Picture, fibre: Fibre) -> Refusal | None:
    """Lines, text or coloured marks drawn into the picture.

    Parameters
    ----------
    picture : Picture
        Grey values and colour tint [1]
    fibre : Fibre
        The cladding [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    if picture.tint is not None:
        coloured = float((picture.tint > 0.2).mean())
        if coloured > 1e-4:
            return Refusal(reason="graphics", values=(("coloured", coloured),))
    sharp = _sharp_pixels(picture.values, fibre)
    if sharp > (28 if fibre.um_per_px < 0.8 else 55):
        return Refusal(reason="graphics", values=(("sharp_pixels", float(sharp)),))
    line = _long_lines(picture.values)
    if line > 0.05:
        return Refusal(reason="graphics", values=(("line", line),))
    return None


def _patches(values: Image, fibre: Fibre, side: int) -> list[Image]:
    """Square patches spread over the picture."""
    rows, cols = values.shape
    side = min(side, rows, cols)
    found = []
    for r, c in ((0.5, 0.5), (0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)):
        top, left = int(r * (rows - side)), int(c * (cols - side))
        if (r, c) == (0.5, 0.5):
            top = min(max(0, round(fibre.row_px) - side // 2), rows - side)
            left = min(max(0, round(fibre.col_px) - side // 2), cols - side)
        found.append(values[top : top + side, left : left + side])
    return found


def screen_pattern(values: Image, fibre: Fibre, *, side_px: int = 192) -> float:
    """How far a regular pattern stands out of the spectrum, all over the picture.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values [1]
    fibre : Fibre
        The cladding [1]
    side_px : int, optional
        Side of the patches [px]

    Returns
    -------
    ratio : float
        Weakest patch power over its local median at the best frequency [1]
    """
    patches = _patches(values, fibre, side_px)
    side = patches[0].shape[0]
    window = np.hanning(side).astype(np.float32)
    window = window[:, None] * window
    fy = fft.fftfreq(side)[:, None]
    fx = fft.rfftfreq(side)[None, :]
    radial = np.rint(np.hypot(fy, fx) * side / 4).astype(np.intp)
    ratios = []
    for patch in patches:
        part = patch - ndimage.uniform_filter(patch, 17)
        part = np.clip(part, -0.15, 0.15) * window
        power = np.abs(fft.rfft2(part)) ** 2
        median = ring_medians(power.ravel(), radial.ravel(), int(radial.max()) + 1)
        ratios.append(power / (median[radial] + 1e-12))
    ratio = np.sort(np.array(ratios), axis=0)[1]
    ratio[np.hypot(fy, fx) * np.ones_like(ratio) < 0.06] = 0.0
    # the block grid of lossy compression lies on the axes, at multiples of 1/8
    block = (np.abs(fy * 8 - np.rint(fy * 8)) < 0.09) & (
        np.abs(fx * 8 - np.rint(fx * 8)) < 0.09
    )
    ratio[block] = 0.0
    return float(ratio.max())


def fine_noise_share(values: Image, fibre: Fibre) -> tuple[float, float]:
    """Noise between neighbours over noise four pixels apart, and the latter.

    One for the noise of a sensor, well below one after enlarging.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values at the resolution of the file [1]
    fibre : Fibre
        The cladding [1]

    Returns
    -------
    share : float
        Ratio of the variances [1]
    noise : float
        Standard deviation of the noise [1]
    """
    half = int(0.62 * fibre.radius_px)
    row, col = round(fibre.row_px), round(fibre.col_px)
    part = values[max(0, row - half) : row + half, max(0, col - half) : col + half]

    near = _tile_power(part, 1)
    far = _tile_power(part, 5)
    # marks have edges: only the quietest quarter of the glass tells its noise
    quiet = far <= np.quantile(far, 0.25)
    near_power, far_power = float(near[quiet].mean()), float(far[quiet].mean())
    return near_power / max(far_power, 1e-12), math.sqrt(far_power / 2)


def _tile_power(part: Image, lag: int, tile_px: int = 12) -> NDArray[np.float64]:
    """Variance of differences along rows, by tiles, without the slope of the light."""
    step = part[:, lag:] - part[:, :-lag]
    rows, cols = (n // tile_px for n in (part.shape[0], part.shape[1] - 5))
    step = step[: rows * tile_px, : cols * tile_px]
    tiles = step.reshape(rows, tile_px, cols, tile_px).swapaxes(1, 2)
    return np.asarray(tiles.reshape(rows * cols, -1).var(axis=1), dtype=float)


def blockiness(values: Image) -> float:
    """Traces of block compression in a picture that is now lossless.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values [1]

    Returns
    -------
    ratio : float
        Step across borders of 8 px blocks over the step elsewhere [1]
    """
    steps = (
        np.abs(values[::5, 1:] - values[::5, :-1]).mean(axis=0),
        np.abs(values[1:, ::5] - values[:-1, ::5]).mean(axis=1),
    )
    ratios = []
    for step in steps:
        n = step.size // 8 * 8
        phase = step[:n].reshape(-1, 8).mean(axis=0)
        # twofold or fourfold enlarging repeats within the block, compression does not
        ratios.append(float(phase[7] / (max(phase[1], phase[3], phase[5]) + 1e-9)))
    return min(ratios)


def _resampled(values: Image, *, lossy: bool) -> float:
    """Periodic sharpness left by enlarging, as height over its neighbourhood."""
    worst = 0.0
    for view in (values, values.T):
        some = np.ascontiguousarray(view[::7])
        curve = np.abs(2 * some[:, 1:-1] - some[:, :-2] - some[:, 2:])
        signal = np.minimum(curve, 0.03).mean(axis=0)
        signal = signal - ndimage.uniform_filter1d(signal, 33)
        spectrum = np.abs(fft.rfft(signal * np.hanning(signal.size)))
        f = np.arange(spectrum.size) / signal.size
        floor = ndimage.median_filter(spectrum, 41) + 1e-9
        ratio = spectrum / floor
        ratio[(f < 0.1) | (f > 0.49)] = 0.0
        if lossy:  # blocks of 8 and 16 are those of compression
            ratio[np.abs(f * 16 - np.rint(f * 16)) < 0.15] = 0.0
        worst = max(worst, float(ratio.max()))
    return worst


def refuse_copies(picture: Picture, fibre: Fibre) -> Refusal | None:
    """Enlarged pictures and photographs of a screen.

    Parameters
    ----------
    picture : Picture
        Grey values [1]
    fibre : Fibre
        The cladding [1]

    Returns
    -------
    refusal : Refusal or None
        The reason, if any [1]
    """
    pattern = screen_pattern(picture.values, fibre)
    if pattern > 60.0:
        return Refusal(reason="screen_photo", values=(("pattern", pattern),))
    share, noise = fine_noise_share(picture.values, fibre)
    # quantization hides weak noise; strong noise is dirt all over the glass
    telling = max(0.4 * picture.step, 1e-3) < noise < 0.02
    lossy = picture.block_step > 0 or blockiness(picture.values) > 1.06
    if share < 0.68 and telling and not lossy:
        return Refusal(reason="enlarged", values=(("fine_noise", share),))
    trace = _resampled(picture.values, lossy=lossy)
    if trace > (40.0 if lossy else 15.0):
        return Refusal(reason="enlarged", values=(("trace", trace),))
    return None
