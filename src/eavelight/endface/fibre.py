"""Find the fibre: the circle of the cladding, its scale, and how sharp its edge is.

Edge points vote for centres, each good centre is tested ray by ray, and the best is
refined by shifting every ray onto the mean edge profile. The core is never needed.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Image = NDArray[np.float32]
Array = NDArray[np.float64]
Points = tuple[Image, Image, Image, Image, Image]
RAYS = 180
CLADDING_UM = 125.0
"""Cladding diameter of every standard fibre (ITU-T G.652, G.657; 125 ± 0.7 µm)."""


ANGLED_OVAL = 1.0 / math.cos(math.radians(8.0)) - 1.0
"""A fibre cut at 8 degrees is longer by this share in one direction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fibre:
    """The cladding in the picture.

    `radius_px` is the mean radius of the glass, `scale_radius_px` the half axis that
    stands for 62.5 µm (the short one on an angled face), `support` the share of the
    edge that was seen, `edge_px` the 10 to 90 % width of the edge, `uneven_focus` the
    share of sectors much less sharp than the rest, `likeness` how much the edge looks
    the same all round (1 is alike). The edge lies at
    `radius_px + oval_px[0] cos 2t + oval_px[1] sin 2t` in direction t.
    """

    row_px: float
    col_px: float
    radius_px: float
    scale_radius_px: float
    axis_ratio: float
    support: float
    edge_px: float
    uneven_focus: float
    contrast: float
    likeness: float = 1.0
    oval_px: tuple[float, float] = (0.0, 0.0)

    @property
    def um_per_px(self) -> float:
        """Scale from the cladding diameter."""
        return CLADDING_UM / 2.0 / self.scale_radius_px

    @property
    def edge_um(self) -> float:
        """10 to 90 % width of the edge."""
        return self.edge_px * self.um_per_px


def _tone(values: Image, lines: int) -> tuple[Image, int]:
    """Logarithm of a coarse copy with about so many lines, and its bin size."""
    factor = max(1, round(min(values.shape) / lines))
    return np.log(np.maximum(binned(values, factor), np.float32(0.02))), factor


def _roughness(values: Image, lines: int) -> tuple[Image, int]:
    """Logarithm of the local grain: glass is smooth where nothing else tells it."""
    factor = max(1, round(min(values.shape) / lines))
    grain = np.zeros_like(values)
    grain[:, 3:] = np.abs(values[:, 3:] - values[:, :-3])
    grain[3:] += np.abs(values[3:] - values[:-3])
    level = np.maximum(binned(values, factor), np.float32(0.02))
    rough = ndimage.gaussian_filter(binned(grain, factor) / level, 1.5)
    return np.log(np.maximum(rough, np.float32(1e-3))), factor


def binned(values: Image, factor: int) -> Image:
    """Mean over square blocks; an incomplete block at the edge is dropped.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values [1]
    factor : int
        Side of a block [px]

    Returns
    -------
    smaller : ndarray of shape (M // factor, N // factor)
        Block means [1]

    Examples
    --------
    >>> import numpy as np
    >>> binned(np.array([[0.0, 1.0], [2.0, 3.0]], np.float32), 2).tolist()
    [[1.5]]
    """
    if factor == 1:
        return values
    rows, cols = (n // factor for n in values.shape)
    cut = values[: rows * factor, : cols * factor]
    # adding strided views beats a reshaped mean by a factor of five
    total = np.zeros((rows, cols * factor), np.float32)
    for i in range(factor):
        total += cut[i::factor]
    out = np.zeros((rows, cols), np.float32)
    for j in range(factor):
        out += total[:, j::factor]
    return out * np.float32(1.0 / factor**2)


def _edge_points(tone: Image) -> Points:
    """Gradient maxima: rows, columns, unit directions, weights."""
    gy = ndimage.gaussian_filter(tone, 1.0, order=(1, 0))
    gx = ndimage.gaussian_filter(tone, 1.0, order=(0, 1))
    size = np.hypot(gy, gx)
    size[:2], size[-2:], size[:, :2], size[:, -2:] = 0, 0, 0, 0
    keep = int(0.90 * size.size)
    limit = max(float(np.partition(size.ravel(), keep)[keep]), 1e-6)
    rows, cols = np.nonzero(size > limit)
    length = size[rows, cols]
    dy, dx = gy[rows, cols] / length, gx[rows, cols] / length
    # only the crest along the gradient votes
    sr, sc = np.rint(dy).astype(int), np.rint(dx).astype(int)
    crest = (length >= size[rows + sr, cols + sc]) & (
        length >= size[rows - sr, cols - sc]
    )
    weight = np.minimum(length / limit, 6.0)[crest]
    return (
        rows[crest].astype(np.float32),
        cols[crest].astype(np.float32),
        dy[crest],
        dx[crest],
        weight,
    )


def _centres(
    points: Points, shape: tuple[int, int], radii: Array
) -> list[tuple[float, float]]:
    """Places where most edge normals meet."""
    rows, cols, dy, dx, weight = points
    votes = np.zeros(shape[0] * shape[1])
    steps = radii.astype(np.float32)
    share = np.repeat(weight, steps.size)
    for sign in (np.float32(-1.0), np.float32(1.0)):
        r = (rows[:, None] + np.float32(0.5) + sign * dy[:, None] * steps).ravel()
        c = (cols[:, None] + np.float32(0.5) + sign * dx[:, None] * steps).ravel()
        good = (r >= 0) & (r < shape[0]) & (c >= 0) & (c < shape[1])
        index = r[good].astype(np.int32) * shape[1] + c[good].astype(np.int32)
        votes += np.bincount(index, weights=share[good], minlength=votes.size)
    smooth = ndimage.gaussian_filter(votes.reshape(shape).astype(np.float32), 1.5)
    smooth -= ndimage.uniform_filter(smooth, 25)
    peaks = smooth == ndimage.maximum_filter(smooth, 7)
    found = np.argwhere(peaks)
    order = np.argsort(-smooth[peaks])[:8]
    return [(float(r), float(c)) for r, c in found[order]]


def _sectors(
    centre: tuple[float, float], points: Points
) -> tuple[Array, NDArray[np.intp], NDArray[np.bool_]]:
    """Distance and sector of every point, and whether it faces the centre."""
    y, x = points[0] - centre[0], points[1] - centre[1]
    r = np.hypot(y, x) + 1e-9
    sector = ((np.arctan2(y, x) / (2 * np.pi) + 0.5) * 36).astype(int) % 36
    return r, sector, np.abs(y * points[2] + x * points[3]) > 0.9 * r


def _radii_of(
    centre: tuple[float, float], points: Points, radii: Array
) -> list[tuple[float, float]]:
    """Radii that have edge points all round a centre, each with how much."""
    r, sector, aligned = _sectors(centre, points)
    near = aligned & (r >= radii[0] - 1.5) & (r <= radii[-1] + 1.5)
    ring = np.rint(r[near] - radii[0] + 2).astype(int)
    seen = np.zeros((radii.size + 5, 36))
    np.maximum.at(seen, (ring, sector[near]), points[4][near])
    thick = np.maximum(np.maximum(seen[:-2], seen[1:-1]), seen[2:])
    share = np.sqrt(thick).mean(axis=1)[1 : radii.size + 1]
    chosen: list[tuple[float, float]] = []
    for index in np.argsort(-share)[:40]:
        radius = float(radii[index])
        if len(chosen) == 3:
            break
        if all(abs(radius - other) > 0.12 * other for _, other in chosen):
            chosen.append((float(share[index]), radius))
    return chosen


def _settled(
    centre: tuple[float, float], radius: float, points: Points
) -> tuple[float, float, float, float]:
    """Robust circle through the points near a rough one, with its sector share."""
    row, col = centre
    width = max(3.5, 0.12 * radius)
    rough = np.hypot(points[0] - row, points[1] - col)
    ring = np.abs(rough - radius) < 4 * width
    local = tuple(part[ring] for part in points)
    for _ in range(6):
        y, x = local[0] - row, local[1] - col
        r = np.hypot(y, x) + 1e-9
        gap = r - radius
        near = (np.abs(gap) < 3 * width) & (
            np.abs(y * local[2] + x * local[3]) > 0.85 * r
        )
        if near.sum() < 12:
            return row, col, radius, 0.0
        y, x, r, gap = y[near], x[near], r[near], gap[near]
        w = local[4][near] / (1.0 + (gap / width) ** 2) ** 2
        design = np.column_stack([y / r, x / r, np.ones_like(r)])
        weighted = (design * w[:, None]).T
        step = np.linalg.solve(weighted @ design + 1e-6 * np.eye(3), weighted @ gap)
        row, col, radius = row + step[0], col + step[1], radius + step[2]
        width = max(0.7, 0.6 * width)
    r, sector, aligned = _sectors((row, col), points)
    seen = np.zeros(36)
    hit = aligned & (np.abs(r - radius) < 1.2)
    np.maximum.at(seen, sector[hit], np.minimum(points[4][hit], 4.0))
    return float(row), float(col), float(radius), float(np.sqrt(seen).mean())


def _rays(
    values: Image, row: float, col: float, offsets: Array, radius: Array
) -> Array:
    """Grey values along rays; `radius` is one number per ray."""
    angle = np.arange(RAYS) * (2 * np.pi / RAYS)
    r = radius[:, None] + offsets
    y = row + r * np.sin(angle)[:, None]
    x = col + r * np.cos(angle)[:, None]
    return np.asarray(
        ndimage.map_coordinates(values, [y, x], order=1, mode="nearest"), dtype=float
    )


def _harmonics(shift: Array, weight: Array) -> Array:
    """Robust fit of shift = a0 + centre terms + ellipse terms over the angle."""
    t = np.arange(RAYS) * (2 * np.pi / RAYS)
    design = np.column_stack(
        [np.ones(RAYS), np.cos(t), np.sin(t), np.cos(2 * t), np.sin(2 * t)]
    )
    w = weight.copy()
    answer = np.zeros(5)
    for _ in range(6):
        sw = np.sqrt(w)[:, None]
        # a weak pull to zero keeps the ellipse terms quiet when much is hidden
        gram = (design * sw).T @ (design * sw) + np.diag([0, 0, 0, 3.0, 3.0])
        answer = np.linalg.solve(
            gram + 1e-9 * np.eye(5), (design * w[:, None]).T @ shift
        )
        rest = np.abs(shift - design @ answer)
        scale = max(0.15, 1.4826 * float(np.median(rest[weight > 0.1])))
        w = weight / np.maximum(1.0, (rest / (1.5 * scale)) ** 2)
    return answer


def _shifts(rays: Array, mean: Array, reach: int) -> tuple[Array, Array, Array]:
    """Shift of each ray's slope against the mean slope, its fit, and its weight.

    A ray with a weaker edge than most lies where epoxy hides the edge of the glass.
    """
    slope: Array = np.asarray(np.gradient(rays, axis=1))
    model = np.gradient(mean)
    middle = model[reach:-reach]
    middle_size = np.linalg.norm(middle) + 1e-12
    score = np.empty((rays.shape[0], 2 * reach + 1))
    running = np.zeros((rays.shape[0], slope.shape[1] + 1))
    np.cumsum(slope * slope, axis=1, out=running[:, 1:])
    energy = np.sqrt(running[:, middle.size :] - running[:, : -middle.size])
    for k in range(2 * reach + 1):
        score[:, k] = slope[:, k : k + middle.size] @ middle
    score /= middle_size * (energy[:, : 2 * reach + 1] + 1e-9)
    # bright epoxy turns the edge over; its place still tells that there is one
    best = np.clip(np.argmax(np.abs(score), axis=1), 1, 2 * reach - 1)
    index = np.arange(rays.shape[0])
    over = np.where(score[index, best] < 0, -1.0, 1.0)
    score = score * over[:, None]
    low, top, high = score[index, best - 1], score[index, best], score[index, best + 1]
    curve = low - 2 * top + high
    fine = np.where(curve < -1e-9, 0.5 * (low - high) / np.minimum(curve, -1e-9), 0.0)
    height = over * top * energy[index, best]
    usual = max(float(np.quantile(height, 0.7)), 1e-6)
    strong = np.clip((height / usual - 0.25) / 0.45, 0.0, 1.0)
    trust = np.clip((top - 0.3) / 0.4, 0.0, 1.0) * (0.02 + 0.98 * strong)
    return best - reach + np.clip(fine, -0.5, 0.5), top, trust


def _darkness(rays: Array, radius: float, offsets: Array) -> Array:
    """Trust in rays by how dark the ring is in them, where there is a dark ring.

    Bright or missing epoxy moves the visible edge from the glass to the bore.
    """
    near = np.abs(offsets) < 0.045 * radius
    inside = offsets < -0.02 * radius
    dip = np.median(rays[:, inside], axis=1) - rays[:, near].min(axis=1)
    deep = float(np.quantile(dip, 0.8))
    outside = np.median(rays[:, offsets > 0.03 * radius])
    step = abs(float(np.median(rays[:, inside])) - float(outside))
    if deep < 0.1 or deep < 0.25 * step:
        return np.ones(rays.shape[0])
    return np.asarray(np.clip((dip / deep - 0.45) / 0.3, 0.003, 1.0))


@dataclass(slots=True)
class _Edge:
    row: float
    col: float
    terms: Array
    support: float
    rays: Array
    weight: Array
    offsets: Array
    likeness: float


def _trace_edge(
    values: Image, start: tuple[float, float, float], spread: float
) -> _Edge | None:
    """Refine a rough circle until its edge lies on one radius in every ray."""
    row, col, radius = start
    terms = np.zeros(5)
    t = np.arange(RAYS) * (2 * np.pi / RAYS)
    step = max(0.5, radius / 250.0)
    for turn in range(6):
        half = max(4.0, (0.13, 0.08, 0.05, 0.045, 0.045, 0.045)[turn] * radius)
        count = int(half / step)
        offsets: Array = step * np.arange(-2.0 * count, 2.0 * count + 1.0)
        local = radius + terms[3] * np.cos(2 * t) + terms[4] * np.sin(2 * t)
        rays = _rays(values, row, col, offsets, local)
        blur = (spread, 1.0 / step)
        rays = ndimage.gaussian_filter(rays, blur, mode=("wrap", "nearest"))
        level = np.abs(rays[:, :count]).mean(axis=1, keepdims=True) + 1e-3
        rays = rays / level
        mean = np.median(rays, axis=0)
        shift, fit, weight = _shifts(rays, mean, count)
        dark = _darkness(rays, radius, offsets)
        if turn > 1 and (weight * dark).sum() > 0.3 * RAYS:
            weight = weight * dark
        if weight.sum() < 0.25 * RAYS:
            return None
        answer = _harmonics(shift * step, weight)
        row, col = row + answer[2], col + answer[1]
        radius += answer[0] if turn < 2 else 0.0
        terms[3:] += answer[3:]
        if turn > 2 and np.abs(answer[1:]).max() < 0.01:
            break
        if not 0.5 * start[2] < radius < 1.6 * start[2]:
            return None
    design = np.column_stack(
        [np.ones(RAYS), np.cos(t), np.sin(t), np.cos(2 * t), np.sin(2 * t)]
    )
    rest = np.abs(shift * step - design @ answer)
    good = (rest < max(1.5, 0.015 * radius)) & (fit > 0.4)
    sectors = good.reshape(36, -1).mean(axis=1) >= 0.6
    terms[0] = radius
    likeness = float(np.quantile(fit, 0.6))
    return _Edge(
        row, col, terms, float(sectors.mean()), rays, weight * good, offsets, likeness
    )


def _edge_model(p: Array, x: Array) -> Array:
    from scipy.special import ndtr

    inner, log_gap, log_sigma, glass, ring, ferrule = p
    sigma = math.exp(log_sigma)
    first = ndtr((x - inner) / sigma)
    second = ndtr((x - inner - math.exp(log_gap)) / sigma)
    return np.asarray(glass + (ring - glass) * first + (ferrule - ring) * second)


def _fit_edge(edge: _Edge) -> tuple[float, float, float]:
    """Where the glass ends on the mean profile, its blur [px], its contrast."""
    from scipy.optimize import least_squares

    radius = edge.terms[0]
    x = edge.offsets
    use = np.abs(x) < 0.09 * radius
    kept = edge.rays[edge.weight > 0.5] if (edge.weight > 0.5).sum() > 20 else edge.rays
    y = np.median(kept, axis=0)[use]
    x = x[use]
    glass, ferrule = (
        float(np.median(y[: y.size // 4])),
        float(np.median(y[-y.size // 4 :])),
    )
    low = int(np.argmin(y - np.interp(x, [x[0], x[-1]], [glass, ferrule])))
    um = radius / 62.5
    start = np.array(
        [
            x[low] - 0.4 * um,
            math.log(0.8 * um),
            math.log(0.5 * um),
            glass,
            0.3 * glass,
            ferrule,
        ]
    )

    def misfit(p: Array) -> Array:
        prior = [
            0.02 * (p[1] - math.log(0.8 * um)),
            0.02 * (p[2] - math.log(0.5 * um)),
            0.01 * min(0.0, p[4]) * 100,
        ]
        return np.concatenate([_edge_model(p, x) - y, prior])

    found = least_squares(misfit, start, max_nfev=40)
    p = found.x
    sigma = math.sqrt(max(math.exp(p[2]) ** 2 - 1.0, 0.05))  # smoothing along the ray
    return float(p[0]), sigma, float(np.ptp(y) / max(abs(glass), 1e-3))


def _uneven_focus(edge: _Edge) -> float:
    """Share of sectors whose edge is much softer than the sharpest third."""
    mean = edge.rays.reshape(18, -1, edge.rays.shape[1]).mean(axis=1)
    seen = edge.weight.reshape(18, -1).mean(axis=1) > 0.3
    near = np.abs(edge.offsets) < 0.07 * edge.terms[0]
    part = mean[:, near]
    width = np.ptp(part, axis=1) / (np.abs(np.diff(part, axis=1)).max(axis=1) + 1e-9)
    width = np.where(seen, width, np.inf)
    best = np.sort(width)[:6].mean()
    step = edge.offsets[1] - edge.offsets[0]
    soft = 2.3 * edge.terms[0] / 62.5 / step  # 2.3 µm is soft for any lens in use
    return float(np.mean(seen & (width > max(2.2 * best, soft))))


def _finish(edge: _Edge) -> Fibre:
    inner, sigma, contrast = _fit_edge(edge)
    radius = edge.terms[0] + inner
    flattening = 2.0 * math.hypot(edge.terms[3], edge.terms[4]) / radius
    # below half a per cent it is the noise of a circle; an 8 degree face shows 1 %
    known = min(flattening, ANGLED_OVAL) if flattening > 0.005 else 0.0
    short = radius * (1 - known / 2)
    return Fibre(
        row_px=edge.row,
        col_px=edge.col,
        radius_px=radius,
        scale_radius_px=short,
        axis_ratio=1.0 + flattening,
        support=edge.support,
        edge_px=2.563 * sigma,
        uneven_focus=_uneven_focus(edge),
        contrast=contrast,
        likeness=edge.likeness,
        oval_px=(float(edge.terms[3]), float(edge.terms[4])),
    )


def _inside_share(fibre: _Edge | Fibre, shape: tuple[int, int]) -> float:
    row, col, radius = (
        (fibre.row_px, fibre.col_px, fibre.radius_px)
        if isinstance(fibre, Fibre)
        else (fibre.row, fibre.col, fibre.terms[0])
    )
    t = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    y, x = row + radius * np.sin(t), col + radius * np.cos(t)
    return float(
        np.mean((y >= 0) & (y <= shape[0] - 1) & (x >= 0) & (x <= shape[1] - 1))
    )


def find_fibres(
    values: Image, *, stated_um_per_px: float | None = None
) -> tuple[Fibre, ...]:
    """Claddings in a picture, best first.

    Parameters
    ----------
    values : ndarray of shape (M, N)
        Grey values from 0 to 1 [1]
    stated_um_per_px : float, optional
        Scale that the instrument states; only breaks ties [µm/px]

    Returns
    -------
    fibres : tuple of Fibre
        Found claddings; empty when there is no end face [1]
    """
    found: list[Fibre] = []
    # finer, then by grain: only when the quick look saw no fibre
    for look, lines, spread in (
        (_tone, 210, 0.8),
        (_tone, 420, 1.5),
        (_roughness, 210, 2.5),
    ):
        small, factor = look(values, lines)
        found = _search(values, small, factor, spread)
        found = [fibre for fibre in found if not _lies_on_another(fibre, found)]
        found.sort(key=lambda fibre: -_merit(fibre, stated_um_per_px))
        if found and found[0].support >= 0.6:
            break
    return tuple(found)


def _search(values: Image, small: Image, factor: int, spread: float) -> list[Fibre]:
    """Fibres among the circles that the edges of a coarse picture suggest."""
    points = _edge_points(small)
    radii = np.arange(max(9.0, 40.0 / factor), 0.62 * min(small.shape), 1.0)
    if points[0].size < 60 or radii.size < 5:
        return []
    guesses = [
        (share, centre, radius)
        for centre in _centres(points, (small.shape[0], small.shape[1]), radii[::2])
        for share, radius in _radii_of(centre, points, radii)
    ]
    guesses.sort(reverse=True)
    rough = [_settled(centre, radius, points) for _, centre, radius in guesses[:8]]
    rough.sort(key=lambda item: -item[3])
    shift = (factor - 1) / 2
    found: list[Fibre] = []
    tried = 0
    for row, col, radius, share in rough:
        if tried == 5 or share < 0.5:
            break
        start = (row * factor + shift, col * factor + shift, radius * factor)
        if any(_covered(start, fibre) for fibre in found):
            continue
        tried += 1
        edge = _trace_edge(values, start, spread)
        if edge is None or edge.support < 0.5:
            continue
        fibre = _finish(edge)
        circle = (fibre.row_px, fibre.col_px, fibre.radius_px)
        if not any(_same(circle, other) for other in found):
            found.append(fibre)
    return found


def _same(circle: tuple[float, float, float], fibre: Fibre) -> bool:
    near = math.hypot(circle[0] - fibre.row_px, circle[1] - fibre.col_px)
    return near < 0.15 * fibre.radius_px and (
        abs(circle[2] - fibre.radius_px) < 0.06 * fibre.radius_px
    )


def _lies_on_another(fibre: Fibre, others: list[Fibre]) -> bool:
    """Whether a circle is a mark or a core on a larger and equally sure one."""
    return any(
        other.radius_px > 1.5 * fibre.radius_px
        and math.hypot(other.row_px - fibre.row_px, other.col_px - fibre.col_px)
        < 1.3 * other.radius_px
        and other.support > 0.8
        and other.likeness > 0.9
        and other.axis_ratio < 1.03
        and other.contrast > 0.05
        for other in others
    )


def _covered(circle: tuple[float, float, float], fibre: Fibre) -> bool:
    """Whether a good fibre makes another look at this circle pointless."""
    if _same(circle, fibre):
        return True
    if fibre.support < 0.85 or fibre.contrast < 0.08:
        return False
    apart = math.hypot(circle[0] - fibre.row_px, circle[1] - fibre.col_px)
    alike = abs(circle[2] / fibre.radius_px - 1) < 0.15
    # a droplet is a circle too, but the fibre is the larger one round it
    around = circle[2] > 1.5 * fibre.radius_px and apart < circle[2]
    return not (around or (alike and apart > 1.5 * fibre.radius_px))


def _merit(fibre: Fibre, stated: float | None) -> float:
    merit = fibre.support * math.sqrt(min(fibre.contrast, 0.6))
    if stated is not None and abs(fibre.um_per_px / stated - 1.0) < 0.03:
        merit += 1.0
    return merit
