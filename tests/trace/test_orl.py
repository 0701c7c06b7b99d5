"""Return loss of traces."""

import pytest
from tests.trace.simulated import LONG, analysed, end, fibre, taken

from eavelight.trace.orl import fibre_return_loss_db


def test_a_simulated_fibre_returns_what_the_integral_says() -> None:
    found = analysed(taken((fibre(8000.0, 1), end(None)), LONG))
    wanted = fibre_return_loss_db(
        8000.0, attenuation_db_per_km=0.19, backscatter_db=-82.0, group_index=1.468
    )
    assert found.orl_db == pytest.approx(wanted, abs=0.05)


def test_a_reflection_lowers_the_return_loss() -> None:
    dark = analysed(taken((fibre(8000.0, 1), end(None)), LONG))
    bright = analysed(taken((fibre(8000.0, 1), end(-35.0)), LONG))
    assert (bright.orl_db or 0.0) < (dark.orl_db or 0.0) - 0.3


def test_glass_without_attenuation_still_returns_light() -> None:
    some = fibre_return_loss_db(
        1000.0, attenuation_db_per_km=0.0, backscatter_db=-82.0, group_index=1.468
    )
    assert 40.0 < some < 45.0
