"""Draws microscope pictures of connector end faces whose truth is known.

Every shape is drawn by its blurred coverage in closed form or from an exact radial
integral, never by oversampling, so that a 0.3 µm line really is 0.3 µm wide.
Light, ferrule, ring, noise and file effects follow bright-field optics.
Grading shares nothing with this module.
"""

import io
import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, special

from eavelight.errors import MissingFeatureError

Array = NDArray[np.float64]
FWHM = 2.3548


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """Round spot; `transmission` over 1 is a bright one. Position from the centre."""

    row_um: float
    col_um: float
    diameter_um: float
    transmission: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Flake:
    """Irregular particle: radius r(angle) from a short Fourier series."""

    row_um: float
    col_um: float
    radius_um: float
    harmonics: tuple[tuple[float, float], ...] = ()
    transmission: float = 0.1
    height_um: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Straight or slightly curved scratch; `sagitta_um` bends it."""

    row_um: float
    col_um: float
    angle_deg: float
    length_um: float
    width_um: float
    contrast: float = 0.5
    sagitta_um: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Droplet:
    """Oil droplet: neutral or bright middle, dark rim."""

    row_um: float
    col_um: float
    diameter_um: float
    middle: float = 1.05
    rim: float = 0.5
    rim_um: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """Outline of dried solvent."""

    row_um: float
    col_um: float
    diameter_um: float
    width_um: float = 1.5
    contrast: float = 0.15
    wobble: float = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Lint:
    """Curved hair of given width."""

    row_um: float
    col_um: float
    length_um: float
    width_um: float
    turn_deg: float = 60.0
    angle_deg: float = 0.0
    transmission: float = 0.35


Mark = Disc | Flake | Line | Droplet | Ring | Lint


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything that decides a picture, except its noise."""

    shape: tuple[int, int] = (960, 1280)
    um_per_px: float = 0.5
    offset_um: tuple[float, float] = (0.0, 0.0)
    axis_ratio: float = 1.0
    axis_deg: float = 0.0
    psf_um: float = 0.9
    glass: float = 0.42
    ferrule: float = 0.6
    ring: float = 0.08
    gap_um: float = 0.8
    gap_uneven: float = 0.3
    grain: float = 0.04
    grain_um: float = 1.2
    core: float = 0.019
    core_um: float = 8.6
    core_graded: bool = False
    gradient: float = 0.1
    gradient_deg: float = 30.0
    falloff: float = 0.1
    noise: float = 0.01
    gamma: float = 1.0
    marks: tuple[Mark, ...] = field(default=())


@lru_cache(maxsize=512)
def _disc_profile(radius: float, sigma: float) -> tuple[Array, Array]:
    """Gaussian-blurred disc as a function of distance, by radial integration."""
    reach = radius + 5.0 * sigma
    r = np.linspace(0.0, reach, 80)
    rho = np.linspace(0.0, radius, 160)
    weight = np.exp(-((r[:, None] - rho) ** 2) / (2 * sigma**2)) * special.ive(
        0, r[:, None] * rho / sigma**2
    )
    value = np.trapezoid(weight * rho, rho, axis=1) / sigma**2
    return r, value


def _blur(scene: Scene) -> float:
    """Standard deviation of lens and pixel together [µm]."""
    return math.hypot(scene.psf_um / FWHM, scene.um_per_px / math.sqrt(12))


def _window(
    scene: Scene, row_um: float, col_um: float, reach_um: float
) -> tuple[slice, slice] | None:
    """Part of the picture that a mark can touch."""
    px = scene.um_per_px
    row0, col0 = centre_px(scene)
    low = [
        max(0, math.floor(c + p / px - reach_um / px))
        for c, p in ((row0, row_um), (col0, col_um))
    ]
    high = [
        min(n, math.ceil(c + p / px + reach_um / px) + 1)
        for n, c, p in zip(scene.shape, (row0, col0), (row_um, col_um), strict=True)
    ]
    if high[0] <= low[0] or high[1] <= low[1]:
        return None
    return slice(low[0], high[0]), slice(low[1], high[1])


def centre_px(scene: Scene) -> tuple[float, float]:
    """Row and column of the fibre centre."""
    rows, cols = scene.shape
    return (
        (rows - 1) / 2 + scene.offset_um[0] / scene.um_per_px,
        (cols - 1) / 2 + scene.offset_um[1] / scene.um_per_px,
    )


def _grid(scene: Scene, box: tuple[slice, slice]) -> tuple[Array, Array]:
    row0, col0 = centre_px(scene)
    y = (np.arange(box[0].start, box[0].stop) - row0) * scene.um_per_px
    x = (np.arange(box[1].start, box[1].stop) - col0) * scene.um_per_px
    return y[:, None], x[None, :]


def _edge(distance: Array, sigma: float) -> Array:
    """Blurred half plane, 1 where distance is negative."""
    return np.asarray(0.5 * special.erfc(distance / (math.sqrt(2) * sigma)))


def _line_cover(u: Array, v: Array, line: Line, sigma: float) -> Array:
    bend = line.sagitta_um * (1 - (2 * u / line.length_um) ** 2)
    v = v - bend
    half = line.width_um / 2
    across = _edge(v - half, sigma) - _edge(v + half, sigma)
    along = _edge(np.abs(u) - line.length_um / 2, sigma)
    return np.asarray(across * along)


def _rotated(y: Array, x: Array, angle_deg: float) -> tuple[Array, Array]:
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return x * c + y * s, y * c - x * s


def _flake_factor(y: Array, x: Array, mark: Flake, sigma: float) -> Array:
    blur = math.hypot(sigma, 0.15 * mark.height_um)
    angle = np.arctan2(y, x)
    edge = np.full_like(angle, mark.radius_um)
    for order, (a, b) in enumerate(mark.harmonics, start=2):
        edge += mark.radius_um * (a * np.cos(order * angle) + b * np.sin(order * angle))
    cover = _edge(np.hypot(y, x) - edge, blur)
    return np.asarray(1 - (1 - mark.transmission) * cover)


def _factor(y: Array, x: Array, mark: Mark, sigma: float) -> Array:
    """What the mark multiplies the reflected light with."""
    if isinstance(mark, Line):
        u, v = _rotated(y, x, mark.angle_deg)
        return 1 - mark.contrast * _line_cover(u, v, mark, sigma)
    r = np.hypot(y, x)
    if isinstance(mark, Disc):
        grid, value = _disc_profile(mark.diameter_um / 2, sigma)
        return np.asarray(
            1 - (1 - mark.transmission) * np.interp(r, grid, value, right=0.0)
        )
    if isinstance(mark, Flake):
        return _flake_factor(y, x, mark, sigma)
    if isinstance(mark, Droplet):
        outer = _edge(r - mark.diameter_um / 2, sigma)
        inner = _edge(r - max(0.0, mark.diameter_um / 2 - mark.rim_um), sigma)
        return np.asarray(
            1 - (1 - mark.rim) * (outer - inner) + (mark.middle - 1) * inner
        )
    if isinstance(mark, Ring):
        angle = np.arctan2(y, x)
        edge = mark.diameter_um / 2 * (1 + mark.wobble * np.sin(3 * angle + 0.7))
        line = _edge(np.abs(r - edge) - mark.width_um / 2, sigma)
        return np.asarray(1 - mark.contrast * line)
    return _lint_factor(y, x, mark, sigma)


def _lint_factor(y: Array, x: Array, mark: Lint, sigma: float) -> Array:
    """A circular arc of the given total turn."""
    u, v = _rotated(y, x, mark.angle_deg)
    bend = mark.length_um / math.radians(max(mark.turn_deg, 1.0))
    r = np.hypot(u, v + bend)
    along = np.arctan2(u, v + bend) * bend
    cover = _edge(np.abs(r - bend) - mark.width_um / 2, 1.4 * sigma)
    cover = cover * _edge(np.abs(along) - mark.length_um / 2, sigma)
    return np.asarray(1 - (1 - mark.transmission) * cover)


def _reach(mark: Mark, sigma: float) -> float:
    if isinstance(mark, Line | Lint):
        return mark.length_um * 0.6 + abs(mark.width_um) + 6 * sigma
    if isinstance(mark, Flake):
        return 2.0 * mark.radius_um + 6 * math.hypot(sigma, 0.15 * mark.height_um)
    return 0.6 * mark.diameter_um + 6 * sigma + 2.0


@lru_cache(maxsize=4)
def _texture(grain_px: float, side: int) -> NDArray[np.float32]:
    rng = np.random.default_rng(20260301)
    white = rng.standard_normal((side, side)).astype(np.float32)
    soft = ndimage.gaussian_filter(white, grain_px / 2.0, mode="wrap")
    return np.asarray(soft / soft.std(), dtype=np.float32)


def _ferrule(scene: Scene, rng: np.random.Generator) -> NDArray[np.float32]:
    rows, cols = scene.shape
    grain_px = math.hypot(scene.grain_um, scene.psf_um) / scene.um_per_px / 1.5
    tile = _texture(round(max(grain_px, 0.6), 1), 1536)
    shift = rng.integers(0, 1536, 2)
    tile = np.roll(tile, tuple(shift), (0, 1))
    repeat = (-(-rows // 1536), -(-cols // 1536))
    texture = np.tile(tile, repeat)[:rows, :cols]
    return np.asarray(scene.ferrule * (1 + scene.grain * texture), dtype=np.float32)


def _glass(scene: Scene, r: Array) -> Array:
    """Reflected light of the bare glass, core included."""
    if scene.core_graded:
        return scene.glass * (
            1 + scene.core * np.clip(1 - (2 * r / scene.core_um) ** 2, 0.0, 1.0)
        )
    sigma = _blur(scene)
    return scene.glass * (1 + scene.core * _edge(r - scene.core_um / 2, sigma))


def reflectance(scene: Scene, rng: np.random.Generator) -> Array:
    """The face before light, noise and file: glass, ring, ferrule and marks."""
    full = (slice(0, scene.shape[0]), slice(0, scene.shape[1]))
    y, x = _grid(scene, full)
    u, v = _rotated(y, x, scene.axis_deg)
    r = np.hypot(u / scene.axis_ratio, v)
    sigma = _blur(scene)
    inside = _edge(r - 62.5, sigma)
    shift = scene.gap_uneven * scene.gap_um / 2
    bore = np.hypot((u - shift) / scene.axis_ratio, v + 0.5 * shift)
    outside = 1 - _edge(bore - 62.5 - scene.gap_um, sigma)
    face = _glass(scene, r) * inside + _ferrule(scene, rng) * outside
    face += scene.ring * scene.glass * np.clip(1 - inside - outside, 0.0, 1.0)
    for mark in scene.marks:
        box = _window(scene, mark.row_um, mark.col_um, _reach(mark, sigma))
        if box is not None:
            yy, xx = _grid(scene, box)
            face[box] *= _factor(yy - mark.row_um, xx - mark.col_um, mark, sigma)
    return np.asarray(face)


def light(scene: Scene) -> Array:
    """Lamp: linear gradient across the cladding and radial fall-off to the corner."""
    full = (slice(0, scene.shape[0]), slice(0, scene.shape[1]))
    y, x = _grid(scene, full)
    u, _ = _rotated(y, x, scene.gradient_deg)
    corner = (y * y + x * x) / 300.0**2
    return np.asarray(
        np.clip(1 + scene.gradient * np.clip(u / 125.0, -1.5, 1.5), 0.05, None)
        / (1 + scene.falloff * corner)
    )


def draw(scene: Scene, rng: np.random.Generator) -> NDArray[np.uint8]:
    """The 8 bit picture."""
    clean = reflectance(scene, rng) * light(scene)
    grain = rng.standard_normal(scene.shape, dtype=np.float32)
    noisy = clean + scene.noise * grain * np.sqrt(0.3 + 0.7 * np.clip(clean, 0, 2))
    toned = np.clip(noisy, 0.0, 1.0) ** scene.gamma
    return np.asarray(np.round(255 * toned), dtype=np.uint8)


def encoded(pixels: NDArray[Any], kind: str = "PNG", **options: Any) -> bytes:
    """The picture as file bytes."""
    try:
        from PIL import Image
    except ImportError as error:
        raise MissingFeatureError("pictures of the demo", "image", str(error)) from None
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, format=kind, **options)
    return buffer.getvalue()


def before_and_after(scene: Scene, kept: tuple[int, ...]) -> tuple[Scene, Scene]:
    """The same face before and after a cleaning that leaves only `kept` marks."""
    left = tuple(scene.marks[index] for index in kept)
    return scene, replace(scene, marks=left)
