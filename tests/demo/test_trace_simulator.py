"""The simulated reflectometer obeys the physics it claims."""

import numpy as np
import pytest

from eavelight.demo.trace_simulator import (
    Fibre,
    Instrument,
    Joint,
    Splitter,
    reverse_plant,
    simulate_trace,
)

QUIET = Instrument(
    spacing_m=1.0, range_m=4000.0, receiver_ns=0.0, noise_a=1e-14, noise_b=0.0,
    noise_c=0.0, tail_db=-90.0, slow_tail_db=-90.0, saturation_db=None, phase=0.5,
)  # fmt: skip


def smooth(length_m: float, **more: object) -> Fibre:
    return Fibre(length_m=length_m, pattern_db2_m=0.0, **more)  # type: ignore[arg-type]


def taken(*plant: object, instrument: Instrument = QUIET, nm: int = 1310) -> np.ndarray:
    rng = np.random.default_rng(3)
    return simulate_trace(tuple(plant), instrument, nm, rng=rng).samples_db  # type: ignore[arg-type]


def test_the_same_generator_gives_the_same_trace_and_another_does_not() -> None:
    plant = (Fibre(length_m=1000.0, seed=1),)
    noisy = Instrument(range_m=2000.0)
    first, again, other = (
        simulate_trace(plant, noisy, 1310, rng=np.random.default_rng(seed)).samples_db
        for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_fibre_falls_by_its_attenuation() -> None:
    trace = taken(smooth(3000.0))
    assert trace[2500] - trace[500] == pytest.approx(0.66, abs=0.003)


def test_a_peak_is_as_high_as_its_reflectance_says() -> None:
    mirror = Joint(kind="connector", reflectance_db=-50.0)
    trace = taken(smooth(1000.0), mirror, smooth(1000.0))
    height = trace[990] - trace[1004:1008].mean()
    # -79.5 dB at 1 ns is -59.5 dB at 100 ns: 5 log10(1 + 10**0.95) = 4.98 dB
    assert height == pytest.approx(4.98, abs=0.02)


def test_other_glass_behind_a_splice_shows_as_a_gain_from_one_side_only() -> None:
    bright = smooth(1000.0, backscatter_db={1310: -78.9})
    splice = Joint(kind="splice", loss_db=0.02)
    plant = (smooth(1000.0), splice, bright)
    forward = taken(*plant)
    backward = taken(*reverse_plant(plant))
    assert forward[1200] - forward[900] - 0.33 * 0.3 == pytest.approx(-0.28, abs=0.01)
    assert backward[1200] - backward[900] - 0.33 * 0.3 == pytest.approx(0.32, abs=0.01)


def test_branches_return_together_behind_a_splitter() -> None:
    branch = (smooth(500.0),)
    trace = taken(smooth(1000.0), Splitter(branches=(branch,) * 8, excess_db=1.0))
    step = trace[1300] - trace[900] - 0.33 * 0.4
    assert step == pytest.approx(5.0 * np.log10(8.0) + 1.0, abs=0.01)


def test_an_echo_lies_at_twice_the_far_reflector_less_the_near_one() -> None:
    mirrors = Joint(kind="connector", reflectance_db=-25.0)
    plant = (smooth(1000.0), mirrors, smooth(400.0), mirrors, smooth(1500.0))
    with_echo = taken(*plant)
    without = taken(*plant, instrument=Instrument(
        spacing_m=1.0, range_m=4000.0, receiver_ns=0.0, noise_a=1e-14, noise_b=0.0,
        noise_c=0.0, tail_db=-90.0, slow_tail_db=-90.0, saturation_db=None, phase=0.5,
        ghosts=False,
    ))  # fmt: skip
    changed = np.flatnonzero(without - with_echo > 0.05)
    assert any(1798 <= place <= 1812 for place in changed)


def test_the_frozen_pattern_has_the_size_it_was_given_and_belongs_to_the_glass() -> (
    None
):
    glass = Fibre(length_m=3500.0, seed=5, pattern_db2_m=1e-3)
    one, two = (
        simulate_trace(
            (glass,), QUIET, 1310, rng=np.random.default_rng(seed)
        ).samples_db
        for seed in (1, 2)
    )
    rest = one[500:3300] - np.polyval(
        np.polyfit(np.arange(2800), one[500:3300], 1), np.arange(2800)
    )
    assert rest.std() == pytest.approx(np.sqrt(1e-3 / 10.21), rel=0.15)
    assert np.abs(one - two)[500:3300].max() < 0.003


def test_noise_past_the_end_is_clamped_where_it_is_negative() -> None:
    noisy = Instrument(range_m=4000.0, clamp_db=60.0)
    trace = simulate_trace(
        (Fibre(length_m=1000.0),), noisy, 1550, rng=np.random.default_rng(0)
    )
    share = np.mean(trace.samples_db[2500:] >= 60.0)
    assert 0.35 < share < 0.6


def test_a_plant_without_fibre_is_refused() -> None:
    with pytest.raises(ValueError, match="fibre"):
        taken(Joint(kind="end", reflectance_db=-14.0))
