"""Cut-off: the joint that the loop does not show, and its heat."""

import pytest

from eavelight.assess.feed import assess_feed

BAD = (
    ("loop_resistance", "supply", 1.05),
    ("volts", "supply", 13.6, {"state": "no load"}),
    ("volts", "terminal", 12.19, {"state": "loaded", "load_w": 8.0}),
)


def cutoff(context):
    return next(i for i in assess_feed(context) if i.requirement == "feed.cutoff")


def test_joint_is_told_with_its_ohms_and_its_heat(case):
    # reference sheet on the trade, 11.3: 1.10 ohm of joint at 25 m of 18 AWG and 8 W
    values = cutoff(case(*BAD, length_m=25.0)).because.values
    assert values["extra_ohm"] == pytest.approx(1.10, abs=0.02)
    # no less than the worst the running terminal takes: (8 W / 10 V)^2 x 1.1 ohm
    assert values["heat"] == pytest.approx(0.70, abs=0.02)
    assert 0.02 < values["extra_u_ohm"] < 0.2


def test_sound_joint_is_not_told(case):
    good = (*BAD[:2], ("volts", "terminal", 12.95, BAD[2][3]))
    assert "heat" not in cutoff(case(*good)).because.values


def test_volts_read_only_on_battery_show_the_cable(case):
    battery = {"state": ("on battery", "loaded"), "load_w": 8.0}
    context = case(
        ("volts", "supply", 12.6, battery), ("volts", "terminal", 11.92, battery)
    )
    finding = cutoff(context)
    assert finding.verdict in {"pass", "undecided"}
    assert finding.because.values["ohm"] == pytest.approx(1.01, abs=0.02)


def test_unstated_load_widens_what_is_known(case):
    sure = case(BAD[1], BAD[2])
    unsure = case(BAD[1], ("volts", "terminal", 12.19, {"state": "loaded"}))
    assert cutoff(unsure).probability > cutoff(sure).probability
