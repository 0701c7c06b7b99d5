"""The supply: its power, what code tables print, its volts on mains, the cold."""

import pytest

from eavelight.assess.feed_limits import (
    assess_limits,
    assess_supply,
    compensated_float_v,
    peak_power_w,
)


def limits(context):
    return {item.subject: item for item in assess_limits(context, context.plan.feed)}


def test_power_includes_what_the_cable_loses(case):
    # 3.18 ohm, 10 W: 13.6 V gives 9.98 A... at 13.5 V the sheet has 2.91 W of loss
    feed = case(terminal_peak_w=10.0, supply_float_v=13.5, supply_cutoff_v=13.5)
    assert peak_power_w(feed.plan.feed, 3.18) == pytest.approx(12.91, abs=0.01)


@pytest.mark.parametrize(
    ("rated", "verdict"), [(32.0, "pass"), (8.1, "fail"), (None, "not measured")]
)
def test_rating_of_the_supply_against_peak_and_loss(case, rated, verdict):
    assert limits(case(supply_limit_w=rated))["supply"].verdict == verdict


def test_collapse_is_left_to_the_cutoff(case):
    found = limits(case(awg=30, length_m=200.0))["supply"]
    assert found.because.id == "feed.limits.not_measured.collapses"


def test_forty_eight_volts_are_told_and_not_judged(case):
    context = case(
        supply_float_v=54.4,
        supply_cutoff_v=43.0,
        terminal_min_v=36.0,
        terminal_max_v=57.0,
    )
    found = limits(context)["terminal"]
    assert found.verdict == "undecided"
    assert found.limit.clause == "nec_9_11.wet_contact"
    assert found.decide_by.id == "feed.limits.defer"


def test_source_above_the_table_is_told(case):
    # 5 A at 13.6 V are 68 VA
    found = limits(case(supply_limit_w=90.0))["terminal"]
    assert [note.id for note in found.because.values["notes"]] == [
        "feed.limits.note.above_table"
    ]


def test_lithium_below_zero_is_refused(case):
    context = case(battery={"chemistry": "lfp"})
    found = limits(context)["battery"]
    assert (found.verdict, found.because.values["cold"]) == ("fail", True)
    assert limits(case())["battery"].verdict == "pass"


def test_lithium_read_below_zero_is_refused_without_a_place(case):
    context = case(
        ("temperature", "battery", -6.0), battery={"chemistry": "lfp"}, places=False
    )
    assert limits(context)["battery"].verdict == "fail"


def test_no_battery_has_no_charging_temperature(case):
    assert "battery" not in limits(case(battery={}))


@pytest.mark.parametrize(
    ("celsius", "volts"), [(5.0, 13.86), (20.0, 13.59), (40.0, 13.23), (60.0, 13.23)]
)
def test_float_follows_the_battery_temperature(case, celsius, volts):
    # equipment manual: 13.5 V at 25 °C, -18 mV per kelvin, clamped
    feed = case(supply_float_v=13.5).plan.feed
    assert compensated_float_v(feed, celsius) == pytest.approx(volts, abs=0.005)


@pytest.mark.parametrize(
    ("volts", "verdict"),
    [(13.6, "pass"), (13.9, "pass"), (12.4, "fail"), (15.2, "fail"), (-13.6, "fail")],
)
def test_supply_on_mains_near_its_float(case, volts, verdict):
    context = case(("volts", "supply", volts, {"state": "no load"}))
    assert assess_supply(context, context.plan.feed).verdict == verdict


def test_supply_read_on_battery_says_nothing_of_its_float(case):
    context = case(("volts", "supply", 12.3, {"state": "on battery"}))
    assert assess_supply(context, context.plan.feed).verdict == "not measured"


def test_supply_without_battery_is_not_compensated(case):
    context = case(("volts", "supply", 13.6), battery={})
    assert assess_supply(context, context.plan.feed).expected.value == 13.6
