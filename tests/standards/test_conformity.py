"""A pass clears its limit, a fail lies beyond it, the rest is undecided."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.standards.conformity import (
    accepted_risk,
    decide,
    global_risk,
    guard_factor,
    guard_for_consumer_risk,
    probability_of_conformity,
    proven_above,
)
from eavelight.standards.profiles import load_profile

K = load_profile().guard_factor


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(0.80, "pass"), (0.95, "undecided"), (1.05, "undecided"), (1.20, "fail")],
)
def test_one_upper_limit_has_three_answers(value: float, verdict: str) -> None:
    assert decide(value, 0.05, high=1.0, factor=K).verdict == verdict


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (-9.0, "pass"),
        (-26.6, "undecided"),
        (-27.0, "fail"),
        (-7.9, "undecided"),
        (-7.0, "fail"),
    ],
)
def test_a_window_is_guarded_on_both_sides(value: float, verdict: str) -> None:
    assert decide(value, 0.19, low=-26.5, high=-8.0, factor=K).verdict == verdict


def test_an_exact_value_on_its_limit_passes() -> None:
    assert decide(1.0, 0.0, high=1.0, factor=K).verdict == "pass"
    assert decide(0.1 + 0.2, 0.0, high=0.3, factor=K).verdict == "pass"
    assert decide(0.1 + 0.2, 0.0, high=0.3, factor=K).probability == 1.0
    assert decide(1.001, 0.0, high=1.0, factor=K).verdict == "fail"


def test_a_value_that_just_clears_its_guard_band_passes() -> None:
    assert decide(1.0 - K * 0.05, 0.05, high=1.0, factor=K).verdict == "pass"


def test_a_window_narrower_than_its_guard_never_passes() -> None:
    assert decide(0.0, 1.0, low=-1.0, high=1.0, factor=K).verdict == "undecided"
    assert decide(3.0, 1.0, low=-1.0, high=1.0, factor=K).verdict == "fail"


def test_it_says_what_uncertainty_would_decide() -> None:
    undecided = decide(0.96, 0.05, high=1.0, factor=K)
    assert undecided.deciding_u is not None
    assert decide(0.96, undecided.deciding_u, high=1.0, factor=K).verdict == "pass"
    assert decide(1.0, 0.05, high=1.0, factor=K).deciding_u is None


@settings(deadline=None, max_examples=50)
@given(value=st.floats(-40, 10), u=st.floats(0.001, 3), width=st.floats(0, 30))
def test_the_verdict_agrees_with_the_probability(
    value: float, u: float, width: float
) -> None:
    found = decide(value, u, low=-27.0, high=-27.0 + width, factor=K)
    if found.verdict == "pass":
        assert found.probability >= 0.90 - 1e-6
    if found.verdict == "fail":
        assert found.probability <= 0.05 + 1e-4


@settings(deadline=None, max_examples=50)
@given(value=st.floats(-5, 5), u=st.floats(0.01, 2))
def test_mirroring_a_value_and_its_limit_changes_nothing(
    value: float, u: float
) -> None:
    upper = decide(value, u, high=1.0, factor=K)
    lower = decide(-value, u, low=-1.0, factor=K)
    assert upper.verdict == lower.verdict
    assert upper.probability == pytest.approx(lower.probability)


@settings(deadline=None, max_examples=30)
@given(u=st.floats(0.02, 0.4), guard=st.floats(0, 0.3))
def test_a_wider_guard_accepts_fewer_bad_and_fewer_good(u: float, guard: float) -> None:
    case = {
        "prior": "normal",
        "parameters": [9.5, 0.3],
        "u": u,
        "low": 9.0,
        "high": 10.0,
    }
    plain, guarded = global_risk(**case), global_risk(**case, guard=guard)
    assert guarded.consumer <= plain.consumer + 1e-12
    assert guarded.producer >= plain.producer - 1e-12
    assert guarded.outside == pytest.approx(plain.outside)


def test_risks_agree_with_drawing_them() -> None:
    import numpy as np

    rng = np.random.default_rng(5)
    true = rng.gamma(4.0, 0.25, 400_000)
    seen = true + rng.normal(0.0, 0.25, true.size)
    said = global_risk(
        prior="gamma", parameters=[4.0, 0.25], u=0.25, high=2.0, guard=0.1
    )
    assert np.mean((true > 2.0) & (seen <= 1.9)) == pytest.approx(
        said.consumer, abs=5e-4
    )
    assert np.mean((true <= 2.0) & (seen > 1.9)) == pytest.approx(
        said.producer, abs=1e-3
    )


def test_many_degrees_of_freedom_are_the_normal_distribution() -> None:
    assert guard_factor(0.05, degrees_of_freedom=1e7) == pytest.approx(
        guard_factor(0.05), abs=1e-5
    )


def test_the_profile_guards_to_five_percent() -> None:
    assert guard_factor(0.05) == pytest.approx(K, abs=0.0005)


def test_equal_costs_accept_even_odds() -> None:
    assert accepted_risk(2.0, 2.0) == 0.5


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: decide(math.nan, 0.1, high=1.0, factor=K), "finite"),
        (lambda: decide(0.0, -0.1, high=1.0, factor=K), "not be negative"),
        (lambda: decide(0.0, 0.1, factor=K), "at least one limit"),
        (lambda: decide(0.0, 0.1, low=2.0, high=1.0, factor=K), "not exceed high"),
        (lambda: guard_factor(0.0), "above 0"),
        (lambda: accepted_risk(-1.0, 1.0), "negative"),
        (lambda: accepted_risk(0.0, 0.0), "one of the costs"),
        (lambda: proven_above(100.0, factor=3.0, u_share=0.4), "below 1"),
        (
            lambda: global_risk(prior="normal", parameters=[0, 1], u=0.0, high=1),
            "u must be above zero",
        ),
        (
            lambda: global_risk(prior="normal", parameters=[0, -1], u=1.0, high=1),
            "shape and scale",
        ),
        (
            lambda: global_risk(prior="beta", parameters=[1, 1], u=1.0, high=1),
            "expected 'normal' or 'gamma'",
        ),
        (
            lambda: guard_for_consumer_risk(
                0.5, prior="normal", parameters=[0, 1], u=0.1, high=3.0
            ),
            "no guard band",
        ),
    ],
)
def test_nonsense_is_refused(call: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()  # type: ignore[operator]


def test_the_normal_probability_of_an_exact_value_is_certain() -> None:
    assert probability_of_conformity(1.0, 0.0, low=0.0, high=2.0) == 1.0
    assert probability_of_conformity(3.0, 0.0, low=0.0, high=2.0) == 0.0
