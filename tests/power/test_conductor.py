"""Resistance of copper: units, temperature, strands, pairs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from eavelight.power import conductor
from eavelight.power.materials import COPPER, MATERIALS

few = settings(max_examples=50, deadline=None)
lengths = st.floats(0.5, 500.0)
areas = st.floats(0.1, 6.0)


def test_one_gauge_step_is_the_39th_root_of_92() -> None:
    d = conductor.awg_diameter_mm([18, 19])
    assert d[0] / d[1] == pytest.approx(1.1229322, abs=5e-8)


@few
@given(gauge=st.floats(-3, 40))
def test_gauge_to_area_and_back_is_the_same_gauge(gauge: float) -> None:
    area = conductor.awg_area_mm2(gauge)
    assert float(conductor.awg_from_area(area)) == pytest.approx(gauge, abs=1e-9)


@few
@given(value=st.floats(0.01, 1000))
def test_per_kft_is_always_less_than_per_km(value: float) -> None:
    per_kft = float(conductor.ohm_per_kft_from_ohm_per_km(value))
    assert per_kft < value
    back = float(conductor.ohm_per_km_from_ohm_per_kft(per_kft))
    assert back == pytest.approx(value)


@few
@given(length=lengths, area=areas)
def test_two_pairs_have_half_the_loop_of_one(length: float, area: float) -> None:
    one = float(conductor.loop_resistance_ohm(length, area))
    two = float(conductor.loop_resistance_ohm(length, area, pairs=2))
    assert two == pytest.approx(one / 2)


@few
@given(length=lengths, area=areas, celsius=st.floats(-40, 84))
def test_warmer_copper_has_more_resistance(
    length: float, area: float, celsius: float
) -> None:
    cool = conductor.loop_resistance_ohm(length, area, temperature_c=celsius)
    warm = conductor.loop_resistance_ohm(length, area, temperature_c=celsius + 1)
    assert warm > cool


@few
@given(loop=st.floats(0.1, 20), a=st.floats(-40, 85), b=st.floats(-40, 85))
def test_a_loop_carried_to_another_temperature_and_back_is_unchanged(
    loop: float, a: float, b: float
) -> None:
    there = conductor.loop_at_temperature_ohm(loop, a, b)
    back = float(conductor.loop_at_temperature_ohm(there, b, a))
    assert back == pytest.approx(loop)


def test_a_loop_predicted_cold_agrees_with_one_carried_from_20_degrees() -> None:
    area = conductor.awg_area_mm2(22)
    direct = conductor.loop_resistance_ohm(30, area, temperature_c=-15)
    at_20 = conductor.loop_resistance_ohm(30, area)
    carried = conductor.loop_at_temperature_ohm(at_20, 20, -15)
    assert float(direct) == pytest.approx(float(carried))


def test_clad_wire_has_the_resistance_of_its_conductivity_class() -> None:
    copper = conductor.loop_resistance_ohm(30, 0.8)
    steel = conductor.loop_resistance_ohm(
        30, 0.8, material=MATERIALS["copper-clad steel"]
    )
    aluminium = conductor.loop_resistance_ohm(
        30, 0.8, material=MATERIALS["copper-clad aluminium"]
    )
    assert 2.5 <= float(steel / copper) <= 3.3
    assert float(aluminium / copper) == pytest.approx(1.6, abs=0.05)


def test_uncertainty_agrees_with_independent_propagation() -> None:
    length, warm, wire = ufloat(30, 1.2), ufloat(35, 6), ufloat(1, COPPER.relative_u)
    area = float(conductor.awg_area_mm2(22))
    oracle = 2 * length / 1000 * (1000 / 58) / area * wire * (1 + 0.00393 * (warm - 20))
    loop = conductor.loop_resistance_ohm(30, area, temperature_c=35)
    u = conductor.loop_resistance_u_ohm(
        loop, length_m=30, length_u_m=1.2, temperature_c=35, temperature_u_k=6
    )
    assert float(loop) == pytest.approx(oracle.nominal_value)
    assert float(u) == pytest.approx(oracle.std_dev, rel=1e-6)


def test_length_comes_back_from_its_own_loop() -> None:
    loop = conductor.loop_resistance_ohm(25.0, 0.823, stranded=True)
    per_km = 2 * conductor.conductor_resistance_ohm_per_km(0.823, stranded=True)
    assert float(
        conductor.length_from_loop_m(loop, loop_ohm_per_km=per_km)
    ) == pytest.approx(25.0)


def test_an_open_pair_raises_the_loop_by_half_when_there_were_three() -> None:
    three = conductor.parallel_resistance_ohm([2.0, 2.0, 2.0])
    two = conductor.parallel_resistance_ohm([2.0, 2.0, np.inf])
    assert two / three == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: conductor.loop_resistance_ohm(-1.0, 0.8), "length_m"),
        (lambda: conductor.loop_resistance_ohm(1.0, 0.0), "area_mm2"),
        (lambda: conductor.loop_resistance_ohm(1.0, 0.8, pairs=0), "pairs"),
        (lambda: conductor.parallel_resistance_ohm([np.inf]), "resistances_ohm"),
    ],
)
def test_an_impossible_argument_is_named(call, name) -> None:
    with pytest.raises(ValueError, match=name):
        call()
