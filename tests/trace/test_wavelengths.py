"""Odds of a bend against a joint."""

from hypothesis import given
from hypothesis import strategies as st

from eavelight.trace.results import Measured
from eavelight.trace.wavelengths import bend_probability


def losses(**values: float) -> dict[int, Measured]:
    return {
        int(key[1:]): Measured(value=value, u=0.01) for key, value in values.items()
    }


def test_one_wavelength_says_nothing() -> None:
    assert bend_probability(losses(w1550=0.3)) is None
    assert bend_probability(losses(w1550=0.3, w1560=0.3)) is None


def test_flat_or_falling_loss_is_a_joint() -> None:
    assert (bend_probability(losses(w1310=0.30, w1550=0.24)) or 1.0) < 0.05
    assert (bend_probability(losses(w1310=0.30, w1550=0.29)) or 1.0) < 0.05


def test_a_gainer_is_no_bend() -> None:
    assert (bend_probability(losses(w1310=-0.29, w1550=-0.34)) or 1.0) < 0.05


def test_the_longest_wavelength_decides_early() -> None:
    odds = bend_probability(losses(w1310=0.0, w1550=0.03, w1625=0.12))
    assert (odds or 0.0) > 0.95


@given(loss=st.floats(0.05, 2.0), ratio=st.floats(2.0, 30.0))
def test_more_loss_at_the_longer_wavelength_never_speaks_for_a_joint(
    loss: float, ratio: float
) -> None:
    bent = bend_probability(losses(w1310=loss / ratio, w1550=loss))
    flat = bend_probability(losses(w1310=loss, w1550=loss))
    assert bent is not None
    assert flat is not None
    assert bent >= flat
