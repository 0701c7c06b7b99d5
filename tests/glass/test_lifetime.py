"""Life of stored fibre: an order of magnitude, never a promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.bend import loop_loss
from eavelight.glass.lifetime import (
    bend_failure,
    bend_stress,
    break_risk,
    minimum_radius,
    proof_radius,
    radius_for_failure,
    tensile_failure,
    tensile_life,
)
from eavelight.standards.fibre_types import fibre_type

RADIUS = st.floats(4.0, 30.0)


@settings(deadline=None, max_examples=50)
@given(RADIUS, st.floats(1.01, 2.0), st.floats(0.1, 20.0), st.floats(1.0, 40.0))
def test_tighter_longer_and_more_break_more_often(
    radius: float, factor: float, turns: float, years: float
) -> None:
    base = bend_failure(radius, turns=turns, years=years)
    assert 0 < base < 1
    assert bend_failure(radius * factor, turns=turns, years=years) < base
    assert bend_failure(radius, turns=turns * factor, years=years) > base
    assert bend_failure(radius, turns=turns, years=years * factor) > base


@settings(deadline=None, max_examples=30)
@given(RADIUS)
def test_tension_on_one_side_breaks_less_than_all_round(radius: float) -> None:
    ratio = bend_failure(radius, everywhere=True) / bend_failure(radius)
    assert 4.0 < ratio < 12.0


def test_tiny_chances_keep_their_digits() -> None:
    one, many = bend_failure(40.0), bend_failure(40.0, turns=1000.0)
    assert many / one == pytest.approx(1000.0, rel=1e-6)


def test_no_turn_never_breaks() -> None:
    assert bend_failure(5.0, turns=0.0) == 0


def test_a_nonlinear_modulus_changes_the_stress_by_little() -> None:
    plain = bend_stress(5.0, modulus_gpa=70.3)
    curved = bend_stress(5.0, modulus_gpa=70.3, nonlinearity=4.5)
    assert 1 < curved / plain < 1.03


@settings(deadline=None, max_examples=30)
@given(st.floats(0.1, 0.5), st.floats(1e-4, 0.5))
def test_time_and_chance_of_a_pulled_fibre_are_inverse(
    ratio: float, chance: float
) -> None:
    life = float(tensile_life(ratio, length_km=10.0, probability=chance))
    again = tensile_failure(ratio, length_km=10.0, years=life)
    assert again == pytest.approx(chance, rel=1e-6)


@settings(deadline=None, max_examples=20)
@given(st.floats(-7.0, -4.5), st.floats(0.5, 10.0))
def test_radius_for_a_chance_keeps_that_chance(power: float, turns: float) -> None:
    target = 10**power
    radius = radius_for_failure(target, turns=turns)
    if radius > 2.001:
        assert bend_failure(radius, turns=turns) == pytest.approx(target, rel=1e-6)
    else:
        assert bend_failure(radius, turns=turns) <= target


def test_risk_states_a_span_of_decades_around_the_chance() -> None:
    risk = break_risk(10.0, turns=3.0, years=30.0)
    assert risk.low < risk.probability < risk.high
    assert risk.high / risk.low > 50
    assert risk.decade == -6


def test_a_bend_beyond_the_proof_test_is_flagged() -> None:
    assert break_risk(6.4).beyond_proof
    assert not break_risk(6.6).beyond_proof
    assert proof_radius() == pytest.approx(6.52, abs=0.01)


def test_low_loss_in_bend_insensitive_fibre_does_not_prove_a_safe_radius() -> None:
    loss = loop_loss(fibre_type("g657b3"), 5.0, wavelength_nm=1550.0)
    assert loss.high_db < 0.2
    assert break_risk(5.0).beyond_proof
    kept = minimum_radius(5.0, life_mm=7.5, bend_insensitive=True)
    assert not kept.loss_proves_radius


@pytest.mark.parametrize(
    ("optical", "life", "cable", "governs"),
    [(30, 10, 20, "optical"), (7.5, 9, 0, "life"), (10, 9, 40, "cable")],
)
def test_the_largest_reason_governs(
    optical: float, life: float, cable: float, governs: str
) -> None:
    kept = minimum_radius(optical, life_mm=life, rule_mm=cable)
    assert kept.governed_by == governs
    assert kept.radius_mm == max(optical, life, cable)


@pytest.mark.parametrize("radius", [0.0, -1.0, float("nan")])
def test_a_radius_that_is_none_is_refused(radius: float) -> None:
    with pytest.raises(ValueError, match="radius_mm"):
        bend_failure(radius)


def test_arrays_broadcast() -> None:
    found = bend_failure([[10.0], [15.0]], turns=[1.0, 2.0, 3.0])
    assert found.shape == (2, 3)
    assert np.all(found > 0)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: bend_failure(10.0, turns=-1.0), "turns and years"),
        (lambda: break_risk(10.0, turns=0.0), "turns"),
        (lambda: radius_for_failure(0.0), "probability"),
        (lambda: tensile_life(0.2, length_km=1, probability=1), "probability must"),
    ],
)
def test_impossible_input_is_refused_by_name(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
