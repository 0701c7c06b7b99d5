"""Alarms predicted in each state, and faults named from what was seen."""

import pytest

from eavelight.power.status_lines import (
    LINES,
    STATES,
    StatusFault,
    Wiring,
    lift_state,
    next_status_state,
    possible_faults,
    predicted_lines,
    status_causes,
)

OPEN = Wiring(supply_polarity="open is alarm", terminal_polarity="open is alarm")
PRIORS = {
    "none": 0.7, "open": 0.06, "shorted": 0.04, "swapped": 0.05, "joined": 0.02,
    "lost common": 0.03, "wrong polarity": 0.04, "no mains": 0.02,
    "battery missing": 0.02, "battery low": 0.01, "replace battery": 0.01,
}  # fmt: skip


def alarms(state, wiring=OPEN, fault=None) -> set[str]:
    said = predicted_lines(state, wiring, fault)
    return {line for line, word in said.items() if word == "alarm"}


def seen_with(fault, states, wiring=OPEN):
    return [
        (state, line, word)
        for state in states
        for line, word in predicted_lines(state, wiring, fault).items()
    ]


def test_the_four_states_of_a_sound_supply() -> None:
    assert [alarms(state) for state in STATES] == [
        set(),
        {"on battery"},
        {"battery missing"},
        set(),
    ]


def test_the_other_polarity_on_both_ends_says_the_same() -> None:
    closed = Wiring(
        supply_polarity="closed is alarm", terminal_polarity="closed is alarm"
    )
    for state in STATES:
        assert alarms(state, closed) == alarms(state)


def test_a_wrong_polarity_setting_inverts_every_line() -> None:
    fault = StatusFault(kind="wrong polarity")
    assert alarms("mains pulled", fault=fault) == set(LINES) - {"on battery"}


def test_a_supply_without_signalling_alarms_on_every_line_unless_strapped() -> None:
    bare = Wiring(
        supply_polarity="open is alarm", terminal_polarity="open is alarm", carried=()
    )
    assert alarms("normal", bare) == set(LINES)
    strapped = Wiring(
        supply_polarity="open is alarm",
        terminal_polarity="open is alarm",
        carried=(),
        strapped=LINES,
    )
    assert alarms("normal", strapped) == set()


def test_a_lost_common_alarms_on_every_line() -> None:
    assert alarms("normal", fault=StatusFault(kind="lost common")) == set(LINES)


@pytest.mark.parametrize(
    "fault",
    [
        StatusFault(kind="none"),
        StatusFault(kind="open", lines=("battery low",)),
        StatusFault(kind="shorted", lines=("on battery",)),
        StatusFault(kind="swapped", lines=("on battery", "battery missing")),
        StatusFault(kind="lost common"),
        StatusFault(kind="wrong polarity"),
        StatusFault(kind="no mains"),
        StatusFault(kind="battery missing"),
    ],
    ids=lambda fault: " ".join((fault.kind, *fault.lines)),
)
def test_a_fault_seen_in_three_states_is_ranked_first_or_equal(fault) -> None:
    causes = status_causes(seen_with(fault, STATES[:3]), OPEN, priors=PRIORS)
    best = causes[0][1]
    rank = dict(causes)
    same = [
        other
        for other in rank
        if all(alarms(s, fault=other) == alarms(s, fault=fault) for s in STATES[:3])
    ]
    assert fault in same
    assert sum(rank[other] for other in same) > 0.5
    assert causes[0][0] in same
    assert best <= 1.0


def test_a_swap_is_only_seen_after_a_disturbance() -> None:
    swap = StatusFault(kind="swapped", lines=("on battery", "battery missing"))
    quiet = dict(status_causes(seen_with(swap, ["normal"]), OPEN, priors=PRIORS))
    pulled = dict(
        status_causes(seen_with(swap, ["normal", "mains pulled"]), OPEN, priors=PRIORS)
    )
    assert quiet[swap] < 0.05
    assert pulled[swap] > 0.3


def test_the_next_state_is_one_that_tells_the_causes_apart() -> None:
    causes = status_causes(
        seen_with(StatusFault(kind="none"), ["normal"]), OPEN, priors=PRIORS
    )
    state = next_status_state(causes, OPEN, seen_states=["normal"])
    assert state in {"mains pulled", "battery lead off"}


def test_no_state_is_asked_for_when_all_has_been_seen() -> None:
    causes = status_causes(
        seen_with(StatusFault(kind="none"), STATES[:3]), OPEN, priors=PRIORS
    )
    assert next_status_state(causes, OPEN, seen_states=STATES) is None


def test_one_misread_lamp_does_not_overturn_the_rest() -> None:
    seen = seen_with(StatusFault(kind="none"), STATES)
    seen[0] = (*seen[0][:2], "alarm")
    causes = status_causes(seen, OPEN, priors=PRIORS)
    assert causes[0][0].kind == "none"


def test_faults_hit_only_lines_that_are_in_the_cord() -> None:
    wiring = Wiring(
        supply_polarity="open is alarm",
        terminal_polarity="open is alarm",
        carried=("on battery", "battery low"),
    )
    hit = {line for fault in possible_faults(wiring) for line in fault.lines}
    assert hit == {"on battery", "battery low"}


@pytest.mark.parametrize(
    ("lift", "state"), [(1.5, "above"), (0.4, "below"), (0.95, "undecided")]
)
def test_the_lift_is_held_against_the_threshold(lift, state) -> None:
    assert lift_state(lift, threshold_v=1.0, u_v=0.05) == state


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: predicted_lines("asleep", OPEN), "state"),
        (
            lambda: Wiring(supply_polarity="low", terminal_polarity="open is alarm"),
            "polarity",
        ),
        (
            lambda: status_causes([("normal", "door", "alarm")], OPEN, priors=PRIORS),
            "seen",
        ),
    ],
)
def test_an_unknown_word_is_refused(call, name) -> None:
    with pytest.raises(ValueError, match=name):
        call()
