"""Status lines: proven by disturbance, explained where they lie."""

import pytest

from eavelight.assess.actions import next_actions
from eavelight.assess.feed_status import assess_status, shared_lift_v, status_story
from eavelight.power.status_lines import LINES, StatusFault, Wiring, predicted_lines
from eavelight.wording import say

OPEN = Wiring(supply_polarity="open is alarm", terminal_polarity="open is alarm")
THREE = ("normal", "mains pulled", "battery lead off")


def said(states, *, fault=None, wiring=OPEN, lines=LINES):
    """Readings of the lines, made by hand-checked logic of the lines themselves."""
    found = []
    for state in states:
        told = predicted_lines(state, wiring, fault)
        extra = {} if state == "normal" else {"state": state}
        found += [
            ("status_line", "terminal", told[line], {"line": line, **extra})
            for line in lines
        ]
    return found


def status(context):
    return assess_status(context, context.plan.feed)


def test_lines_that_answer_every_disturbance_pass(case):
    finding = status(case(*said(THREE)))
    assert finding.verdict == "pass"
    assert finding.probability > 0.9


def test_normal_alone_proves_little_and_names_the_state_to_make(case):
    finding = status(case(*said(("normal",))))
    assert finding.verdict == "undecided"
    assert finding.because.id.endswith("agrees")
    assert finding.decide_by.id in {
        "feed.status.make.mains_pulled",
        "feed.status.make.battery_lead_off",
    }


FAULTS = [
    (StatusFault(kind="open", lines=("battery low",)), "open"),
    (StatusFault(kind="shorted", lines=("on battery",)), "shorted"),
    (StatusFault(kind="swapped", lines=("on battery", "battery missing")), "swapped"),
    (StatusFault(kind="lost common"), "lost_common"),
    (StatusFault(kind="no mains"), "open"),
    (StatusFault(kind="replace battery"), "open"),
]


@pytest.mark.parametrize(("fault", "best"), FAULTS, ids=lambda item: str(item))
def test_fault_is_found_among_the_first_causes(case, fault, best):
    context = case(*said(THREE, fault=fault))
    finding = status(context)
    assert finding.verdict == "fail"
    story = status_story(context, context.plan.feed)
    assert fault in [item for item, _ in story.causes[:4]]
    assert finding.because.values["cause"].id.rpartition(".")[2] in {
        best,
        fault.kind.replace(" ", "_"),
    }


def test_wrong_polarity_shows_when_every_line_is_inverted(case):
    context = case(*said(THREE, fault=StatusFault(kind="wrong polarity")))
    assert status(context).because.values["cause"].id.endswith("wrong_polarity")


def test_polarity_that_the_plan_leaves_out_is_not_assumed(case):
    context = case(*said(THREE), status_polarity=None)
    assert status(context).verdict == "pass"


def test_lines_of_closed_alarms_are_judged_by_their_own_setting(case):
    wiring = Wiring(
        supply_polarity="closed is alarm", terminal_polarity="closed is alarm"
    )
    context = case(*said(THREE, wiring=wiring), status_polarity="closed is alarm")
    assert status(context).verdict == "pass"


def test_cord_without_lines_says_what_to_strap(case):
    finding = status(case(construction="power only", status_lines=0))
    assert finding.verdict == "not measured"
    assert finding.decide_by is None
    assert "battery missing" in say(finding.because)


def test_alarm_on_a_line_that_the_cord_lacks_means_strap_it(case):
    context = case(
        ("status_line", "terminal", "alarm", {"line": "replace battery"}),
        status_lines=2,
    )
    finding = status(context)
    assert finding.because.id == "feed.status.fail.strap"
    assert finding.because.values["lines"] == ("replace battery",)


def test_few_lines_pass_when_no_state_would_tell_more(case):
    lines = ("on battery",)
    context = case(*said(("normal", "mains pulled"), lines=lines), status_lines=1)
    assert status(context).verdict == "pass"


def test_return_lift_of_the_worked_case(case):
    # 30 m of 22 AWG, 10 W, 13.5 V: 0.956 A through 1.59 ohm is 1.52 V
    context = case(awg=22, length_m=30.0, terminal_peak_w=10.0, supply_cutoff_v=13.5)
    lift = shared_lift_v(context, context.plan.feed)
    assert lift == pytest.approx(1.52, abs=0.01)


def test_high_lift_leaves_good_lines_undecided(case):
    context = case(*said(THREE), awg=22, length_m=30.0, terminal_peak_w=8.0)
    finding = status(context)
    assert finding.because.id == "feed.status.undecided.lift"
    assert finding.decide_by.id == "feed.status.make.peak"


def test_own_return_has_no_lift(case):
    context = case(awg=22, length_m=30.0, return_shared=False)
    assert shared_lift_v(context, context.plan.feed) is None


@pytest.mark.parametrize(
    ("readings", "ending"),
    [
        (
            [
                ("lamp", "supply", "on", {"lamp": "output"}),
                ("status_line", "terminal", "alarm", {"line": "on battery"}),
            ],
            "dead_outlet",
        ),
        (
            [
                ("lamp", "supply", "Green", {"lamp": "output"}),
                ("lamp", "terminal", "dark", {"lamp": "power"}),
            ],
            "feed_does_not_arrive",
        ),
        (
            [
                ("level", "terminal", -17.0, {"wavelength_nm": 1490}),
                ("lamp", "terminal", "off", {"lamp": "light"}),
            ],
            "not_seated_or_own_plug_dirty",
        ),
    ],
)
def test_contradiction_names_its_cause(case, readings, ending):
    finding = status(case(*readings))
    assert finding.verdict == "fail"
    assert finding.because.id == f"feed.status.seen.{ending}"
    assert len(finding.observations) == 2


def test_alarm_of_the_rehearsal_is_no_contradiction(case):
    context = case(
        ("lamp", "supply", "on", {"lamp": "output"}),
        *said(THREE),
    )
    assert status(context).verdict == "pass"


def test_true_battery_fault_asks_for_the_battery_and_not_for_the_lines(case):
    context = case(
        *said(("normal",), fault=StatusFault(kind="battery missing")),
    )
    actions = [item.action for item in next_actions(context, [status(context)])]
    assert "check-battery-lead" in actions
    assert "mend-lines" not in actions
