"""Power-up and outage rehearsal against their prediction."""

import math

import pytest
from tests.power.blocks import BLOCK, IDEAL, MODELS, circuit

from eavelight.power.discharge import discharge
from eavelight.power.load import Service
from eavelight.power.rehearsal import (
    EvidenceRule,
    LampStep,
    agreement,
    contradictions,
    expected_lamps,
    lamp_surprises,
    outage_expectation,
)

STEPS = [
    LampStep(equipment="terminal", lamp="light", state="off", from_s=0, to_s=30),
    LampStep(equipment="terminal", lamp="light", state="blinking", from_s=10, to_s=120),
    LampStep(equipment="terminal", lamp="light", state="on", from_s=30, to_s=9999),
]


def test_steps_that_overlap_allow_either_state() -> None:
    assert expected_lamps(STEPS, 20.0)[("terminal", "light")] == ("off", "blinking")


def test_a_lamp_that_is_dark_too_long_is_a_surprise() -> None:
    key = ("terminal", "light")
    assert lamp_surprises(STEPS, 300.0, seen={key: "off"}) == (key,)
    assert lamp_surprises(STEPS, 300.0, seen={key: "on"}) == ()


def test_a_lamp_without_a_table_is_no_surprise() -> None:
    assert lamp_surprises(STEPS, 5.0, seen={("router", "power"): "off"}) == ()


def test_the_rule_with_most_facts_comes_first() -> None:
    rules = [
        EvidenceRule(id="a", when=(("x", "1"),), cause="supply"),
        EvidenceRule(id="b", when=(("x", "1"), ("y", "2")), cause="supply"),
        EvidenceRule(id="c", when=(("z", "1"),), cause="supply"),
    ]
    found = contradictions({"x": "1", "y": "2"}, rules)
    assert [rule.id for rule in found] == ["b", "a"]


def test_two_minutes_agree_with_the_start_of_the_long_discharge() -> None:
    feed = circuit(1.05, peak_w=8.0)
    expected = outage_expectation(IDEAL, BLOCK, feed, idle_w=4.5, minutes=2.0)
    run = discharge(IDEAL, BLOCK, feed, profile=[(0.0, 4.5)])
    assert expected.battery_start_v == pytest.approx(run.battery_v[0])
    assert run.battery_v[0] > expected.battery_end_v > run.battery_v[10]
    assert expected.peak_start_v < expected.idle_start_v


def test_services_that_are_shed_within_the_rehearsal_are_not_expected() -> None:
    services = [
        Service(name="voice", watts=1.0, shed_s=0),
        Service(name="data", watts=5.0, shed_s=60),
    ]
    expected = outage_expectation(
        MODELS[0], BLOCK, circuit(1.0), idle_w=4.5, minutes=2.0, services=services
    )
    assert expected.services == ("voice",)
    assert expected.alarms == ("on battery",)


@pytest.mark.parametrize(
    ("measured", "predicted", "state"),
    [
        (12.3, 12.35, "agrees"),
        (11.2, 12.35, "low"),
        (13.0, 12.35, "high"),
        (11.0, math.nan, "stays up"),
    ],
)
def test_a_reading_is_held_against_its_prediction(measured, predicted, state) -> None:
    assert agreement(measured, predicted, measured_u=0.03, predicted_u=0.1) == state
