"""Swapped, open and bad conductors named from loops, before plugging in."""

import numpy as np
import pytest

from eavelight.power import conductor_map as cm
from eavelight.power.conductor import parallel_resistance_ohm

PRIORS = {
    "as planned": 0.7, "swapped": 0.06, "conductor open": 0.06, "pair open": 0.06,
    "joint": 0.08, "length": 0.04,
}  # fmt: skip
POWER = cm.PairLoop(name="power", loop_ohm=1.05, loop_u_ohm=0.015)
STATUS_A = cm.PairLoop(name="status a", loop_ohm=4.21, loop_u_ohm=0.05)
STATUS_B = cm.PairLoop(name="status b", loop_ohm=4.21, loop_u_ohm=0.05)
DOUBLE = cm.PairLoop(name="power", loop_ohm=1.59, loop_u_ohm=0.02, per_leg=2)
SINGLE = cm.PairLoop(name="status", loop_ohm=3.18, loop_u_ohm=0.04)


def best(planned, measured) -> cm.LoopCause:
    u = {name: 0.01 + 0.01 * min(value, 100.0) for name, value in measured.items()}
    return cm.loop_causes(planned, measured, measured_u_ohm=u, priors=PRIORS)[0]


def test_loops_as_predicted_are_as_planned() -> None:
    measured = {"power": 1.06, "status a": 4.25, "status b": 4.18}
    found = best([POWER, STATUS_A, STATUS_B], measured)
    assert found.cause == "as planned"
    assert found.probability > 0.8


def test_values_that_fit_another_row_name_the_swap() -> None:
    found = best(
        [POWER, STATUS_A, STATUS_B], {"power": 4.2, "status a": 1.06, "status b": 4.2}
    )
    assert (found.cause, found.pairs) == ("swapped", ("power", "status a"))


def test_one_open_conductor_of_a_doubled_pair_is_named() -> None:
    found = best([DOUBLE, SINGLE], {"power": 1.5 * 1.59, "status": 3.2})
    assert (found.cause, found.pairs) == ("conductor open", ("power",))


def test_an_open_pair_of_a_doubled_pair_is_named() -> None:
    found = best([DOUBLE, SINGLE], {"power": 2 * 1.59, "status": 3.2})
    assert (found.cause, found.pairs) == ("pair open", ("power",))


def test_a_bad_joint_is_named_with_its_resistance() -> None:
    found = best([POWER, STATUS_A, STATUS_B],
                 {"power": 1.75, "status a": 4.2, "status b": 4.2})  # fmt: skip
    assert (found.cause, found.pairs) == ("joint", ("power",))
    assert found.extra_ohm == pytest.approx(0.7)


def test_all_loops_longer_by_one_factor_are_a_longer_cord() -> None:
    found = best([POWER, STATUS_A, STATUS_B],
                 {"power": 1.37, "status a": 5.48, "status b": 5.46})  # fmt: skip
    assert found.cause == "length"
    assert found.factor == pytest.approx(1.3, abs=0.02)


def test_an_open_reading_does_not_pass_as_planned() -> None:
    found = best([POWER, STATUS_A], {"power": np.inf, "status a": 4.2})
    assert found.cause == "joint"
    assert found.extra_ohm == np.inf


def test_probabilities_sum_to_one() -> None:
    causes = cm.loop_causes([DOUBLE, SINGLE], {"power": 1.6, "status": 3.2},
                            measured_u_ohm={"power": 0.02, "status": 0.04},
                            priors=PRIORS)  # fmt: skip
    assert sum(cause.probability for cause in causes) == pytest.approx(1.0)


def test_the_factor_of_an_open_conductor_follows_from_parallel_resistance() -> None:
    leg = parallel_resistance_ohm([1.0, 1.0, 1.0])
    short = parallel_resistance_ohm([1.0, 1.0])
    assert cm.open_conductor_factor(3) == pytest.approx((leg + short) / (2 * leg))


@pytest.mark.parametrize(
    ("volts", "state"),
    [(13.6, "right"), (-13.6, "reversed"), (0.02, "dead"), (4.0, "weak")],
)
def test_the_sign_of_the_volts_is_a_finding(volts, state) -> None:
    assert cm.polarity_state(volts, u_v=0.03, least_v=9.0) == state


@pytest.mark.parametrize(
    ("volts", "kind", "state"),
    [
        (0.0, "ac", "clear"),
        (24.0, "ac", "stop"),
        (12.0, "dc", "clear"),
        (-48.0, "dc", "stop"),
        (30.0, "dc", "undecided"),
    ],
)
def test_foreign_voltage_stops_the_work(volts, kind, state) -> None:
    found = cm.foreign_voltage_state(
        volts, kind, u_v=0.1, limit_ac_v=1.0, limit_dc_v=30.0
    )
    assert found == state


def test_lines_the_cord_lacks_are_to_be_strapped() -> None:
    power = cm.Conductor(
        position=1, function="plus", colour="red", supply_contact="1",
        terminal_contact="1", thick=True, strip_supply_mm=8, strip_terminal_mm=8,
    )  # fmt: skip
    assert cm.lines_to_strap([power], ["plus", "on battery"]) == ("on battery",)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: cm.open_pair_factor(1), "pairs"),
        (lambda: cm.open_conductor_factor(1), "per_leg"),
        (lambda: best([POWER], {}), "measured"),
        (
            lambda: cm.foreign_voltage_state(
                1.0, "rf", u_v=0.1, limit_ac_v=1, limit_dc_v=30
            ),
            "kind",
        ),
    ],
)
def test_an_impossible_argument_is_named(call, name) -> None:
    with pytest.raises(ValueError, match=name):
        call()
