"""Hours on battery: a band on what was shown, held against the hours asked for."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.assess.feed_facts import battery_age, date_of_code
from eavelight.assess.feed_hours import Inputs, hours_on_battery
from eavelight.assess.feed_runtime import assess_runtime

LOOP = ("loop_resistance", "supply", 1.0)
REST = {"state": "disconnected"}


def runtime(context):
    return assess_runtime(context, context.plan.feed)[0]


def inputs(**changes):
    given = {
        "loop_ohm": 1.0,
        "loop_u_ohm": 0.02,
        "temperature_c": 20.0,
        "low_c": -5.0,
        "high_c": 35.0,
        "age_years": 0.0,
    }
    return Inputs(**{**given, **changes})


def test_enough_hours_pass_and_too_few_fail(case):
    assert runtime(case(LOOP)).verdict == "pass"
    assert runtime(case(LOOP, battery={"target_hours": 40})).verdict == "fail"


def test_band_that_covers_the_target_is_undecided(case):
    finding = runtime(case(LOOP, battery={"target_hours": 15.5}))
    assert finding.verdict == "undecided"
    assert 0.05 < finding.probability < 0.95


def test_nothing_shown_of_the_cable_is_only_planned(case):
    finding = runtime(case())
    assert finding.verdict == "not measured"
    assert finding.expected.value > 10


def test_no_hours_asked_are_told_and_not_judged(case):
    finding = runtime(case(LOOP, battery={"target_hours": None}))
    assert finding.because.id == "feed.runtime.not_measured.no_target"


def test_without_a_battery_there_is_no_finding(case):
    context = case(LOOP, battery={})
    assert assess_runtime(context, context.plan.feed) == []


def test_half_full_battery_is_to_be_charged_first(case):
    # 12.3 V at rest is about half full
    context = case(LOOP, ("volts", "battery", 12.3, REST), battery={"target_hours": 12})
    finding = runtime(context)
    assert finding.because.id == "feed.runtime.undecided.charge"
    assert finding.decide_by.values["wait"] >= 24.0


def test_rest_voltage_of_lithium_cannot_tell(case):
    context = case(
        LOOP,
        ("volts", "battery", 13.1, REST),
        battery={"chemistry": "lfp", "target_hours": 8},
    )
    finding = runtime(context)
    assert finding.verdict == "pass"
    assert "feed.runtime.given.flat" in [
        item.id for item in finding.because.values["given"]
    ]


def test_battery_that_sags_at_once_is_not_full(case):
    context = case(
        LOOP,
        ("volts", "supply", 11.9, {"state": ("on battery", "loaded"), "load_w": 8.0}),
    )
    finding = runtime(context)
    assert finding.verdict == "undecided"
    ids = [item.id for item in finding.because.values["given"]]
    assert "feed.runtime.given.low" in ids


def test_bad_joint_costs_hours(case):
    good = runtime(case(LOOP)).expected.value
    loaded = {"state": "loaded", "load_w": 8.0}
    bad = runtime(case(LOOP, ("volts", "terminal", 12.23, loaded))).expected.value
    assert bad < good - 2.0


def test_feed_that_does_not_carry_the_peak_never_starts(case):
    finding = runtime(case(("loop_resistance", "supply", 6.0)))
    assert finding.because.id == "feed.runtime.fail.stays_off"


def test_date_code_makes_an_old_battery_old(case):
    young = runtime(case(LOOP)).expected.value
    old = runtime(case(LOOP, battery={"date_code": "2021-04"})).expected.value
    assert old < 0.9 * young


def test_date_code_after_the_visit_is_not_believed(case):
    finding = runtime(case(LOOP, battery={"date_code": "2026-11"}))
    assert finding.because.id == "feed.runtime.undecided.date"


def test_zero_load_lasts_beyond_any_outage(case):
    context = case(LOOP, terminal_idle_w=0.0, battery={"load_profile": []})
    assert runtime(context).verdict == "pass"


def test_forty_eight_volts_and_clad_copper_have_hours_too(case):
    context = case(
        ("loop_resistance", "supply", 1.6),
        supply_float_v=54.4,
        supply_cutoff_v=43.0,
        terminal_min_v=36.0,
        terminal_max_v=57.0,
        material="copper-clad aluminium",
        battery={"capacity_ah": 7.2},
    )
    assert runtime(context).expected.value > 40.0


def test_table_that_cannot_be_one_is_told(case):
    rows = [
        {"hours": 1, "watts": 50, "end_v": 10.5},
        {"hours": 10, "watts": 80, "end_v": 10.5},
        {"hours": 20, "watts": 90, "end_v": 10.5},
    ]
    context = case(LOOP, battery={"discharge_table": rows})
    assert runtime(context).verdict in {"not measured", "pass"}


@pytest.mark.parametrize(
    ("code", "day"),
    [("2026-02", "2026-02-01"), ("2026/02/17", "2026-02-17"), ("2024", "2024-01-01")],
)
def test_date_codes_are_read_as_people_write_them(code, day):
    assert date_of_code(code).isoformat() == day


def test_unreadable_date_code_leaves_the_stated_age(case):
    context = case(LOOP, battery={"date_code": "B7Q", "age_years": 1.5})
    battery = context.plan.feed.battery
    assert battery_age(battery, context.observations.started) == (1.5, "unreadable")


@settings(deadline=None, max_examples=15)
@given(
    loop=st.floats(0.1, 2.0),
    more=st.floats(0.01, 1.0),
    cold=st.floats(-10.0, 20.0),
)
def test_more_cable_and_more_cold_never_add_hours(loop, more, cold):
    feed = build_feed()
    here = hours_on_battery(feed, inputs(loop_ohm=loop))
    far = hours_on_battery(feed, inputs(loop_ohm=loop + more))
    chilled = hours_on_battery(feed, inputs(loop_ohm=loop, temperature_c=cold))
    assert far.today.low_h <= here.today.low_h + 1e-6
    assert chilled.today.low_h <= here.today.low_h + 1e-6
    assert here.cold_end_of_life.low_h <= here.end_of_life.low_h + 1e-6
    assert here.today.low_h <= here.today.high_h


def build_feed():
    from pydantic import TypeAdapter

    from eavelight.demo.plans import FEED
    from eavelight.model.plan import Feed

    return TypeAdapter(Feed).validate_python(FEED)
