"""The constant-power feed: stable root, limits, uncertainty, inference."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat, umath

from eavelight.power import feed

few = settings(max_examples=50, deadline=None)
supplies = st.floats(5.0, 60.0)
loops = st.floats(0.001, 20.0)
loads = st.floats(0.1, 40.0)


@few
@given(vs=supplies, r=loops, p=loads)
def test_the_root_balances_power(vs: float, r: float, p: float) -> None:
    volts = float(feed.terminal_voltage_v(vs, r, p))
    assume(not math.isnan(volts))
    current = float(feed.feed_current_a(vs, r, p))
    assert vs * current == pytest.approx(p + current**2 * r)
    assert vs / 2 <= volts <= vs


@few
@given(vs=supplies, r=loops, p=loads)
def test_it_collapses_exactly_below_the_collapse_voltage(
    vs: float, r: float, p: float
) -> None:
    limit = float(feed.collapse_voltage_v(r, p))
    assert math.isnan(float(feed.terminal_voltage_v(limit * 0.999999, r, p)))
    assert not math.isnan(float(feed.terminal_voltage_v(limit * 1.000001, r, p)))


@few
@given(vs=supplies, r=loops, p=loads, more=st.floats(1.01, 2.0))
def test_volts_fall_as_resistance_or_load_rises(
    vs: float, r: float, p: float, more: float
) -> None:
    here = float(feed.terminal_voltage_v(vs, r, p))
    assume(not math.isnan(here))
    for worse in (
        feed.terminal_voltage_v(vs, r * more, p),
        feed.terminal_voltage_v(vs, r, p * more),
    ):
        assert math.isnan(float(worse)) or worse < here


@few
@given(r=loops, p=loads, low=st.floats(3.0, 40.0))
def test_the_smallest_supply_is_never_below_collapse_and_just_holds_the_load(
    r: float, p: float, low: float
) -> None:
    needed = float(feed.minimum_supply_v(r, p, low))
    assert needed >= float(feed.collapse_voltage_v(r, p)) * (1 - 1e-12)
    assert float(feed.terminal_voltage_v(needed, r, p)) >= low * (1 - 1e-6)
    worse = float(feed.terminal_voltage_v(needed * 0.999, r, p))
    assert math.isnan(worse) or worse < low


@few
@given(vs=supplies, p=loads, part=st.floats(0.3, 0.99))
def test_the_largest_loop_is_the_inverse_of_the_smallest_supply(
    vs: float, p: float, part: float
) -> None:
    r = float(feed.maximum_loop_ohm(vs, p, vs * part))
    assert float(feed.minimum_supply_v(r, p, vs * part)) == pytest.approx(vs)


@few
@given(vs=supplies, r=loops)
def test_a_tiny_load_drops_as_a_plain_resistor_would(vs: float, r: float) -> None:
    p = 1e-6
    drop = vs - float(feed.terminal_voltage_v(vs, r, p))
    assert drop == pytest.approx(p / vs * r, rel=1e-3, abs=1e-12)


def test_no_cable_would_do_when_the_supply_is_below_the_cut_out() -> None:
    assert float(feed.maximum_loop_ohm(9.0, 5.0, 10.0)) == 0.0


def test_a_reversed_or_dead_supply_feeds_nothing() -> None:
    assert np.isnan(feed.terminal_voltage_v([-12.0, 0.0, np.nan], 1.0, 5.0)).all()


def test_a_short_cable_without_resistance_has_no_collapse() -> None:
    assert float(feed.collapse_power_w(12.0, 0.0)) == math.inf
    assert float(feed.terminal_voltage_v(12.0, 0.0, 100.0)) == 12.0


def test_voltage_uncertainty_agrees_with_independent_propagation() -> None:
    vs, r, p = ufloat(13.6, 0.03), ufloat(1.05, 0.02), ufloat(8, 0.4)
    oracle = (vs + umath.sqrt(vs * vs - 4 * r * p)) / 2
    u = feed.terminal_voltage_u_v(
        13.6, 1.05, 8, supply_u_v=0.03, loop_u_ohm=0.02, load_u_w=0.4
    )
    assert float(u) == pytest.approx(oracle.std_dev, rel=1e-9)


def test_margin_uncertainty_agrees_with_independent_propagation() -> None:
    vs, r, p = ufloat(12.6, 0.03), ufloat(3.18, 0.1), ufloat(10, 0.5)
    oracle = vs - (9.0 + r * p / 9.0)
    u = feed.supply_margin_u_v(
        3.18, 10, 9.0, supply_u_v=0.03, loop_u_ohm=0.1, load_u_w=0.5
    )
    assert float(u) == pytest.approx(oracle.std_dev, rel=1e-9)


def test_path_uncertainty_agrees_with_independent_propagation() -> None:
    vs, vt, p = ufloat(13.6, 0.03), ufloat(12.19, 0.03), ufloat(8, 0.4)
    oracle = (vs - vt) * vt / p
    u = feed.path_resistance_u_ohm(
        13.6, 12.19, 8, supply_u_v=0.03, terminal_u_v=0.03, load_u_w=0.4
    )
    assert float(u) == pytest.approx(oracle.std_dev, rel=1e-9)


@few
@given(vs=supplies, r=loops, p=loads)
def test_loaded_volts_give_the_resistance_back(vs: float, r: float, p: float) -> None:
    volts = float(feed.terminal_voltage_v(vs, r, p))
    assume(not math.isnan(volts))
    path = float(feed.path_resistance_ohm(vs, volts, p))
    assert path == pytest.approx(r, rel=1e-6, abs=1e-9)


def test_the_bad_crimp_shows_on_battery_and_not_on_mains() -> None:
    loop, crimp, peak, low = 1.05, 1.1, 8.0, 10.0
    on_mains = float(feed.terminal_voltage_v(13.6, loop + crimp, peak))
    on_battery = float(feed.terminal_voltage_v(11.0, loop + crimp, peak))
    sound = float(feed.terminal_voltage_v(11.0, loop, peak))
    assert on_mains > low
    assert sound > low
    assert on_battery < low


@pytest.mark.parametrize(
    ("supply", "state"), [(13.5, "runs"), (12.0, "cycles"), (9.5, "stays off")]
)
def test_start_up_runs_cycles_or_stays_off(supply: float, state: str) -> None:
    assert feed.start_up_state(supply, 3.18, 10.0, start_v=10.0, stop_v=9.0) == state


def test_volts_fall_evenly_along_a_uniform_cable() -> None:
    line = feed.voltage_along_v(np.linspace(0, 1, 5), 13.6, 12.8)
    np.testing.assert_allclose(np.diff(line), -0.2)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: feed.terminal_voltage_v(12, -1, 5), "loop_ohm"),
        (lambda: feed.terminal_voltage_v(12, 1, -5), "load_w"),
        (lambda: feed.minimum_supply_v(1, 5, 0), "terminal_min_v"),
        (lambda: feed.maximum_loop_ohm(12, 0, 9), "load_w must be positive"),
        (lambda: feed.maximum_length_m(12, 5, 9, loop_ohm_per_km=0), "loop_ohm_per_km"),
        (lambda: feed.path_resistance_ohm(12, 0, 5), "terminal_v"),
        (lambda: feed.start_up_state(12, 1, 5, start_v=9, stop_v=10), "stop_v"),
    ],
)
def test_an_impossible_argument_is_named(call, name) -> None:
    with pytest.raises(ValueError, match=name):
        call()
