"""The noise map finds what the simulator put in."""

import numpy as np
import pytest
from tests.trace.simulated import LONG, analysed, end, fibre, taken

from eavelight.trace.noise import clamp_level_db, noise_floor, usable_stop


def test_the_clamp_is_the_repeated_maximum() -> None:
    samples = np.r_[np.linspace(8.0, 10.0, 50), 45.0, 30.0, 45.0, 45.0]
    assert clamp_level_db(samples) == 45.0
    assert clamp_level_db(np.linspace(8.0, 10.0, 50)) is None


def test_the_floor_is_the_noise_that_was_added() -> None:
    trace = taken((fibre(4000.0, 1), end()), LONG)
    floor = noise_floor(trace.samples_db, 8.0)
    wanted = LONG.offset_db - 2.5 * np.log10(LONG.noise_a)
    assert floor.rms_db == pytest.approx(wanted, abs=0.3)
    assert (floor.p98_db or 0.0) < (floor.rms_db or 0.0)


def test_usable_data_stop_where_the_noise_takes_over() -> None:
    trace = taken((fibre(4000.0, 1), end(None)), LONG)
    floor = noise_floor(trace.samples_db, 8.0)
    stop = usable_stop(trace.samples_db, floor, 4)
    assert stop * LONG.spacing_m == pytest.approx(4000.0, abs=40.0)


def test_a_trace_without_noise_behind_it_has_no_floor() -> None:
    assert noise_floor(np.linspace(8.0, 9.0, 400)).rms_db is None


def test_the_frozen_pattern_comes_out_in_size_and_colour() -> None:
    found = analysed(taken((fibre(6000.0, 1), end()), LONG)).noise
    each = found.sample_db2[1000]
    # pattern K / footprint and about the same colour as a triangle of one pulse
    assert found.pattern_db2 == pytest.approx(5e-4 / 10.2, rel=0.35)
    assert 4.0 < found.long_run_db2[1000] / each < 12.0


def test_noise_grows_along_the_fibre() -> None:
    found = analysed(taken((fibre(12_000.0, 1), end()), LONG)).noise
    assert found.long_run_db2[9000] > found.long_run_db2[500]
