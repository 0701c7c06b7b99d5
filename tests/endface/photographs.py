"""A second way to draw end faces, unlike the simulator of the demo in every respect.

Shapes are filled polygons on a fourfold grid, the lens is a flat disc of confusion,
the ferrule a mosaic of grains with pull-outs, the light a lamp spot with a vignette,
noise is counted photons plus fixed columns, and the camera may be a colour one.
"""

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

FINE = 4
PEN = 0.5 / FINE  # a filled polygon includes the pixels of its outline


@dataclass
class Shot:
    um: float = 0.5
    rows: int = 720
    cols: int = 800
    row_um: float = 0.0
    col_um: float = 0.0
    lens_um: float = 0.8
    glass: float = 110.0
    ferrule: float = 150.0
    photons: float = 6000.0
    grain: float = 0.08
    pullouts: int = 60
    crescent: float = 0.0
    vignette: float = 0.15
    angled: bool = False
    core: float = 0.0
    colour: bool = False
    ring_um: float = 1.0
    halo: float = 0.0


def _fine(shot):
    return Image.new("L", (shot.cols * FINE, shot.rows * FINE), 0)


def _cover(shot, paint):
    """Coverage of a shape painted on the fine grid, averaged down."""
    image = _fine(shot)
    paint(ImageDraw.Draw(image))
    fine = np.asarray(image, dtype=np.float32) / 255
    return fine.reshape(shot.rows, FINE, shot.cols, FINE).mean(axis=(1, 3))


def centre(shot):
    return (
        (shot.rows - 1) / 2 + shot.row_um / shot.um,
        (shot.cols - 1) / 2 + shot.col_um / shot.um,
    )


def _xy(shot, row_um, col_um):
    row, col = centre(shot)
    return (
        (col + col_um / shot.um + 0.5) * FINE - 0.5,
        (row + row_um / shot.um + 0.5) * FINE - 0.5,
    )


def round_shape(shot, row_um, col_um, radius, stretch=1.0, wobble=None):
    t = np.linspace(0, 2 * math.pi, 240, endpoint=False)
    r = np.full_like(t, radius - PEN * shot.um)
    if wobble is not None:
        for order, (a, p) in enumerate(wobble, start=2):
            r = r * (1 + a * np.sin(order * t + p))
    points = [
        _xy(shot, row_um + q * math.sin(u), col_um + q * stretch * math.cos(u))
        for q, u in zip(r, t, strict=True)
    ]
    return _cover(shot, lambda pen: pen.polygon(points, fill=255))


def bar(shot, row_um, col_um, angle, length, width):
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    width = width - 2 * PEN * shot.um
    corners = [
        (row_um + a * length / 2 * s + b * width / 2 * c,
         col_um + a * length / 2 * c - b * width / 2 * s)
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]  # fmt: skip
    points = [_xy(shot, *corner) for corner in corners]
    return _cover(shot, lambda pen: pen.polygon(points, fill=255))


def _mosaic(shot, rng):
    """Grains as the cells of random seeds, each with its own brightness."""
    size_px = max(1.2, 1.6 / shot.um)
    shape = (int(shot.rows / size_px) + 2, int(shot.cols / size_px) + 2)
    tone = rng.uniform(-1, 1, shape)
    y, x = np.mgrid[: shot.rows, : shot.cols] / size_px
    y = y + 0.8 * rng.uniform(-0.5, 0.5, (shot.rows, shot.cols))
    x = x + 0.8 * rng.uniform(-0.5, 0.5, (shot.rows, shot.cols))
    return tone[y.astype(int) % shape[0], x.astype(int) % shape[1]]


def _lens(image, shot):
    """Flat disc of confusion, unlike a Gaussian."""
    radius = shot.lens_um / 2 / shot.um
    reach = max(1, math.ceil(radius))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    kernel = np.clip(radius + 0.5 - np.hypot(y, x), 0, 1)
    soft = ndimage.convolve(image, kernel / kernel.sum(), mode="nearest")
    return ndimage.gaussian_filter(soft, 0.25 / shot.um)


def photograph(shot, rng, marks=()):
    """Grey values (M, N) or colour (M, N, 3), 8 bit.

    A mark is (coverage, factor): what the light under it is multiplied with.
    """
    stretch = 1.0 / math.cos(math.radians(8)) if shot.angled else 1.0
    cladding = round_shape(shot, 0, 0, 62.5, stretch)
    bore = round_shape(shot, 0.1, -0.1, 62.5 + shot.ring_um, stretch)
    face = shot.ferrule * (1 + shot.grain * _mosaic(shot, rng))
    for _ in range(shot.pullouts):
        row, col = rng.integers(3, shot.rows - 3), rng.integers(3, shot.cols - 3)
        face[row : row + 2, col : col + 2] *= rng.uniform(0.5, 0.9)
    dark = 18.0
    if shot.crescent:
        _, x = (
            np.mgrid[: shot.rows, : shot.cols] - np.array(centre(shot))[:, None, None]
        )
        dark = dark + shot.crescent * np.clip(x / 60, 0, 1)
    face = face * (1 - bore) + dark * (bore - cladding) + shot.glass * cladding
    if shot.core:
        face = face * (1 + shot.core * round_shape(shot, 0.2, -0.2, 4.3))
    for cover, factor in marks:
        face = face * (1 - (1 - factor) * cover)
        if shot.halo:
            wide = ndimage.gaussian_filter(cover, 2.5 / shot.um)
            face = face * (1 - shot.halo * np.clip(wide, 0, 0.3))
    y, x = np.mgrid[-1 : 1 : shot.rows * 1j, -1 : 1 : shot.cols * 1j]
    lamp = np.exp(-(((y - 0.2) ** 2) + (x + 0.15) ** 2) * shot.vignette)
    image = _lens(face, shot) * lamp
    image = (
        rng.poisson(np.clip(image, 0, None) / 255 * shot.photons) / shot.photons * 255
    )
    image = (
        image
        + rng.standard_normal(shot.cols) * 0.25
        + rng.standard_normal(image.shape) * 0.6
    )
    grey = np.clip(np.round(image), 0, 255).astype(np.uint8)
    if not shot.colour:
        return grey
    tint = np.array([0.35, 0.9, 1.0])
    noisy = image[..., None] * tint + rng.standard_normal((*image.shape, 3))
    return np.clip(np.round(noisy), 0, 255).astype(np.uint8)
