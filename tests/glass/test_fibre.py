"""Fibre types: typical values at any wavelength, with their spread."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.fibre import (
    attenuation,
    attenuation_uncertainty,
    mode_field_diameter,
)
from eavelight.standards.fibre_types import (
    attenuation_default,
    fibre_type,
    fibre_types,
)

NM = np.linspace(1260, 1650, 79)


@pytest.mark.parametrize("name", fibre_types())
@pytest.mark.parametrize("cabled", [True, False])
def test_attenuation_has_a_value_and_a_spread_everywhere(
    name: str, cabled: bool
) -> None:
    model = fibre_type(name).attenuation(cabled=cabled)
    assert np.all((model.mean(NM) > 0.15) & (model.mean(NM) < 0.42))
    assert np.all(model.standard_uncertainty(NM) > 0.01)


def test_a_cable_loses_more_than_its_bare_fibre() -> None:
    model = fibre_type("g652d")
    nm = np.array([1310, 1490, 1550, 1625, 1650])
    assert np.all(model.cabled.mean(nm) > model.bare.mean(nm))


def test_longer_wavelength_loses_less_until_the_infrared_takes_over() -> None:
    values = fibre_type("g652d").bare.mean(NM)
    lowest = NM[np.argmin(values)]
    assert 1540 < lowest < 1590
    assert np.all(np.diff(values[NM < 1370]) < 0)
    assert np.all(np.diff(values[NM > 1600]) > 0)


def test_1310_over_1550_stays_in_the_window_that_glass_allows() -> None:
    for scale in (0.7, 0.95):
        ratio = attenuation(1310.0, rayleigh=scale) / attenuation(
            1550.0, rayleigh=scale
        )
        assert 1.6 < ratio < 1.9


def test_water_shows_at_1383_and_nowhere_else() -> None:
    wet = attenuation(NM, rayleigh=0.9, oh_peak_db_per_km=1.0)
    extra = wet - attenuation(NM, rayleigh=0.9)
    assert NM[np.argmax(extra)] == pytest.approx(1383, abs=5)
    assert extra[NM < 1310].max() < 1e-4


def test_spread_is_largest_where_water_and_infrared_vary() -> None:
    given = {"u_db_per_km": 0.02, "u_infrared": 0.2, "u_oh_peak_db_per_km": 0.03}
    u = attenuation_uncertainty([1310.0, 1383.0, 1550.0, 1650.0], **given)
    assert u[1] > u[0]
    assert u[3] > u[2] >= u[0]


@pytest.mark.parametrize("nm", [1259.0, 1651.0, float("nan")])
def test_wavelength_outside_the_model_is_refused(nm: float) -> None:
    with pytest.raises(ValueError, match="1260 and 1650"):
        attenuation_default("g652d", nm)


@settings(deadline=None, max_examples=50)
@given(st.floats(8.0, 9.6), st.floats(1.02, 1.2))
def test_known_mode_fields_are_kept_exactly(at_1310: float, growth: float) -> None:
    known = {1310.0: at_1310, 1550.0: at_1310 * growth}
    found = fibre_type("g652d").mode_field_at([1310.0, 1550.0], known_um=known)
    np.testing.assert_allclose(found, list(known.values()), rtol=1e-12)


def test_order_of_known_wavelengths_does_not_matter() -> None:
    one = mode_field_diameter(1490.0, known_nm=[1310, 1550], known_um=[9.2, 10.4])
    two = mode_field_diameter(1490.0, known_nm=[1550, 1310], known_um=[10.4, 9.2])
    assert one == two


def test_the_same_wavelength_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="distinct"):
        mode_field_diameter(1490.0, known_nm=[1310, 1310], known_um=[9.2, 9.0])


def test_class_range_holds_the_typical_value() -> None:
    for model in fibre_types().values():
        for nm in (1310.0, 1550.0, 1625.0):
            low, high = model.mode_field_range_at(nm)
            assert low < model.mode_field_at(nm) < high
            assert 0.1 < model.u_mode_field_at(nm) < (high - low) / 2


def test_older_names_of_a_class_are_understood() -> None:
    assert fibre_type("B-652.D").id == "g652d"
    assert fibre_type("g657b2").id == "g657a2"
    with pytest.raises(ValueError, match="g652d"):
        fibre_type("g652z")


def test_each_limit_row_names_its_clause() -> None:
    for model in fibre_types().values():
        assert model.bend_limits
        assert model.edition
        for row in model.bend_limits:
            assert row.clause.startswith(f"itu_{model.id}.")
            assert str(int(row.wavelength_nm)) in row.clause
            assert row.radius_mm >= model.design_radius_mm


def test_group_index_grows_from_1310_to_1625() -> None:
    values = fibre_type("g657a2").group_index_at([1310, 1490, 1550, 1625])
    assert np.all(np.diff(values) > 0)
    assert 1.466 < values[0] < values[-1] < 1.469


def test_a_mode_field_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="known_um"):
        mode_field_diameter(1490.0, known_nm=[1310.0], known_um=[0.0])
