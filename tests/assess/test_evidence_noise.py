"""One noise in two traces is found however the copy was dressed; honest ones pass."""

from datetime import UTC, datetime

import numpy as np
import pytest
from tests.assess.evidence_cases import context, other, trace_file

from eavelight.assess.evidence_noise import assess_noise, likeness_of, rest_of

POINTS = 4000
LEAST = 1000


def fibre(seed, *, drop=900, smooth=0):
    """A line with a step and a noisy tail; optional smoothing inside the tool."""
    rng = np.random.default_rng(seed)
    level = -0.0008 * np.arange(POINTS)
    level[drop:] -= 0.4
    level[2 * drop :] -= 12.0
    power = 10 ** (level / 5.0) + rng.normal(0.0, 3e-4, POINTS)
    if smooth:
        power = np.convolve(power, np.ones(smooth) / smooth, mode="same")
    return 5.0 * np.log10(np.maximum(power, 1e-5))


def alike(one, two):
    found = likeness_of(rest_of(one), rest_of(two), least=LEAST)
    return found.correlation > max(0.15, 6.0 * found.chance)


DRESSED = {
    "as it was": lambda level, rng: level,
    "moved up": lambda level, rng: level + 0.8,
    "tilted": lambda level, rng: level - 1e-4 * np.arange(POINTS),
    "stretched": lambda level, rng: 1.04 * level,
    "shifted": lambda level, rng: np.roll(level, 7),
    "rounded": lambda level, rng: np.round(level, 2),
    "an event added": lambda level, rng: level - 0.7 * (np.arange(POINTS) > 1500),
    "noise added": lambda level, rng: level + rng.normal(0.0, 0.1, POINTS),
    "cut": lambda level, rng: level[:3000],
}


@pytest.mark.parametrize("dress", DRESSED)
@pytest.mark.parametrize("smooth", [0, 5])
def test_copy_is_found_however_it_is_dressed(dress, smooth):
    level = fibre(1, smooth=smooth)
    assert alike(level, DRESSED[dress](level, np.random.default_rng(2)))


@pytest.mark.parametrize("smooth", [0, 5, 15])
def test_honest_traces_of_one_fibre_are_not_alike(smooth):
    traces = [fibre(seed, smooth=smooth) for seed in range(8)]
    pairs = [(a, b) for i, a in enumerate(traces) for b in traces[:i]]
    assert not any(alike(a, b) for a, b in pairs)


def test_too_few_points_are_not_compared():
    assert likeness_of(rest_of(fibre(1)[:900]), rest_of(fibre(2)), least=LEAST) is None


def test_constant_levels_are_not_compared():
    flat = np.zeros(POINTS)
    assert likeness_of(rest_of(flat), rest_of(fibre(1)), least=LEAST) is None


def verdicts(found):
    return [(str(item.verdict), item.because.id.rpartition(".")[2]) for item in found]


EARLY, LATE = datetime(2026, 4, 1, tzinfo=UTC), datetime(2026, 5, 1, tzinfo=UTC)


def test_later_visit_fails_and_the_earlier_is_told():
    copied = trace_file("a.sor", fibre(1))
    edited = trace_file("b.sor", fibre(1) - 0.5)
    late = context(LATE, [edited], [other("V-0", EARLY, [copied])])
    early = context(EARLY, [copied], [other("V-2", LATE, [edited])])
    assert verdicts(assess_noise(late)) == [("fail", "across")]
    assert verdicts(assess_noise(early)) == [("pass", "told")]


def test_one_trace_as_two_wavelengths_of_a_visit_fails():
    files = [trace_file("1310.sor", fibre(1)), trace_file("1550.sor", fibre(1) - 0.2)]
    assert verdicts(assess_noise(context(LATE, files, []))) == [("fail", "within")]


def test_the_same_copy_in_every_visit_is_no_baseline_that_hides_it():
    files = [trace_file("x.sor", fibre(1) - 0.1)]
    others = [
        other(f"V-{n}", EARLY, [trace_file("x.sor", fibre(1) - 0.1 * n)])
        for n in range(2, 8)
    ]
    found = assess_noise(context(LATE, files, others))
    assert verdicts(found) == [("fail", "across")] * 6


def test_honest_traces_pass_and_no_trace_is_not_measured():
    files = [trace_file("a.sor", fibre(3))]
    honest = context(
        LATE, files, [other("V-0", EARLY, [trace_file("b.sor", fibre(4))])]
    )
    assert [str(item.verdict) for item in assess_noise(honest)] == ["pass"]
    for empty in (context(LATE, [], []), context(LATE, files, [])):
        assert [str(i.verdict) for i in assess_noise(empty)] == ["not measured"]
