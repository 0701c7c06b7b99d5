"""The fibre is found where it was drawn; two unlike renderers."""

import math
from dataclasses import replace

import numpy as np
import pytest

from eavelight.demo.endface_simulator import Flake, Scene, centre_px, draw
from eavelight.endface.fibre import find_fibres


def values_of(pixels):
    return (pixels.astype(np.float32) / 255).astype(np.float32)


def drawn(scene, seed=1):
    return find_fibres(values_of(draw(scene, np.random.default_rng(seed))))


SCENES = {
    "plain": Scene(),
    "fine sampling": Scene(um_per_px=0.27),
    "coarse sampling": Scene(um_per_px=0.95),
    "steep light": Scene(gradient=0.2, falloff=0.2),
    "off centre": Scene(offset_um=(60.0, -60.0)),
    "ferrule as bright as glass": Scene(ferrule=0.42, gap_um=0.6, grain=0.06),
    "dark ferrule": Scene(ferrule=0.2),
    "angled": Scene(axis_ratio=1.0098, axis_deg=30),
    "no core": Scene(core=0.0),
    "graded core": Scene(core=0.08, core_um=62.5, core_graded=True),
}


@pytest.mark.parametrize("name", SCENES)
def test_centre_and_scale_are_right(name: str) -> None:
    scene = SCENES[name]
    fibre = drawn(scene)[0]
    row, col = centre_px(scene)
    away = math.hypot(fibre.row_px - row, fibre.col_px - col) * scene.um_per_px
    assert away < 0.3
    assert fibre.um_per_px == pytest.approx(scene.um_per_px, rel=0.01)


def test_a_third_of_the_edge_may_be_hidden() -> None:
    hidden = tuple(
        Flake(
            row_um=62.5 * math.sin(t), col_um=62.5 * math.cos(t), radius_um=11,
            harmonics=((0.2, 0.1),), transmission=0.1,
        )
        for t in np.linspace(0.3, 2.0, 6)
    )  # fmt: skip
    scene = Scene(marks=hidden)
    fibre = drawn(scene)[0]
    row, col = centre_px(scene)
    assert math.hypot(fibre.row_px - row, fibre.col_px - col) * 0.5 < 0.3


@pytest.mark.parametrize("seed", range(6))
def test_other_renderer_agrees(seed: int, photographs) -> None:
    rng = np.random.default_rng(seed)
    shot = photographs.Shot(
        um=float(rng.uniform(0.4, 0.7)), angled=bool(seed % 2), colour=False,
        row_um=float(rng.uniform(-20, 20)), col_um=float(rng.uniform(-30, 30)),
        ferrule=float(rng.uniform(60, 180)), grain=float(rng.uniform(0.02, 0.15)),
        ring_um=float(rng.uniform(0.5, 1.6)), vignette=float(rng.uniform(0, 0.4)),
    )  # fmt: skip
    fibre = find_fibres(values_of(photographs.photograph(shot, rng)))[0]
    row, col = photographs.centre(shot)
    away = math.hypot(fibre.row_px - row, fibre.col_px - col) * shot.um
    # its polygons are filled to a quarter of a pixel only
    assert away < 0.3 + shot.um / 8


@pytest.mark.parametrize("scale", [0.5, 2.0, 8.0])
def test_noise_without_a_fibre_has_none_that_looks_alike_all_round(
    scale: float,
) -> None:
    from scipy import ndimage

    rng = np.random.default_rng(3)
    soft = ndimage.gaussian_filter(rng.standard_normal((600, 800)), scale)
    picture = np.clip(0.4 + 0.1 * soft / soft.std(), 0, 1).astype(np.float32)
    for fibre in find_fibres(picture):
        assert fibre.likeness < 0.88 or fibre.axis_ratio > 1.03 or fibre.support < 0.6


def test_blur_shows_in_the_edge() -> None:
    sharp = drawn(Scene(psf_um=0.9))[0]
    blurred = drawn(replace(Scene(), psf_um=4.0))[0]
    assert sharp.edge_um < 1.8
    assert blurred.edge_um > 2.5


def test_empty_picture_has_no_fibre() -> None:
    assert find_fibres(np.full((300, 400), 0.5, np.float32)) == ()
