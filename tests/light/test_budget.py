"""A loss has an uncertainty budget, and a slope tells a bend from a joint."""

import math

import numpy as np
import pytest

from eavelight.light.budget import (
    averaged_budget,
    budget_u_db,
    combined_u_db,
    db_from_share,
    departure,
    excess_trend,
    expected_slope,
    loss_slope_u_db,
    source_meter_loss_db,
    standard_u_db,
    variance_shares,
)
from eavelight.light.budget_templates import LEVEL_OUTDOORS, LOSS_ONE_CORD
from eavelight.light.path import Path
from eavelight.standards.profiles import load_profile


def test_the_outdoor_level_template_sums_to_its_published_value() -> None:
    assert budget_u_db(LEVEL_OUTDOORS) == pytest.approx(0.186, abs=0.0005)


def test_the_templates_explain_the_tool_classes_of_the_profile() -> None:
    profile = load_profile()
    assert budget_u_db(LEVEL_OUTDOORS) == pytest.approx(
        profile.default_u("level"), abs=0.01
    )
    assert budget_u_db(LOSS_ONE_CORD) == pytest.approx(
        profile.default_u("loss"), abs=0.01
    )


def test_three_matings_leave_less_than_one() -> None:
    three = averaged_budget(LEVEL_OUTDOORS, name="mating", readings=3)
    assert three[6].u_db == pytest.approx(0.0577, abs=1e-4)
    assert budget_u_db(three) < budget_u_db(LEVEL_OUTDOORS)


def test_a_level_from_another_meter_shares_no_calibration() -> None:
    assert combined_u_db([0.3, 0.4]) == pytest.approx(0.5)


def test_a_wrong_reference_gives_a_negative_loss() -> None:
    assert source_meter_loss_db(-7.0, -5.5) == pytest.approx(-1.5)


@pytest.mark.parametrize("correlation", [0.0, 0.5, 0.9])
def test_slope_uncertainty_agrees_with_an_independent_library(
    correlation: float,
) -> None:
    uncertainties = pytest.importorskip("uncertainties")
    covariance = correlation * 0.05 * 0.04
    a, b = uncertainties.correlated_values(
        [0.6, 0.5], [[0.05**2, covariance], [covariance, 0.04**2]]
    )
    assert loss_slope_u_db(0.05, 0.04, correlation=correlation) == pytest.approx(
        (a - b).std_dev
    )


def test_the_same_error_at_both_wavelengths_leaves_the_slope_alone() -> None:
    assert loss_slope_u_db(0.05, 0.05, correlation=1.0) == pytest.approx(0.0)


def test_a_sound_drop_has_hardly_any_slope(path: Path) -> None:
    slope, u = expected_slope(path.drop(), 1550, 1310)
    assert slope == pytest.approx(0.095 * (0.20 - 0.34))
    assert 0.0 < u < 0.1


def test_a_bend_shows_as_slope_and_a_joint_as_flat() -> None:
    nm = [1310.0, 1550.0, 1625.0]
    bend = excess_trend(nm, [0.11, 3.83, 8.53], u_db=0.05)
    joint = excess_trend(nm, [0.50, 0.48, 0.49], u_db=0.05)
    assert bend.slope_db / bend.slope_u_db > 10
    assert abs(joint.slope_db / joint.slope_u_db) < 1
    assert joint.flat_db / joint.flat_u_db > 10


def test_the_trend_is_that_of_an_independent_weighted_fit() -> None:
    nm, u = (
        np.array([1310.0, 1490.0, 1550.0, 1625.0]),
        np.array([0.05, 0.08, 0.05, 0.1]),
    )
    excess = np.array([0.1, 0.2, 0.15, 0.4])
    found = excess_trend(list(nm), excess, u_db=u)
    coefficients, covariance = np.polyfit(
        (nm - found.middle_nm) / 100.0, excess, 1, w=1.0 / u, cov="unscaled"
    )
    assert [found.slope_db, found.flat_db] == pytest.approx(list(coefficients))
    assert [found.slope_u_db, found.flat_u_db] == pytest.approx(
        list(np.sqrt(np.diag(covariance)))
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: standard_u_db(-0.1, 1.0), "negative"),
        (lambda: variance_shares([0.0, 0.0]), "not all be zero"),
        (
            lambda: averaged_budget(LEVEL_OUTDOORS, name="mating", readings=0),
            "at least 1",
        ),
        (
            lambda: averaged_budget(LEVEL_OUTDOORS, name="wind", readings=2),
            "no component",
        ),
        (lambda: db_from_share(-1.0), "above -1"),
        (
            lambda: departure(1.0, expected_db=0.0, u_db=0.0, expected_u_db=0.0),
            "must be above zero",
        ),
        (lambda: loss_slope_u_db(0.1, 0.1, correlation=2.0), "between -1 and 1"),
        (lambda: excess_trend([1310.0, 1310.0], [0.1, 0.1], u_db=0.1), "two different"),
    ],
)
def test_nonsense_is_refused(call: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()  # type: ignore[operator]


def test_a_known_distance_in_sigmas_keeps_its_sign() -> None:
    low = departure(-18.7, expected_db=-16.9, u_db=0.19, expected_u_db=0.4)
    assert low == pytest.approx(-1.8 / math.hypot(0.19, 0.4))
