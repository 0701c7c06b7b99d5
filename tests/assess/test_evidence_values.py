"""Runs of equal values and uneven digits are told; what honest meters do is not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from tests.assess.evidence_cases import context, other

from eavelight.assess.evidence_values import (
    assess_values,
    digits_chi_squared,
    last_digits,
    step_of,
)
from eavelight.model.observation import Reading

EARLY, LATE = datetime(2026, 4, 1, tzinfo=UTC), datetime(2026, 5, 1, tzinfo=UTC)
PLACES = [
    ("level", "port", 1490, "dBm", -18.2, 0.2),
    ("level", "terminal", 1490, "dBm", -18.7, 0.2),
    ("loss", "drop", 1310, "dB", 0.5, 0.05),
    ("loss", "drop", 1550, "dB", 0.48, 0.05),
    ("splice_estimate", "pigtail splice", None, "dB", 0.03, 0.01),
    ("volts", "supply", None, "V", 13.6, 0.02),
    ("level_upstream", "hub", 1310, "dBm", -17.5, 0.3),
    ("loop_resistance", "supply", None, "ohm", 1.0, 0.02),
]


def readings(seed, *, start=EARLY, resolution=2):
    rng = np.random.default_rng(seed)
    return [
        Reading(
            id=f"r{n}", what=what, at=at, unit=unit, wavelength_nm=wavelength,
            value=round(float(rng.normal(middle, spread)), resolution),
            time=start + timedelta(minutes=5 * n),
        )
        for n, (what, at, wavelength, unit, middle, spread) in enumerate(PLACES)
    ]  # fmt: skip


def moved(items, start):
    first = items[0].time
    return [replace(item, time=start + (item.time - first)) for item in items]


def told(found):
    return [(str(i.verdict), i.because.id.partition("values.")[2]) for i in found]


def test_values_of_another_visit_in_the_same_order_are_told():
    mine = moved(readings(1), LATE)
    others = [other("V-0", EARLY, readings=readings(1)), other("V-2", EARLY)]
    (found,) = assess_values(context(LATE, others=others, readings=mine))
    assert (found.verdict, found.because.values["visit"]) == ("fail", "V-0")
    assert found.because.values["count"] == 8
    assert found.advisory


def test_earlier_visit_is_only_told_of_the_later_one():
    others = [other("V-9", LATE, readings=moved(readings(1), LATE))]
    found = assess_values(context(EARLY, others=others, readings=readings(1)))
    assert told(found) == [("pass", "pass.told")]


def test_four_equal_values_are_nothing():
    copied = readings(1)
    mine = moved([*copied[:4], *readings(2)[4:]], LATE)
    others = [other("V-0", EARLY, readings=copied)]
    found = assess_values(context(LATE, others=others, readings=mine))
    assert told(found) == [("pass", "pass")]


def test_run_broken_by_one_other_value_counts_only_its_longest_part():
    copied = readings(1)
    mine = moved([*copied[:3], readings(2)[3], *copied[4:7], readings(2)[7]], LATE)
    others = [other("V-0", EARLY, readings=copied)]
    assert told(assess_values(context(LATE, others=others, readings=mine))) == [
        ("pass", "pass")
    ]


def test_crew_whose_coarse_meters_always_agree_is_not_told():
    def coarse(seed, start):
        return [
            replace(item, value=round(item.number, 0)) for item in readings(seed)
        ] and moved(
            [replace(item, value=round(item.number, 0)) for item in readings(seed)],
            start,
        )

    others = [other(f"V-{n}", EARLY, readings=coarse(n, EARLY)) for n in range(2, 12)]
    mine = coarse(99, LATE)
    found = assess_values(context(LATE, others=others, readings=mine))
    assert [str(item.verdict) for item in found] == ["pass"]


def test_honest_visits_pass():
    others = [other(f"V-{n}", EARLY, readings=readings(n)) for n in range(2, 30)]
    found = assess_values(
        context(LATE, others=others, readings=readings(1, start=LATE))
    )
    assert [str(item.verdict) for item in found] == ["pass"]


def invented(n, start):
    """Numbers as people make them up: they end in 5 and 0 too often."""
    rng = np.random.default_rng(n)
    items = readings(n, start=start)
    return [
        replace(
            item, value=round(round(item.number, 1) + float(rng.choice([0, 0.05])), 2)
        )
        if item.what == "level" and rng.random() < 0.5
        else item
        for item in items
    ]


def test_last_digits_of_a_crew_that_invents_them_are_told():
    others = [other(f"V-{n}", EARLY, readings=invented(n, EARLY)) for n in range(2, 80)]
    found = assess_values(context(LATE, others=others, readings=invented(1, LATE)))
    assert ("fail", "fail.digits") in told(found)


def test_other_crews_digits_do_not_count():
    others = [
        other(f"V-{n}", EARLY, readings=invented(n, EARLY), crew="another")
        for n in range(2, 80)
    ]
    found = assess_values(
        context(LATE, others=others, readings=readings(1, start=LATE))
    )
    assert [str(item.verdict) for item in found] == ["pass"]


def test_nothing_to_compare_is_not_measured():
    for empty in (context(LATE), context(LATE, readings=readings(1, start=LATE))):
        assert [str(i.verdict) for i in assess_values(empty)] == ["not measured"]


@pytest.mark.parametrize(
    ("values", "step"),
    [([0.02, 0.03], 0.01), ([0.1, 0.3], 0.1), ([-18.0, -17.0], 1.0),
     ([0.05, 0.1, 0.25, 0.4], 0.05)],
)  # fmt: skip
def test_step_of_a_display_is_seen_in_its_values(values, step):
    assert step_of(values) == pytest.approx(step)


def test_chi_squared_is_that_of_a_hand_count():
    # 20 digits, all 7: (20 - 2)^2 / 2 + 9 * (0 - 2)^2 / 2
    assert digits_chi_squared([7] * 20) == 180.0


def test_readings_that_hardly_spread_have_no_even_digits_and_do_not_count():
    close = [replace(item, value=0.02) for item in readings(1)]
    assert last_digits(close * 30) == []
