"""Before plugging in: sign, pairs, insulation, foreign voltage, in one finding."""

import pytest

from eavelight.assess.feed import assess_feed
from eavelight.assess.points import points_of_no_return
from eavelight.wording import say

LOOP = 1.0055  # 24 m of 18 AWG copper at 20 °C, out and back: 48 m x 20.95 ohm/km
SIGN = ("volts", "terminal", 13.6, {"state": "no load"})


def polarity(context):
    found = [i for i in assess_feed(context) if i.requirement == "feed.polarity"]
    assert len(found) == 1
    return found[0]


def test_positive_volts_pass_and_negative_ones_fail(case):
    assert polarity(case(SIGN)).verdict == "pass"
    assert polarity(case(("volts", "terminal", -13.6))).verdict == "fail"


def test_nothing_read_is_not_measured(case):
    assert polarity(case()).verdict == "not measured"


def test_reversal_that_was_mended_no_longer_counts(case):
    assert polarity(case(("volts", "terminal", -13.6), SIGN)).verdict == "pass"


def test_one_open_pair_of_two_is_named(case):
    context = case(SIGN, ("loop_resistance", "supply", LOOP), pairs=2)
    finding = polarity(context)
    assert finding.verdict == "fail"
    assert finding.because.id == "feed.polarity.fail.pair_open"
    assert finding.probability < 0.1


def test_one_open_conductor_of_a_doubled_pair_is_named(case):
    context = case(SIGN, ("loop_resistance", "supply", 0.75 * LOOP), pairs=2)
    assert polarity(context).because.id == "feed.polarity.fail.conductor_open"


@pytest.mark.parametrize("ohm", [0.95, 1.0, 1.8, 4.0])
def test_single_pair_cannot_have_an_open_conductor_that_still_conducts(case, ohm):
    context = case(SIGN, ("loop_resistance", "supply", ohm))
    assert polarity(context).verdict == "pass"


def test_loop_that_no_misplaced_conductor_explains_says_so(case):
    finding = polarity(case(SIGN, ("loop_resistance", "supply", 2.9)))
    assert "neither swapped nor open" in say(finding.because)


def test_open_loop_is_told(case):
    finding = polarity(case(SIGN, ("loop_resistance", "supply", 9e5)))
    assert finding.because.id == "feed.polarity.fail.open"
    assert "power" in say(finding.because)


def test_loops_that_fit_each_other_name_the_swap(case):
    # 22 AWG status conductors: 48 m x 52.96 ohm/km = 2.54 ohm
    context = case(
        SIGN,
        ("loop_resistance", "supply", 2.54),
        ("loop_resistance", "supply", LOOP, {"line": "on battery"}),
    )
    finding = polarity(context)
    assert finding.because.id == "feed.polarity.fail.swapped"
    assert set(finding.because.values["pairs"]) == {"power", "on battery"}
    assert finding.breaking == ("r1", "r2")


def test_a_reversed_sign_does_not_blame_the_good_loop(case):
    context = case(("volts", "terminal", -13.6), ("loop_resistance", "supply", LOOP))
    finding = polarity(context)
    assert finding.observations == ("r0", "r1")
    assert finding.breaking == ("r0",)
    assert polarity(case(SIGN)).breaking == ()


def test_loop_of_a_status_line_is_not_taken_for_the_power_loop(case):
    context = case(
        ("loop_resistance", "supply", LOOP),
        ("loop_resistance", "supply", 2.6, {"line": "on battery"}),
    )
    loop = next(i for i in assess_feed(context) if i.requirement == "feed.loop")
    assert (loop.verdict, loop.measured.value) == ("pass", LOOP)


@pytest.mark.parametrize(
    ("megohm", "verdict"), [(200.0, "pass"), (0.3, "fail"), (1.02, "undecided")]
)
def test_insulation_counts(case, megohm, verdict):
    context = case(SIGN, ("insulation", "supply", megohm))
    assert polarity(context).verdict == verdict


@pytest.mark.parametrize(
    ("volts", "kind", "verdict"),
    [
        (0.1, "dc", "pass"),
        (230.0, "ac", "fail"),
        (12.0, "ac", "fail"),
        (48.0, "dc", "fail"),
        (-48.0, "dc", "fail"),
        (2.0, "ac", "undecided"),
    ],
)
def test_foreign_voltage_stops(case, volts, kind, verdict):
    context = case(SIGN, ("foreign_volts", "box", volts, {"kind": kind}))
    assert polarity(context).verdict == verdict


def plug_in(context):
    steps = points_of_no_return(context, assess_feed(context))
    return next(step for step in steps if step.step == "plug in")


def test_foreign_voltage_stands_against_plugging_in_once(case):
    context = case(SIGN, ("foreign_volts", "box", 90.0, {"kind": "ac"}))
    step = plug_in(context)
    assert len(step.against) == 1
    assert [item.id for item in step.missing] == [
        "before.foreign_dc",
        "feed.loop.not_measured",
    ]


def test_foreign_voltage_that_was_found_and_removed_clears_the_step(case):
    context = case(
        ("foreign_volts", "box", 90.0, {"kind": "ac"}),
        ("foreign_volts", "box", 0.0, {"kind": "ac"}),
        ("foreign_volts", "box", 0.1, {"kind": "dc"}),
        ("loop_resistance", "supply", LOOP),
        SIGN,
    )
    assert plug_in(context).clear


def test_two_wrongs_at_once_are_both_told(case):
    context = case(
        ("volts", "terminal", -13.6),
        ("foreign_volts", "box", 90.0, {"kind": "ac"}),
    )
    text = say(polarity(context).because)
    assert "swapped" in text
    assert "90.00 V ac" in text
