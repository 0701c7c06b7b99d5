"""Danger and points of no return from readings of the feed and the light alone."""

from dataclasses import replace

import pytest

from eavelight.assess.actions import next_actions
from eavelight.assess.assessment import findings_of
from eavelight.assess.feed_polarity import pair_dangers
from eavelight.assess.light_hazard import planned_hazard, read_hazard
from eavelight.assess.passed import passed_steps
from eavelight.model.finding import Standing
from eavelight.standards.actions import action_kinds


def told(context):
    return next_actions(context, findings_of(context))


def test_a_swap_that_the_loops_show_is_danger_although_no_sign_was_read(case):
    crossed = case(
        ("loop_resistance", "supply", 4.3),
        ("loop_resistance", "supply", 1.0, {"line": "on battery"}),
        construction="power pair and status",
    )
    dangers = pair_dangers(crossed, crossed.plan.feed)
    assert [why.id for _, why, _ in dangers] == ["feed.polarity.fail.swapped"]


@pytest.mark.parametrize(
    ("volts", "name"),
    [(1.0, None), (2.0, "undecided"), (40.0, "fail")],
)
def test_foreign_voltage_is_danger_as_soon_as_it_is_not_clear(case, volts, name):
    context = case(("foreign_volts", "box", volts, {"kind": "ac"}))
    verdicts = [str(v) for _, _, v in pair_dangers(context, context.plan.feed)]
    assert verdicts == ([name] if name else [])


def test_volts_are_held_against_the_terminal_on_the_safe_side(case):
    most = case().plan.feed.terminal_max_v
    for volts, danger in ((most, False), (most + 0.01, True), (-most - 5, True)):
        found = told(case(("volts", "supply", volts, {"state": "no load"})))
        assert any(a.action == "stop-overvoltage" for a in found) is danger


@pytest.mark.parametrize(
    ("level", "nm", "expected"),
    [
        (5.0, 1490, "1"),
        (9.9, 1490, "1M"),
        (9.9, 1310, "3B"),
        (14.0, 1550, "1M"),
        (24.0, 1550, "3B"),
    ],
)
def test_light_that_was_read_is_rated_with_its_guard_band(case, level, nm, expected):
    context = case(("level", "port", level, {"wavelength_nm": nm}))
    assert read_hazard(context, "port") == expected


def test_a_plan_of_weak_launches_is_safe_everywhere(case):
    context = case()
    assert {planned_hazard(context, at) for at in ("port", "terminal")} == {"1"}


def test_a_strong_overlay_is_weaker_behind_the_splitter(case):
    from eavelight.model.plan import Service

    plan = case().plan
    video = Service(pon_class="video", launch_dbm=20.0)
    strong = replace(
        case(), plan=replace(plan, plant=replace(plan.plant, service=(video,)))
    )
    parts = tuple(
        replace(p, kind="attenuator", ratio=None, loss_db=1.0)
        if p.kind == "splitter"
        else p
        for p in plan.plant.part
    )
    plant = replace(strong.plan.plant, part=parts)
    bare = replace(strong, plan=replace(strong.plan, plant=plant))
    assert (planned_hazard(strong, "port"), planned_hazard(bare, "port")) == ("1", "1M")


STATES = [
    ((), set()),
    ((("cleave_angle", "pigtail splice", 0.4, {"end": "cable"}),), {"cut"}),
    ((("splice_estimate", "pigtail splice", 0.03),), {"cut", "arc"}),
    (
        (("loss", "drop", 0.5, {"wavelength_nm": 1550, "state": "lid closed"}),),
        {"cut", "arc", "close"},
    ),
    ((("volts", "terminal", 13.0, {"state": "loaded"}),), {"plug in"}),
    ((("volts", "terminal", 13.0, {"state": "no load"}),), set()),
    ((("seconds_stable", "terminal", 700.0),), {"cut", "arc", "mate", "plug in"}),
]


@pytest.mark.parametrize(("readings", "steps"), STATES)
def test_a_step_lies_behind_once_something_shows_what_comes_after(
    case, readings, steps
):
    assert passed_steps(case(*readings)) == steps


def test_a_reopened_box_is_to_be_closed_again(case):
    closed = ("loss", "drop", 0.5, {"wavelength_nm": 1550, "state": "lid closed"})
    again = ("loss", "drop", 0.5, {"wavelength_nm": 1550, "state": "reopened"})
    assert "close" not in passed_steps(case(closed, again))
    assert "close" not in passed_steps(case(closed, again, purpose="repair"))
    assert "close" in passed_steps(case(closed, purpose="repair"))


def test_within_a_class_cheap_and_reversible_stays_first(case):
    context = case(
        ("loss", "drop", 2.0, {"wavelength_nm": 1310, "state": "lid closed"}),
        ("loss", "drop", 2.0, {"wavelength_nm": 1550, "state": "lid closed"}),
        ("seconds_stable", "terminal", 700.0),
    )
    about = [a for a in told(context) if a.why.id.startswith("loss.")]
    assert {a.standing for a in about} == {Standing.PLAIN}
    orders = [action_kinds()[a.action].order for a in about]
    assert orders == sorted(orders)
    assert about[-1].action == "replace-drop"
