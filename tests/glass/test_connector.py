"""Mated pairs: reflectance is the detector of a dry gap, loss is not."""

import numpy as np
import pytest
import tmm
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.connector import (
    angled_end_gain,
    exit_angle,
    flat_to_angled,
    fresnel_loss,
    fresnel_reflectance,
    grade_sigma,
    narrow_gap_loss,
    narrow_gap_reflectance,
    polish_layer_reflectance,
    wide_gap_loss,
)

INDEX = st.floats(1.40, 1.55)


@settings(deadline=None, max_examples=50)
@given(st.floats(1.0, 5000.0), st.sampled_from([1310.0, 1550.0]), INDEX)
def test_narrow_gap_agrees_with_a_thin_film_library(
    gap: float, nm: float, index: float
) -> None:
    film = tmm.coh_tmm("s", [index, 1.0, index], [np.inf, gap, np.inf], 0, nm)
    loss = narrow_gap_loss(gap, wavelength_nm=nm, index=index)
    assert loss == pytest.approx(-10 * np.log10(film["T"]), abs=1e-9)
    reflectance = narrow_gap_reflectance(gap, wavelength_nm=nm, index=index)
    assert 10 ** (reflectance / 10) == pytest.approx(film["R"], abs=1e-9)


@pytest.mark.parametrize("layer", [10.0, 20.0, 50.0])
def test_thin_polish_layers_agree_with_a_thin_film_library(layer: float) -> None:
    stack = [1.4525, 1.52, 1.4525]
    film = tmm.coh_tmm("s", stack, [np.inf, 2 * layer, np.inf], 0, 1310.0)
    found = polish_layer_reflectance(
        layer, wavelength_nm=1310.0, index=1.4525, layer_index=1.52
    )
    assert found == pytest.approx(10 * np.log10(film["R"]), abs=0.02)


@settings(deadline=None, max_examples=50)
@given(INDEX, INDEX)
def test_a_surface_is_the_same_from_both_sides(one: float, two: float) -> None:
    there = fresnel_loss(one, other_index=two)
    back = fresnel_loss(two, other_index=one)
    assert there == pytest.approx(back, abs=1e-12)


def test_a_closed_gap_neither_reflects_nor_loses() -> None:
    given_ = {"wavelength_nm": 1310.0, "index": 1.45}
    assert narrow_gap_loss(0.0, **given_) == 0
    assert narrow_gap_reflectance(0.0, **given_) == -np.inf
    assert fresnel_reflectance(1.45, other_index=1.45) == -np.inf


def test_loss_of_a_dry_gap_swings_while_it_stays_reflective() -> None:
    gaps = np.linspace(50, 600, 200)
    loss = narrow_gap_loss(gaps, wavelength_nm=1310.0, index=1.45)
    reflectance = narrow_gap_reflectance(gaps, wavelength_nm=1310.0, index=1.45)
    assert loss.max() / loss.min() > 10
    assert np.all(reflectance > -22)


def test_mean_of_a_swinging_gap_is_the_wide_gap() -> None:
    gaps = np.linspace(0, 655, 4001)[:-1]
    loss = narrow_gap_loss(gaps, wavelength_nm=1310.0, index=1.45)
    mean = -10 * np.log10(np.mean(10 ** (-loss / 10)))
    assert mean == pytest.approx(wide_gap_loss(1.45), rel=1e-3)


def test_matching_gel_removes_most_of_the_reflection() -> None:
    dry = wide_gap_loss(1.45)
    assert wide_gap_loss(1.45, gap_index=1.467) < dry / 500


def test_steeper_faces_send_less_light_back() -> None:
    gain = angled_end_gain(
        [0.0, 2.0, 5.0, 8.0], wavelength_nm=1310.0, mode_field_um=9.2, index=1.45
    )
    assert gain[0] == 0
    assert np.all(np.diff(gain) > 0)


def test_a_straight_face_lets_light_out_straight() -> None:
    assert exit_angle(0.0, index=1.45) == 0


@pytest.mark.parametrize(("nm", "field"), [(1310.0, 9.2), (1550.0, 10.4)])
def test_flat_in_angled_costs_decibels_and_reflects(nm: float, field: float) -> None:
    found = flat_to_angled(nm, mode_field_um=field, index=1.45)
    assert 2 < found.loss_low_db < found.loss_high_db < 12
    assert found.reflectance_db == pytest.approx(-14.7, abs=0.1)


def test_a_grade_whose_limit_is_below_its_mean_is_refused() -> None:
    with pytest.raises(ValueError, match="limit_db"):
        grade_sigma(0.3, limit_db=0.2)
    with pytest.raises(ValueError, match="share"):
        grade_sigma(0.3, limit_db=0.5, share=1.0)
