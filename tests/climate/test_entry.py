"""Entries: grommet, side, loop to scale, cover, movement."""

import numpy as np
import pytest

from eavelight.climate.entry import (
    COVER_QUESTIONS,
    Entry,
    check_entry,
    entry_slack,
    loop_outline,
    loop_width,
    sheath_movement,
)


def entry(**changed):
    values = {
        "outside_diameter_mm": 6.5, "grommet_min_mm": 5.0, "grommet_max_mm": 8.0,
        "side": "below", "loop_width_mm": 160.0,
    }  # fmt: skip
    return Entry(**(values | changed))


def test_a_good_entry_that_was_looked_at_is_good():
    check = check_entry(entry(), seen=COVER_QUESTIONS)
    assert check.good is True
    assert check.loop_spare_mm == pytest.approx(30.0)
    assert check.grommet_spare_mm == pytest.approx(1.5)


def test_an_entry_that_nobody_looked_at_is_undecided():
    check = check_entry(entry())
    assert check.good is None
    assert check.unknown == COVER_QUESTIONS


@pytest.mark.parametrize(
    ("changed", "fault"),
    [
        (
            {"outside_diameter_mm": 8.5, "loop_width_mm": 200.0},
            "cable too thick for grommet",
        ),
        ({"outside_diameter_mm": 4.0}, "cable too thin for grommet"),
        ({"side": "above"}, "entry from above"),
        ({"loop_width_mm": 129.0}, "loop too narrow"),
    ],
)
def test_each_fault_is_named_alone(changed, fault):
    check = check_entry(entry(**changed), seen=COVER_QUESTIONS)
    assert check.faults == (fault,)
    assert check.good is False


def test_limits_are_inclusive():
    exact = entry(outside_diameter_mm=8.0, loop_width_mm=160.0)
    assert check_entry(exact, seen=COVER_QUESTIONS).good is True


def test_what_was_seen_to_be_wrong_is_a_fault():
    check = check_entry(entry(), seen=COVER_QUESTIONS[1:], wrong=COVER_QUESTIONS[:1])
    assert check.faults == ("lowest point below the entry",)


def test_a_loop_without_a_width_is_unknown():
    check = check_entry(entry(loop_width_mm=None), seen=COVER_QUESTIONS)
    assert check.unknown == ("loop width",)
    assert check.loop_spare_mm is None


def test_the_loop_ends_at_the_entry_and_hangs_below_it():
    outline = loop_outline(8.0)
    assert outline[-1] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert np.ptp(outline[:, 0]) == pytest.approx(160.0)
    assert outline[:, 1].max() == pytest.approx(0.0, abs=1e-9)


def test_the_drawn_loop_bends_no_tighter_than_allowed():
    outline = loop_outline(6.5, points=721)
    first = np.gradient(outline, axis=0)
    second = np.gradient(first, axis=0)
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    radius = np.hypot(*first.T)[5:-5] ** 3 / np.abs(cross[5:-5])
    assert radius.min() == pytest.approx(65.0, rel=1e-3)


def test_a_cable_without_thickness_is_refused():
    with pytest.raises(ValueError, match="outside_diameter_mm"):
        loop_width(0.0)


def test_an_unknown_side_is_refused():
    with pytest.raises(ValueError, match="side"):
        check_entry(entry(side="left"))


def test_slack_holds_two_restrips_and_the_movement():
    moved = sheath_movement(5.0, low_c=-30.0, high_c=60.0, expansion_per_k=12e-6)
    assert entry_slack(moved) == pytest.approx(0.3054, abs=1e-4)
