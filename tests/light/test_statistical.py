"""Means and variances add; few splices keep their skew."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from eavelight.light.statistical import (
    loss_exceedance,
    loss_quantile_db,
    splice_third_moment_db3,
)


@pytest.mark.parametrize("count", [1, 3, 10])
@pytest.mark.parametrize("probability", [0.05, 0.5, 0.95, 0.999])
def test_a_sum_of_exponential_splices_is_a_gamma(
    count: int, probability: float
) -> None:
    third = count * float(splice_third_moment_db3(0.05, 0.05))
    found = loss_quantile_db(
        probability, mean_db=count * 0.05, sigma_db=0.05 * count**0.5, third=third
    )
    assert found == pytest.approx(stats.gamma.ppf(probability, count, scale=0.05))


def test_a_drawn_chain_of_splices_and_connectors_has_the_stated_tail() -> None:
    rng = np.random.default_rng(11)
    shape = (0.05 / 0.04) ** 2
    drawn = rng.gamma(shape, 0.05 / shape, (200_000, 2)).sum(axis=1)
    drawn += rng.normal(0.5, 0.1, 200_000)
    third = 2 * float(splice_third_moment_db3(0.05, 0.04))
    said = loss_exceedance(
        0.85, mean_db=0.6, sigma_db=(2 * 0.04**2 + 0.1**2) ** 0.5, third=third
    )
    assert np.mean(drawn > 0.85) == pytest.approx(said, abs=0.002)


@settings(deadline=None, max_examples=40)
@given(p=st.floats(0.01, 0.99), third=st.floats(0, 2e-4))
def test_quantile_and_exceedance_undo_each_other(p: float, third: float) -> None:
    limit = float(loss_quantile_db(p, mean_db=0.3, sigma_db=0.06, third=third))
    back = loss_exceedance(limit, mean_db=0.3, sigma_db=0.06, third=third)
    assert back == pytest.approx(1.0 - p, abs=1e-6)


def test_without_spread_the_answer_is_yes_or_no() -> None:
    assert loss_exceedance(1.0, mean_db=0.9, sigma_db=0.0) == 0.0
    assert loss_exceedance(1.0, mean_db=1.1, sigma_db=0.0) == 1.0


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1])
def test_a_share_outside_its_range_is_refused(probability: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        loss_quantile_db(probability, mean_db=0.0, sigma_db=1.0)
