"""Reports are decoded exactly, and their steps are not their accuracy."""

import pytest

from eavelight.light.transceiver import (
    modulation_amplitude_dbm,
    reported_level_dbm,
    reported_threshold_dbm,
)


def test_a_positive_word_is_a_positive_level() -> None:
    assert reported_level_dbm(1000) == pytest.approx(2.0)


def test_the_last_code_leaves_the_threshold_to_the_terminal() -> None:
    assert reported_threshold_dbm(255) is None


@pytest.mark.parametrize("word", [-1, 0x10000])
def test_a_word_has_sixteen_bits(word: int) -> None:
    with pytest.raises(ValueError, match="16 bits"):
        reported_level_dbm(word)


@pytest.mark.parametrize("code", [-1, 256])
def test_a_threshold_is_one_byte(code: int) -> None:
    with pytest.raises(ValueError, match="one byte"):
        reported_threshold_dbm(code)


def test_full_extinction_doubles_the_mean() -> None:
    assert modulation_amplitude_dbm(0.0, 60.0) == pytest.approx(3.0103, abs=1e-4)


def test_no_extinction_is_no_signal() -> None:
    with pytest.raises(ValueError, match="above 0"):
        modulation_amplitude_dbm(0.0, 0.0)
