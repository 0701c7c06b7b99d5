"""A meter without a filter adds all services and can hide the fault of one."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.light.coexistence import (
    broadband_reading_dbm,
    filtered_reading_dbm,
    isolation_needed_db,
    leakage_db,
    loss_window_db,
    service_level_dbm,
    service_level_u_db,
    shared_loss_window_db,
)


def test_two_dying_services_look_healthy_together() -> None:
    assert broadband_reading_dbm([-28.0, -28.0]) > -27.0 + 1.9


def test_the_detector_may_respond_less_at_another_wavelength() -> None:
    assert broadband_reading_dbm([-20.0, -20.0], response_db=[0.0, -200.0]) == (
        pytest.approx(-20.0)
    )


@settings(deadline=None, max_examples=40)
@given(signal=st.floats(-30, 0), other=st.floats(-30, 5), isolation=st.floats(0, 60))
def test_leakage_is_the_difference_of_reading_and_signal(
    signal: float, other: float, isolation: float
) -> None:
    reading = filtered_reading_dbm(signal, [other], isolation_db=[isolation])
    leak = float(leakage_db(signal, other, isolation_db=isolation))
    assert leak == pytest.approx(reading - signal, abs=1e-9)
    assert leak >= 0


@settings(deadline=None, max_examples=40)
@given(error=st.floats(0.01, 3), other=st.floats(-10, 5))
def test_the_isolation_needed_leaks_just_the_error_allowed(
    error: float, other: float
) -> None:
    needed = isolation_needed_db(-24.0, other, error_db=error)
    assert leakage_db(-24.0, other, isolation_db=needed) == pytest.approx(error)


def test_a_service_is_found_again_behind_the_others() -> None:
    total = broadband_reading_dbm([-25.0, -24.0, -20.0])
    assert service_level_dbm(total, [-24.0, -20.0]) == pytest.approx(-25.0)


def test_others_that_explain_it_all_leave_nothing() -> None:
    assert service_level_dbm(-20.0, [-19.9]) == -math.inf
    assert math.isinf(
        service_level_u_db(-20.0, [-19.9], reading_u_db=0.1, others_u_db=[0.1])
    )


def test_the_level_left_over_is_as_uncertain_as_a_library_says() -> None:
    umath = pytest.importorskip("uncertainties.umath")
    from uncertainties import ufloat

    total, other = ufloat(-21.461, 0.19), ufloat(-24.0, 0.3)
    left = 10 * umath.log10(10 ** (total / 10) - 10 ** (other / 10))
    assert service_level_u_db(
        -21.461, [-24.0], reading_u_db=0.19, others_u_db=[0.3]
    ) == pytest.approx(left.std_dev, rel=1e-6)


def test_services_without_a_common_loss_say_so() -> None:
    low, high = shared_loss_window_db([(13.0, 20.0), (22.0, 28.0)])
    assert low > high


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        shared_loss_window_db([])
    with pytest.raises(ValueError, match="must not exceed"):
        loss_window_db(3.0, receive_low_dbm=0.0, receive_high_dbm=-1.0)
    with pytest.raises(ValueError, match="one value for each"):
        filtered_reading_dbm(-20.0, [-3.0], isolation_db=[])
    with pytest.raises(ValueError, match="above zero"):
        isolation_needed_db(-20.0, -3.0, error_db=0.0)
