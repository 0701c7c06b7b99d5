"""The balance: limits, monotony, and an independent integration over time."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from eavelight.climate.heat import (
    Shells,
    Surroundings,
    balance_over_time,
    balance_steady,
    enclosure_rise,
    outside_film,
    steady_box,
)

SIGMA = 5.670374419e-8


def box(**changed):
    values = {
        "outside_c": 25.0, "sky_c": 15.0, "absorbed_w": [30.0], "power_w": 8.0,
        "area_m2": [0.185], "film": (8.0, 0.0),
    }  # fmt: skip
    return steady_box(**(values | changed))


def test_nothing_on_and_nothing_shining_is_air_temperature():
    off = box(sky_c=25.0, absorbed_w=[0.0], power_w=0.0)
    assert off.air_c == pytest.approx(25.0, abs=1e-6)


@settings(deadline=None, max_examples=50)
@given(
    outside=st.floats(-60.0, 55.0),
    sun=st.floats(0.0, 150.0),
    power=st.floats(0.0, 40.0),
    constant=st.floats(0.5, 40.0),
    natural=st.floats(0.0, 2.0),
)
def test_all_heat_put_in_comes_out_again(outside, sun, power, constant, natural):
    state = box(
        outside_c=outside, sky_c=outside - 15.0, absorbed_w=[sun], power_w=power,
        film=(constant, natural),
    )  # fmt: skip
    shell = state.shell_c[0]
    rise = shell - outside
    kelvin = [t + 273.15 for t in (shell, outside - 15.0, outside)]
    view = 0.5 * 0.5**0.5
    away = (constant + natural * abs(rise) ** (1 / 3)) * rise
    away += (
        0.9
        * SIGMA
        * (kelvin[0] ** 4 - view * kelvin[1] ** 4 - (1 - view) * kelvin[2] ** 4)
    )
    assert 0.185 * away == pytest.approx(sun + power, abs=1e-4)
    assert state.air_c >= shell - 1e-9


@settings(deadline=None, max_examples=30)
@given(power=st.floats(0.0, 30.0), more=st.floats(0.1, 20.0))
def test_more_power_is_warmer(power, more):
    assert box(power_w=power + more).air_c > box(power_w=power).air_c


def test_leaving_out_inside_radiation_would_nearly_double_the_inside_rise():
    state = steady_box(
        outside_c=25.0, sky_c=25.0, absorbed_w=[0.0], power_w=300.0, area_m2=[3.964],
        film=(0.0, 1.31), resistance_m2_k_per_w=0.0,
    )  # fmt: skip
    inside = state.air_c - state.shell_c[0]
    convection_only = (300.0 / 3.964 / 1.31) ** 0.75
    assert inside == pytest.approx(8.8, abs=0.05)
    assert convection_only == pytest.approx(21.0, abs=0.1)
    assert enclosure_rise(300.0, area_m2=3.964, outside_c=25.0) == pytest.approx(
        17.8, abs=0.05
    )


def test_bare_metal_runs_hotter_than_paint_of_the_same_absorptance():
    assert box(emissivity=0.1).air_c > box(emissivity=0.9).air_c + 5.0


def test_thin_air_cools_less():
    assert outside_film(1.0, density_ratio=0.8)[0] < outside_film(1.0)[0]


def test_a_hot_wall_behind_warms_the_box():
    shells = Shells(area_m2=np.array([0.185]), back_w_per_k=np.array([4.0 * 0.075]))
    around = {
        "outside_c": 35.0, "sky_c": 25.0, "absorbed_w": np.zeros((1, 1)),
        "power_w": 5.0, "film": (8.0, 0.0),
    }  # fmt: skip
    cool, hot = (
        balance_steady(shells, Surroundings(**around, behind_c=behind))[0, -1]
        for behind in (35.0, 65.0)
    )
    assert hot > cool + 2.0


def test_two_equal_shells_are_one_shell():
    one = box()
    two = box(absorbed_w=[15.0, 15.0], area_m2=[0.0925, 0.0925])
    assert two.air_c == pytest.approx(one.air_c, abs=1e-6)


def day_of_sun(hours):
    return np.maximum(0.0, np.sin(np.pi * (hours - 6.0) / 12.0)) * 50.0


def test_five_minute_steps_follow_an_independent_integration():
    shells = Shells(area_m2=np.array([0.185]))
    hours = np.arange(289) / 12.0
    air = 30.0 + 6.0 * np.sin(np.pi * (hours - 9.0) / 12.0)
    moments = [
        Surroundings(
            outside_c=t, sky_c=t - 14.0, absorbed_w=np.array([[q]]), power_w=8.0,
            film=(8.0, 0.0),
        )
        for t, q in zip(air, day_of_sun(hours), strict=True)
    ]  # fmt: skip
    found = balance_over_time(shells, moments, step_s=300.0)[:, 0, :]

    def rates(seconds, state):
        shell, inside = state
        hour = seconds / 3600.0
        outside = np.interp(hour, hours, air)
        sun = np.interp(hour, hours, day_of_sun(hours))
        kelvin = shell + 273.15
        view = 0.5 * 0.5**0.5
        lost = 8.0 * (shell - outside) + 0.9 * SIGMA * (
            kelvin**4
            - view * (outside - 14.0 + 273.15) ** 4
            - (1 - view) * (outside + 273.15) ** 4
        )
        film = 1.31 * abs(inside - shell) ** (1 / 3) + 4 * 0.9 * SIGMA * kelvin**3
        flow = 0.185 * (inside - shell) / (1.0 / film + 0.015)
        return [(sun - 0.185 * lost + flow) / 1350.0, (8.0 - flow) / 730.0]

    truth = solve_ivp(
        rates, (0.0, 86_400.0), found[0], t_eval=hours * 3600.0, rtol=1e-8, atol=1e-8,
        max_step=300.0,
    ).y.T  # fmt: skip
    assert np.abs(found - truth).max() < 0.05


def test_the_box_follows_with_the_two_time_constants_of_the_sheet():
    # Linearised around the sheet's films (8 + 6.27 outside, 7.3 and the wall inside).
    out, inner = 2.640, 1.217
    rates = np.array(
        [[-(out + inner) / 1350.0, inner / 1350.0], [inner / 730.0, -inner / 730.0]]
    )
    slow, fast = sorted(-1.0 / np.linalg.eigvals(rates))[::-1]
    assert (fast, slow) == pytest.approx((276.0, 1112.0), abs=1.0)


def test_a_step_in_the_sun_settles_within_an_hour():
    shells = Shells(area_m2=np.array([0.185]))

    def moment(sun):
        return Surroundings(
            outside_c=20.0, sky_c=10.0, absorbed_w=np.array([[sun]]), power_w=5.0,
            film=(8.0, 0.0),
        )  # fmt: skip

    run = balance_over_time(shells, [moment(0.0)] + [moment(60.0)] * 24, step_s=300.0)
    end = balance_steady(shells, moment(60.0))[0, -1]
    assert abs(run[-1, 0, -1] - end) < 0.2
    assert end - run[4, 0, -1] > 2.0


def test_a_balance_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="absorbed_w"):
        box(absorbed_w=[float("nan")])


def test_a_box_far_too_small_for_its_heater_is_very_hot_and_no_crash():
    state = steady_box(
        outside_c=-45.0, sky_c=-65.0, absorbed_w=[0.0], power_w=500.0,
        area_m2=[1e-5], film=(16.0, 0.0),
    )  # fmt: skip
    assert state.air_c > state.shell_c[0] > 1000.0
