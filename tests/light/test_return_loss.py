"""Light comes back from every place, weakened twice by what lies before it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.light.return_loss import (
    backscatter_reflectance_db,
    hidden_reflectance_db,
    path_return_loss_db,
    return_loss_db,
)

FIBRE = {
    "attenuation_db_per_km": 0.34,
    "rayleigh_db_per_km": 0.3124,
    "capture_fraction": 1.43e-3,
}


def test_one_reflection_at_the_start_is_its_own_return_loss() -> None:
    assert return_loss_db([-35.0], [0.0]) == pytest.approx(35.0)


def test_nothing_comes_back_from_nothing() -> None:
    assert math.isinf(return_loss_db([np.nan], [1.0]))
    assert np.isinf(path_return_loss_db([0.5], [np.nan]))


def test_two_lengths_return_what_their_sum_returns() -> None:
    whole = backscatter_reflectance_db(5.0, **FIBRE)
    near = backscatter_reflectance_db(2.0, **FIBRE)
    far = backscatter_reflectance_db(3.0, **FIBRE)
    joined = path_return_loss_db([2.0 * 0.34, 3.0 * 0.34], [near, far])
    assert joined == pytest.approx(-whole)


def test_backscatter_saturates_with_length() -> None:
    at_50, at_100 = backscatter_reflectance_db([50.0, 100.0], **FIBRE)
    assert at_100 - at_50 < 0.01
    assert at_100 == pytest.approx(-31.8, abs=0.1)


def test_an_open_flat_end_behind_a_splitter_is_hidden() -> None:
    assert path_return_loss_db([17.0, 0.0], [np.nan, -14.7]) == pytest.approx(48.7)


@settings(deadline=None, max_examples=50)
@given(r=st.floats(-70, -10), known=st.floats(-70, -10), depth=st.floats(0, 5))
def test_the_hidden_reflectance_is_found_again(
    r: float, known: float, depth: float
) -> None:
    total = return_loss_db([known, r], [0.0, depth])
    if r - 2 * depth > known - 40:
        found = hidden_reflectance_db(total, explained_db=-known, depth_db=depth)
        assert found == pytest.approx(r, abs=1e-3)


def test_nothing_is_left_where_all_is_explained() -> None:
    assert hidden_reflectance_db(40.0, explained_db=35.0) == -math.inf


@settings(deadline=None, max_examples=30)
@given(extra=st.floats(-80, 0), depth=st.floats(0, 20))
def test_a_further_reflection_never_raises_the_return_loss(
    extra: float, depth: float
) -> None:
    base = return_loss_db([-40.0], [0.2])
    assert return_loss_db([-40.0, extra], [0.2, depth]) <= base


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        return_loss_db([3.0], [0.0])
    with pytest.raises(ValueError, match="above zero"):
        backscatter_reflectance_db(0.0, **FIBRE)
