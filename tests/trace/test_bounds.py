"""Bounds against simulated noise."""

import numpy as np
import pytest

from eavelight.trace.bounds import (
    colour_factor,
    pattern_step_u_db,
    step_u_common_slope_db,
    step_u_separate_slopes_db,
    window_loss_db,
)


def test_the_separate_slope_bound_is_what_two_lines_scatter() -> None:
    rng = np.random.default_rng(0)
    draws = [
        window_loss_db(rng.normal(0.0, 1.0, 112), (0, 49), (62, 111), 55.5)
        for _ in range(4000)
    ]
    bound = step_u_separate_slopes_db(50, 50, 12, 1.0)
    assert np.std(draws) == pytest.approx(bound, rel=0.05)


def test_equal_windows_gain_nothing_from_a_common_slope() -> None:
    separate = step_u_separate_slopes_db(80, 80, 10, 1.0)
    assert step_u_common_slope_db(80, 80, 10, 1.0) == pytest.approx(separate)


def test_longer_windows_lower_the_pattern_limit() -> None:
    assert pattern_step_u_db(1e-3, 200.0) == pytest.approx(
        pattern_step_u_db(1e-3, 50.0) / 2.0
    )


def test_white_noise_has_no_colour() -> None:
    assert colour_factor([0.0, 0.0]) == 1.0


def test_a_window_of_one_sample_is_refused() -> None:
    with pytest.raises(ValueError, match="two samples"):
        window_loss_db(np.zeros(10), (0, 0), (5, 9), 3.0)
