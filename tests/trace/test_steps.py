"""Step search on bare numbers."""

import numpy as np
import pytest

from eavelight.trace.lines import LineSums, SlopePrior
from eavelight.trace.steps import StepTest, find_steps, step_threshold, window_lengths

PRIOR = SlopePrior(slope=3e-4, deviation=1e-4)
TEST = StepTest(before=1, after=3)


def sums(values: np.ndarray, sigma: float = 0.01) -> LineSums:
    return LineSums(values, np.full(len(values), sigma**2), PRIOR)


def line(seed: int, count: int = 2000) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return 3e-4 * np.arange(count) + rng.normal(0.0, 0.01, count)


def test_a_plain_step_is_found_where_it_is() -> None:
    values = line(1)
    values[1200:] += 0.03
    found = find_steps(sums(values), [(0, 2000)], TEST)
    assert len(found) == 1
    assert found[0][0] == pytest.approx(1200, abs=8)
    assert found[0][1] > 0.0


def test_a_gain_has_the_other_sign() -> None:
    values = line(2)
    values[700:] -= 0.05
    assert find_steps(sums(values), [(0, 2000)], TEST)[0][1] < 0.0


def test_neighbours_do_not_hide_each_other() -> None:
    values = line(3)
    for place, size in ((500, 0.1), (540, -0.1), (1500, 0.03)):
        values[place:] += size
    places = [place for place, _ in find_steps(sums(values), [(0, 2000)], TEST)]
    for place in (500, 540, 1500):
        assert min(abs(place - other) for other in places) < 8


def test_pure_noise_rarely_shows_anything() -> None:
    alarms = sum(
        len(find_steps(sums(line(100 + k)), [(0, 2000)], TEST)) for k in range(100)
    )
    # a budget of 0.02 a trace: two expected
    assert alarms <= 8


def test_nothing_is_searched_outside_the_segments() -> None:
    values = line(4)
    values[1000:] += 0.2
    assert find_steps(sums(values), [(0, 900), (1100, 2000)], TEST) == []
    assert find_steps(sums(values), [], TEST) == []


def test_narrow_windows_need_more_evidence_than_wide_ones() -> None:
    assert step_threshold(2000, 8, 0.01) > step_threshold(2000, 500, 0.01)


def test_windows_end_with_the_longest() -> None:
    assert window_lengths(4, 3) == [4]
    assert window_lengths(4, 33)[-1] == 33
