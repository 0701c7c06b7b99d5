import numpy as np
import pytest

from eavelight.demo.endface_simulator import Scene, draw
from eavelight.endface.fibre import find_fibres
from eavelight.endface.surface import flatten, noise_of, without_core


def surface_of(scene: Scene):
    values = draw(scene, np.random.default_rng(4)).astype(np.float32) / 255
    return flatten(values, find_fibres(values)[0])


def test_steep_light_leaves_nothing_on_the_glass() -> None:
    surface = surface_of(Scene(gradient=0.2, falloff=0.2, noise=0.004))
    far = surface.glass & (surface.radius_um < 58)
    smooth = surface.deviation[far]
    assert abs(float(np.median(smooth))) < 0.003
    assert float(np.quantile(np.abs(smooth), 0.95)) < 0.03


def test_core_is_taken_out() -> None:
    surface = surface_of(Scene(core=0.05, noise=0.004))
    assert abs(float(surface.deviation[surface.radius_um < 3].mean())) < 0.01


def test_core_can_be_taken_out_again() -> None:
    surface = surface_of(Scene(core=0.0, noise=0.002))
    bump = np.where(surface.radius_um < 4.3, 0.04, 0.0).astype(np.float32)
    from dataclasses import replace

    lumpy = replace(surface, deviation=surface.deviation + bump)
    clean = without_core(lumpy, np.zeros(bump.shape, bool))
    assert abs(float(clean.deviation[surface.radius_um < 3].mean())) < 0.01


@pytest.mark.parametrize("dirt", [0.0, 0.3])
def test_noise_is_right_also_when_a_third_is_dirty(dirt: float) -> None:
    rng = np.random.default_rng(5)
    values = rng.normal(0, 0.01, (240, 240)).astype(np.float32)
    values[: int(240 * dirt)] -= 0.4
    mask = np.ones(values.shape, bool)
    assert noise_of(values, mask) == pytest.approx(0.01, rel=0.15)
