"""Several traces of one line: wavelengths, directions, baseline."""

import pytest
from tests.trace.simulated import (
    PLAIN,
    analysed,
    connector,
    drop,
    end,
    fibre,
    splice,
    taken,
)

from eavelight.demo.trace_simulator import Fibre, Joint, Part
from eavelight.trace.joined import join
from eavelight.trace.results import Joined, JoinedEvent, TraceAnalysis

BEND = Joint(kind="bend", loss_db={1310: 0.03, 1550: 0.4, 1625: 0.9})
BENT = (fibre(10.0, 2), BEND, fibre(10.0, 6), splice(0.1), fibre(12.0, 3))
BRIGHT = {1310: -78.92, 1550: -81.3, 1625: -82.1}


def read(plant: tuple[Part, ...], nm: int = 1550, *, seed: int = 0) -> TraceAnalysis:
    return analysed(
        taken(plant, wavelength_nm=nm, seed=seed), lead_m=150.0, tail_m=120.0
    )


def back(plant: tuple[Part, ...], nm: int = 1550) -> TraceAnalysis:
    trace = taken(plant, wavelength_nm=nm, seed=9, reverse=True)
    return analysed(trace, lead_m=120.0, tail_m=150.0)


def at(joined: Joined, position_m: float, reach_m: float = 2.0) -> JoinedEvent:
    close = [
        event for event in joined.events if abs(event.position_m - position_m) < reach_m
    ]
    assert close, f"nothing near {position_m} m"
    return min(close, key=lambda event: abs(event.position_m - position_m))


def test_a_bend_is_told_from_a_joint_by_its_wavelengths() -> None:
    joined = join([read(drop(*BENT), nm) for nm in (1310, 1550, 1625)])
    bend, joint = at(joined, 10.0), at(joined, 20.0)
    assert bend.kind == "bend"
    assert (bend.bend_probability or 0.0) > 0.99
    assert joint.kind == "splice"
    assert (joint.bend_probability or 1.0) < 0.5
    assert sorted(bend.loss_db) == [1310, 1550, 1625]
    assert bend.loss_db[1310].value == pytest.approx(0.03, abs=0.06)


def test_two_directions_give_the_true_loss_and_the_step_of_the_glass() -> None:
    plant = drop(
        fibre(20.0, 2), splice(0.05),
        Fibre(length_m=12.0, seed=3, pattern_db2_m=5e-4, backscatter_db=BRIGHT),
    )  # fmt: skip
    joint = at(join([read(plant)], reverse=back(plant)), 20.0)
    assert joint.loss_db[1550].value < -0.2
    assert joint.two_way_loss_db == pytest.approx(0.05, abs=0.05)
    assert joint.mode_field_step_db == pytest.approx(-0.35, abs=0.05)
    assert joint.true_loss_db == joint.two_way_loss_db


def test_one_direction_alone_has_the_wider_uncertainty() -> None:
    joint = at(join([read(drop(*PLAIN))]), 20.0)
    assert joint.two_way_loss_db is None
    assert (joint.true_loss_u_db or 0.0) >= 0.2
    assert joint.loss_db[1550].u < 0.05


def test_another_fibre_is_left_out_and_told() -> None:
    other = read(drop(fibre(60.0, 8), splice(0.1), fibre(40.0, 9)), 1310)
    joined = join([read(drop(*PLAIN)), other])
    assert any("another fibre" in note for note in joined.notes)


def test_a_new_bend_is_new_and_everything_else_is_the_same() -> None:
    plain = (fibre(10.0, 2), fibre(10.0, 6), splice(0.1), fibre(12.0, 3))
    joined = join([read(drop(*BENT), seed=1)], baseline=read(drop(*plain), seed=2))
    bend = at(joined, 10.0)
    assert bend.change == "new"
    assert bend.change_db == pytest.approx(0.4, abs=0.03)
    assert {at(joined, place).change for place in (0.0, 20.0, 32.0)} == {"same"}
    assert joined.end_moved_m == pytest.approx(0.0, abs=0.5)


def test_a_bend_that_was_taken_out_is_gone() -> None:
    plain = (fibre(10.0, 2), fibre(10.0, 6), splice(0.1), fibre(12.0, 3))
    joined = join([read(drop(*plain), seed=1)], baseline=read(drop(*BENT), seed=2))
    assert at(joined, 10.0).change == "gone"
    assert at(joined, 10.0).change_db == pytest.approx(-0.4, abs=0.03)


def test_a_worse_connector_has_changed_by_its_extra_loss() -> None:
    joined = join(
        [read(drop(*PLAIN, first_db=0.6), seed=1)], baseline=read(drop(*PLAIN), seed=2)
    )
    assert at(joined, 0.0).change == "changed"
    assert at(joined, 0.0).change_db == pytest.approx(0.35, abs=0.03)


def test_another_wavelength_is_no_baseline() -> None:
    joined = join([read(drop(*PLAIN))], baseline=read(drop(*PLAIN), 1310))
    assert {event.change for event in joined.events if event.kind != "end"} == {
        "not compared"
    }
    assert any("another wavelength" in note for note in joined.notes)


def test_a_fibre_that_became_shorter_has_its_end_moved() -> None:
    before = (fibre(150.0, 1), connector(0.25), fibre(100.0, 2), end())
    after = (fibre(150.0, 1), connector(0.25), fibre(80.0, 2), end())
    one = analysed(taken(after, seed=1), lead_m=150.0)
    joined = join([one], baseline=analysed(taken(before, seed=2), lead_m=150.0))
    assert joined.end_moved_m == pytest.approx(-20.0, abs=1.0)
    assert joined.events[-1].kind == "end"
    assert joined.events[-1].change == "moved"


def test_no_trace_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        join([])
