"""Slack: what a loop costs, what a sleeve covers, what a re-splice leaves."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.slack import (
    lap_length,
    loop_report,
    radius_lost,
    require_sleeve,
    resplices_by_length,
    resplices_by_radius,
    sleeve_fit,
    turns_per_metre,
)
from eavelight.standards.fibre_types import fibre_type

BARE = st.floats(5.0, 20.0)


def test_turns_of_a_metre_are_a_metre_long() -> None:
    radius = np.array([8.0, 15.0, 30.0])
    np.testing.assert_allclose(turns_per_metre(radius) * lap_length(radius), 1000.0)


@settings(deadline=None, max_examples=50)
@given(st.floats(20.0, 80.0), BARE, BARE)
def test_a_sleeve_that_fits_covers_both_coatings(
    sleeve: float, one: float, two: float
) -> None:
    fit = sleeve_fit(sleeve, cable_bare_mm=one, pigtail_bare_mm=two)
    if fit.fits:
        assert fit.cable_overlap_mm >= 6 - 1e-9
        assert fit.pigtail_overlap_mm >= 6 - 1e-9
    if fit.reason == "too short":
        assert sleeve < one + two + 12


@settings(deadline=None, max_examples=50)
@given(st.floats(20.0, 80.0), BARE)
def test_moving_by_the_room_off_centre_leaves_exactly_the_overlap(
    sleeve: float, bare: float
) -> None:
    fit = sleeve_fit(sleeve, cable_bare_mm=bare, pigtail_bare_mm=bare)
    if fit.fits:
        left = (sleeve - fit.bare_mm) / 2 - fit.off_centre_mm
        assert left == pytest.approx(6.0)


def test_unequal_cleaves_sit_off_centre_when_the_ends_meet_in_the_middle() -> None:
    fit = sleeve_fit(60.0, cable_bare_mm=10.0, pigtail_bare_mm=16.0)
    assert fit.fits
    assert fit.shift_mm == 3.0
    assert fit.off_centre_mm == 11.0


def test_a_sleeve_long_enough_may_still_leave_one_side_bare() -> None:
    fit = sleeve_fit(40.0, cable_bare_mm=8.0, pigtail_bare_mm=18.0)
    assert fit.reason == "off centre"
    assert fit.pigtail_overlap_mm < 6


def test_a_refused_sleeve_raises_with_name_and_value() -> None:
    fit = sleeve_fit(40.0, cable_bare_mm=16.0, pigtail_bare_mm=16.0)
    with pytest.raises(ValueError, match=r"sleeve_mm .* got 40 \(too short\)"):
        require_sleeve(fit)
    long = sleeve_fit(60.0, cable_bare_mm=10.0, pigtail_bare_mm=10.0, holder_mm=45.0)
    with pytest.raises(ValueError, match="too long"):
        require_sleeve(long)
    good = sleeve_fit(60.0, cable_bare_mm=16.0, pigtail_bare_mm=16.0)
    assert require_sleeve(good) is good


def test_more_laps_share_a_loss() -> None:
    assert np.all(np.diff(radius_lost(50.0, laps=[1, 2, 3, 6])) < 0)
    with pytest.raises(ValueError, match="laps"):
        radius_lost(50.0, laps=0)


def test_no_attempt_is_left_at_the_edge() -> None:
    assert resplices_by_length(399.0, reach_mm=350.0, cut_mm=50.0) == 0
    assert resplices_by_length(400.0, reach_mm=350.0, cut_mm=50.0) == 1
    assert resplices_by_length(100.0, reach_mm=350.0, cut_mm=50.0) == 0
    assert resplices_by_radius(10.0, smallest_mm=12.0, laps=3, cut_mm=50.0) == 0
    with pytest.raises(ValueError, match="cut_mm"):
        resplices_by_length(1000.0, reach_mm=350.0, cut_mm=0.0)


def test_a_wide_loop_of_standard_fibre_is_free_and_safe() -> None:
    report = loop_report(fibre_type("g652d"), 30.0, turns=3)
    assert report.warnings == ()
    assert report.loss.typical_db.max() < 0.01
    assert report.risk_30_years.decade < -10
    assert report.keep.governed_by == "optical"


def test_a_tight_loop_of_bend_insensitive_fibre_warns_in_spite_of_its_loss() -> None:
    report = loop_report(fibre_type("g657b3"), 5.0, turns=1)
    assert report.loss.high_db[2] <= 0.15 + 1e-9
    assert {"below proof", "loss proves nothing"} <= set(report.warnings)
    assert report.risk_20_years.probability < report.risk_30_years.probability


def test_a_cable_rule_can_govern() -> None:
    report = loop_report(fibre_type("g657a2"), 15.0, turns=2, rule_mm=40.0)
    assert report.keep.governed_by == "cable"
    assert "below minimum" in report.warnings
