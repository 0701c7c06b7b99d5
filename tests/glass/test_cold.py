"""Frost: gel joints reflect more, sound cable hardly changes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.cold import (
    cable_change,
    change_beyond_glass,
    gel_joint_reflectance,
    gel_match_temperature,
)


@settings(deadline=None, max_examples=50)
@given(st.floats(1.445, 1.47), st.floats(1.0, 30.0))
def test_reflection_grows_with_distance_from_the_match(
    index: float, away: float
) -> None:
    match = gel_match_temperature(index)
    near = gel_joint_reflectance(match - away, fibre_index=index)
    far = gel_joint_reflectance(match - 2 * away, fibre_index=index)
    assert far > near


@pytest.mark.parametrize("index", [1.4515, 1.46, 1.468])
def test_a_joint_that_is_best_in_summer_reflects_more_in_frost(index: float) -> None:
    frost, best = gel_joint_reflectance(
        [-30.0, min(60.0, gel_match_temperature(index))], fibre_index=index
    )
    assert frost > best + 5


def test_a_tenth_of_a_decibel_on_a_drop_is_not_glass() -> None:
    drop = {"length_m": 100.0, "change_db_per_km": 0.15}
    assert change_beyond_glass(0.11, **drop, u_db=0.04)
    assert not change_beyond_glass(0.05, **drop, u_db=0.04)
    assert change_beyond_glass(-0.2, **drop, u_db=0.04)


def test_a_long_feeder_may_change_by_as_much() -> None:
    assert not change_beyond_glass(
        0.11, length_m=5800.0, change_db_per_km=0.05, u_db=0.04
    )


def test_change_is_proportional_to_length() -> None:
    found = cable_change([0.0, 100.0, 1000.0], change_db_per_km=0.15)
    np.testing.assert_allclose(found, [0.0, 0.015, 0.15])
    with pytest.raises(ValueError, match="length_m"):
        cable_change(-1.0, change_db_per_km=0.05)
