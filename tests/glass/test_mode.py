"""The mode of the reference fibre, against an independent solver."""

import numpy as np
import ofiber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import j0, k0

from eavelight.glass.mode import (
    group_index,
    mode_field_diameter_hussey,
    mode_field_diameter_marcuse,
    mode_field_diameter_petermann,
    normalised_frequency,
    propagation_constant,
    refractive_index,
)

FIBRE = {"core_radius_um": 4.1, "numerical_aperture": 0.117}


@pytest.mark.parametrize("v", [1.2, 1.5, 1.9445, 2.3008, 2.4])
def test_propagation_constant_agrees_with_another_solver(v: float) -> None:
    assert propagation_constant(v) == pytest.approx(ofiber.LP_mode_value(v, 0, 1), 1e-6)


@pytest.mark.parametrize("v", [1.6, 1.9445, 2.3008])
def test_mode_fields_agree_with_another_solver(v: float) -> None:
    wavelength = 2 * np.pi * 4.1 * 0.117 / v * 1e3
    assert mode_field_diameter_petermann(wavelength, **FIBRE) / 8.2 == pytest.approx(
        ofiber.PetermannW(v), rel=1e-5
    )
    assert mode_field_diameter_marcuse(wavelength, **FIBRE) / 8.2 == pytest.approx(
        ofiber.MFR(v), rel=1e-6
    )


def test_index_and_group_index_agree_with_another_library() -> None:
    glass = ofiber.doped_glass(0.036)
    for nm in (1310.0, 1550.0):
        assert refractive_index(nm, germania=0.036) == pytest.approx(
            ofiber.n(glass, nm * 1e-9), abs=1e-7
        )
        assert group_index(nm, germania=0.036) == pytest.approx(
            ofiber.n_group(glass, nm * 1e-9), abs=1e-6
        )


@settings(deadline=None, max_examples=50)
@given(st.floats(0.8, 5.0), st.floats(0.01, 1.0))
def test_a_larger_core_holds_the_mode_tighter(v: float, more: float) -> None:
    assert 0 < propagation_constant(v) < propagation_constant(v + more) < 1


def test_a_longer_wavelength_spreads_the_mode() -> None:
    nm = np.linspace(1260, 1650, 40)
    for diameter in (
        mode_field_diameter_marcuse,
        mode_field_diameter_petermann,
        mode_field_diameter_hussey,
    ):
        assert np.all(np.diff(diameter(nm, **FIBRE)) > 0)


def test_petermann_diameter_is_that_of_the_far_field_integral() -> None:
    v = float(normalised_frequency(1310.0, **FIBRE))
    b = float(propagation_constant(v))
    u, w = v * np.sqrt(1 - b), v * np.sqrt(b)

    def field(r: float) -> float:
        return float(j0(u * r) if r < 1 else j0(u) / k0(w) * k0(w * r))

    def slope(r: float) -> float:
        return (field(r + 1e-5) - field(r - 1e-5)) / 2e-5

    power = quad(lambda r: field(r) ** 2 * r, 0, 1)[0]
    power += quad(lambda r: field(r) ** 2 * r, 1, 12)[0]
    bend = quad(lambda r: slope(r) ** 2 * r, 0, 1 - 2e-5)[0]
    bend += quad(lambda r: slope(r) ** 2 * r, 1 + 2e-5, 12)[0]
    expected = 2 * 4.1 * np.sqrt(2 * power / bend)
    found = mode_field_diameter_petermann(1310.0, **FIBRE)
    assert found == pytest.approx(expected, rel=1e-3)


def test_frequency_outside_the_solver_is_refused() -> None:
    with pytest.raises(ValueError, match=r"0\.6 and 10"):
        propagation_constant(0.3)
