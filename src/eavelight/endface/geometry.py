"""Shapes fitted to points of a picture: circle, ellipse, smallest enclosing circle."""

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle in whatever length unit its points had."""

    row: float
    col: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """An ellipse; `angle_deg` turns from the row axis to the column axis."""

    row: float
    col: float
    semi_major: float
    semi_minor: float
    angle_deg: float


def _points(rows: ArrayLike, cols: ArrayLike, least: int) -> tuple[Array, Array]:
    y = np.asarray(rows, dtype=float).ravel()
    x = np.asarray(cols, dtype=float).ravel()
    if y.size != x.size or y.size < least:
        raise ValueError(f"rows and cols must be {least} or more points, got {y.size}")
    return y, x


def fit_circle(rows: ArrayLike, cols: ArrayLike) -> Circle:
    """Circle through points by the hyperaccurate-in-practice Taubin fit.

    Parameters
    ----------
    rows : array_like
        Row coordinates, three or more [px]
    cols : array_like
        Column coordinates [px]

    Returns
    -------
    circle : Circle
        Centre and radius [px]

    References
    ----------
    .. [1] G. Taubin, IEEE Trans. PAMI 13 (1991) 1115.

    Examples
    --------
    >>> circle = fit_circle([0.0, 2.0, 1.0, 1.0], [1.0, 1.0, 0.0, 2.0])
    >>> (circle.row, circle.col, circle.radius)
    (1.0, 1.0, 1.0)
    """
    y, x = _points(rows, cols, 3)
    row, col = y.mean(), x.mean()
    dy, dx = y - row, x - col
    z = dy * dy + dx * dx
    mean_z = z.mean()
    scaled = (z - mean_z) / (2.0 * math.sqrt(mean_z))
    _, _, vt = np.linalg.svd(np.column_stack([scaled, dx, dy]), full_matrices=False)
    a = vt[2]
    lead = a[0] / (2.0 * math.sqrt(mean_z))
    constant = -mean_z * lead
    radius = math.sqrt(a[1] ** 2 + a[2] ** 2 - 4.0 * lead * constant) / (
        2.0 * abs(lead)
    )
    return Circle(
        row=float(row - a[2] / (2.0 * lead)),
        col=float(col - a[1] / (2.0 * lead)),
        radius=float(radius),
    )


def fit_ellipse(rows: ArrayLike, cols: ArrayLike) -> Ellipse:
    """Ellipse through points by the direct least-squares fit.

    Parameters
    ----------
    rows : array_like
        Row coordinates, six or more [px]
    cols : array_like
        Column coordinates [px]

    Returns
    -------
    ellipse : Ellipse
        Centre, half axes and direction of the long axis [px]

    References
    ----------
    .. [1] R. Halir and J. Flusser, WSCG (1998), numerically stable direct fit.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.linspace(0.0, 6.0, 20)
    >>> ellipse = fit_ellipse(5.0 + 2.0 * np.sin(t), 7.0 + 3.0 * np.cos(t))
    >>> (ellipse.semi_major, ellipse.semi_minor, ellipse.angle_deg)
    (3.0, 2.0, 90.0)
    """
    y, x = _points(rows, cols, 6)
    row, col = y.mean(), x.mean()
    size = float(np.hypot(y - row, x - col).mean())
    v, u = (y - row) / size, (x - col) / size
    quadratic = np.column_stack([u * u, u * v, v * v])
    linear = np.column_stack([u, v, np.ones_like(u)])
    s1, s2, s3 = quadratic.T @ quadratic, quadratic.T @ linear, linear.T @ linear
    t = -np.linalg.solve(s3, s2.T)
    m = s1 + s2 @ t
    m = np.array([m[2] / 2.0, -m[1], m[0] / 2.0])
    _, vectors = np.linalg.eig(m)
    vectors = vectors.real
    positive = 4.0 * vectors[0] * vectors[2] - vectors[1] ** 2
    a, b, c = vectors[:, int(np.argmax(positive))]
    d, e, f = t @ np.array([a, b, c])
    u0, v0 = np.linalg.solve([[2.0 * a, b], [b, 2.0 * c]], [-d, -e])
    level = -(a * u0**2 + b * u0 * v0 + c * v0**2 + d * u0 + e * v0 + f)
    values, axes = np.linalg.eigh(np.array([[a, b / 2.0], [b / 2.0, c]]) / level)
    angle = math.degrees(math.atan2(axes[0, 0], axes[1, 0])) % 180.0
    return Ellipse(
        row=float(row + size * v0),
        col=float(col + size * u0),
        semi_major=float(size / math.sqrt(values[0])),
        semi_minor=float(size / math.sqrt(values[1])),
        angle_deg=float(angle),
    )


def _circle_of_few(points: list[tuple[float, float]]) -> tuple[float, float, float]:
    """Smallest circle around at most four points, by trying pairs and triples."""
    if len(points) == 1:
        return (*points[0], 0.0)
    found = [
        ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0, math.dist(p, q) / 2.0)
        for p, q in itertools.combinations(points, 2)
    ]
    for p, q, s in itertools.combinations(points, 3):
        ay, ax, by, bx = q[0] - p[0], q[1] - p[1], s[0] - p[0], s[1] - p[1]
        cross = 2.0 * (ax * by - ay * bx)
        if abs(cross) < 1e-12:
            continue
        a2, b2 = ax * ax + ay * ay, bx * bx + by * by
        uy, ux = (ax * b2 - bx * a2) / cross, (by * a2 - ay * b2) / cross
        found.append((p[0] + uy, p[1] + ux, math.hypot(uy, ux)))
    best = None
    for y, x, r in sorted(found, key=lambda circle: circle[2]):
        if all(math.hypot(p[0] - y, p[1] - x) <= r * (1 + 1e-9) for p in points):
            best = (y, x, r)
            break
    return best if best is not None else found[-1]


def smallest_circle(rows: ArrayLike, cols: ArrayLike) -> Circle:
    """Smallest circle that encloses all points.

    Grows a support set of at most three points by the farthest point left outside.

    Parameters
    ----------
    rows : array_like
        Row coordinates, one or more [px]
    cols : array_like
        Column coordinates [px]

    Returns
    -------
    circle : Circle
        The enclosing circle [px]

    Examples
    --------
    >>> 2 * smallest_circle([0.0, 0.0, 2.0, 2.0], [0.0, 6.0, 0.0, 6.0]).radius
    6.325
    """
    y, x = _points(rows, cols, 1)
    support = [(float(y[0]), float(x[0]))]
    circle = _circle_of_few(support)
    for _ in range(60):
        distance = np.hypot(y - circle[0], x - circle[1])
        far = int(np.argmax(distance))
        if distance[far] <= circle[2] * (1.0 + 1e-9) + 1e-12:
            break
        candidates = [*support, (float(y[far]), float(x[far]))]
        circle = _circle_of_few(candidates)
        edge = [
            p
            for p in candidates
            if math.hypot(p[0] - circle[0], p[1] - circle[1]) >= circle[2] * (1 - 1e-6)
        ]
        support = edge[-3:]
    return Circle(row=circle[0], col=circle[1], radius=circle[2])
