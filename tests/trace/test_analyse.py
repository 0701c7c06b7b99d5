"""One trace: events, totals and honest uncertainty on traces whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trace.simulated import (
    LONG,
    PLAIN,
    SHORT,
    analysed,
    connector,
    drop,
    end,
    fibre,
    inner,
    near,
    splice,
    taken,
)

from eavelight.trace.analyse import analyse


def test_a_drop_between_leads_is_read_with_its_splice_and_both_connectors() -> None:
    found = analysed(taken(drop(*PLAIN)), lead_m=150.0, tail_m=120.0)
    assert found.length_m == pytest.approx(32.0, abs=0.5)
    assert found.loss_db == pytest.approx(0.25 + 0.1 + 0.2 + 0.032 * 0.19, abs=0.05)
    first, joint, last = near(found, 0.0), near(found, 20.0), near(found, 32.0)
    assert (first.kind, joint.kind, last.kind) == ("connector", "splice", "connector")
    assert joint.loss_db == pytest.approx(0.1, abs=4.0 * (joint.loss_u_db or 0.0))
    assert len(inner(found)) == 3


def test_positions_count_from_the_end_of_the_lead() -> None:
    trace = taken(drop(*PLAIN))
    with_lead, without = analysed(trace, lead_m=150.0), analysed(trace)
    assert near(with_lead, 0.0).position_m == 0.0
    assert with_lead.events[0].kind == "launch"
    assert with_lead.events[0].position_m == pytest.approx(-150.0, abs=0.5)
    assert near(without, 150.0).kind == "connector"


def test_missing_leads_are_told_and_the_connectors_there_are_not_measured() -> None:
    found = analysed(taken((fibre(500.0, 1), end())))
    assert any("no launch lead" in note for note in found.notes)
    assert any("no receive lead" in note for note in found.notes)
    assert found.events[0].loss_db is None
    assert found.events[-1].loss_db is None


def test_a_lead_whose_end_shows_nothing_is_told() -> None:
    found = analysed(taken((fibre(500.0, 1), end())), lead_m=100.0)
    assert any("first connector not measured" in note for note in found.notes)
    assert found.length_m == pytest.approx(400.0, abs=1.0)


def test_a_feeder_of_ten_kilometres_is_read_to_its_end() -> None:
    plant = (
        fibre(3000.0, 1), connector(0.3, -45.0), fibre(3000.0, 2), splice(0.1),
        fibre(4000.0, 3), end(-14.7),
    )  # fmt: skip
    found = analysed(taken(plant, LONG))
    assert found.length_m == pytest.approx(10_000.0, abs=5.0)
    assert near(found, 3000.0, 5.0).loss_db == pytest.approx(0.3, abs=0.02)
    assert near(found, 6000.0, 10.0).loss_db == pytest.approx(0.1, abs=0.02)
    slopes = [section.attenuation_db_per_km for section in found.sections]
    assert np.allclose(slopes, 0.19, atol=0.01)


def test_a_fibre_that_ends_without_reflection_has_an_end() -> None:
    found = analysed(taken((fibre(4000.0, 1), end(None)), LONG))
    assert found.events[-1].kind == "end"
    assert not found.events[-1].reflective
    assert found.length_m == pytest.approx(4000.0, abs=5.0)


def test_a_line_that_fades_into_the_noise_has_no_length() -> None:
    found = analysed(taken((fibre(200_000.0, 1),), LONG))
    assert found.length_m is None
    assert any("end of the fibre not seen" in note for note in found.notes)


def test_the_glow_behind_an_open_end_is_not_fibre() -> None:
    found = analysed(taken((fibre(300.0, 1), end(-14.7)), SHORT))
    assert found.length_m == pytest.approx(300.0, abs=1.0)
    assert not inner(found)


def test_a_full_receiver_makes_the_reflectance_a_bound() -> None:
    found = analysed(taken((fibre(300.0, 1), end(-14.7)), SHORT))
    assert found.events[-1].reflectance_is_bound
    assert (found.events[-1].reflectance_db or 0.0) < -14.7
    assert any("lower bound" in note for note in found.notes)


def test_reflectance_comes_back_within_its_uncertainty() -> None:
    found = analysed(taken(drop(*PLAIN)), lead_m=150.0, tail_m=120.0)
    event = near(found, 0.0)
    assert event.reflectance_db == pytest.approx(-55.0, abs=1.0)


def test_a_stated_backscatter_that_is_no_backscatter_is_ignored() -> None:
    trace = taken((fibre(300.0, 1), end()))
    found = analyse(
        trace.samples_db, sample_spacing_m=0.25, pulse_ns=10.0, wavelength_nm=1550,
        backscatter_db=0.0,
    )  # fmt: skip
    assert found.backscatter_db == pytest.approx(-82.0)
    assert any("typical backscatter" in note for note in found.notes)


def test_a_splice_close_behind_a_connector_is_judged_with_it() -> None:
    plant = drop(fibre(2.0, 2), splice(0.3), fibre(30.0, 3))
    found = analysed(taken(plant), lead_m=150.0, tail_m=120.0)
    first = near(found, 0.0)
    assert first.loss_db == pytest.approx(0.55, abs=0.05)
    assert first.end_m > 2.0
    assert len(inner(found)) == 2


def test_a_splice_outside_the_peak_but_without_room_for_a_line_is_merged() -> None:
    merged = [
        near(
            analysed(
                taken(
                    (
                        fibre(150.0, 1),
                        connector(0.25, -63.0),
                        fibre(3.0, 2),
                        splice(0.35),
                        fibre(30.0, 3),
                        connector(0.2, -60.0),
                        fibre(120.0, 4),
                        end(),
                    ),
                    seed=seed,
                ),
                lead_m=150.0,
                tail_m=120.0,
            ),
            0.0,
        ).merged
        for seed in range(5)
    ]
    assert sum(merged) >= 4


def test_a_gainer_is_a_splice_with_negative_loss() -> None:
    bright = {1310: -79.0, 1550: -81.4, 1625: -82.2}
    plant = (
        fibre(300.0, 1),
        splice(0.02),
        fibre(300.0, 2, backscatter_db=bright),
        end(),
    )
    event = near(analysed(taken(plant)), 300.0)
    assert event.kind == "splice"
    assert event.loss_db == pytest.approx(-0.28, abs=0.03)


def test_an_echo_is_a_ghost_and_loses_nothing() -> None:
    plant = (
        fibre(150.0, 1), connector(0.2, -25.0), fibre(60.0, 2), connector(0.2, -25.0),
        fibre(300.0, 3), end(),
    )  # fmt: skip
    found = analysed(taken(plant, replace(SHORT, saturation_db=None, offset_db=30.0)))
    ghost = near(found, 270.0)
    assert ghost.kind == "ghost"
    assert abs(ghost.loss_db or 0.0) < 0.03


def test_what_is_no_trace_is_refused() -> None:
    with pytest.raises(ValueError, match="16 samples"):
        analyse(np.zeros(3), sample_spacing_m=1.0, pulse_ns=10.0, wavelength_nm=1310)
    with pytest.raises(ValueError, match="finite"):
        analyse([np.nan] * 32, sample_spacing_m=1.0, pulse_ns=10.0, wavelength_nm=1310)
    with pytest.raises(ValueError, match="positive"):
        analyse(np.zeros(32), sample_spacing_m=0.0, pulse_ns=10.0, wavelength_nm=1310)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.sampled_from([16, 40, 300, 2000]),
    pulse=st.sampled_from([1.0, 10.0, 1000.0, 20_000.0]),
    scale=st.floats(0.0, 30.0),
)
def test_whatever_is_stored_gives_finite_numbers(
    seed: int, count: int, pulse: float, scale: float
) -> None:
    rng = np.random.default_rng(seed)
    samples = np.clip(20.0 + np.cumsum(rng.normal(0.0, 0.1, count)), 0.0, 65.535)
    samples[rng.integers(count) :] += scale * rng.uniform(size=1)
    samples[rng.uniform(size=count) < 0.02 * scale] = 65.535
    found = analyse(samples, sample_spacing_m=1.0, pulse_ns=pulse, wavelength_nm=1550)
    numbers = [found.length_m, found.loss_db, found.loss_u_db, found.orl_db]
    for event in found.events:
        numbers += [
            event.position_m,
            event.position_u_m,
            event.loss_db,
            event.loss_u_db,
        ]
    assert all(number is None or np.isfinite(number) for number in numbers)


def test_quoted_uncertainty_covers_the_truth() -> None:
    covered = []
    for seed in range(40):
        plant = (fibre(150.0, seed), splice(0.1), fibre(150.0, 500 + seed), end())
        event = near(analysed(taken(plant, seed=seed)), 150.0, 4.0)
        covered.append(
            abs((event.loss_db or 0.0) - 0.1) < 2.0 * (event.loss_u_db or 0.0)
        )
    # 38 expected of 40; fewer than 34 has a chance below one in a hundred
    assert sum(covered) >= 34


def test_bare_fibre_shows_no_events() -> None:
    false = 0
    for seed in range(40):
        plant = (fibre(450.0, 700 + seed), end())
        false += len(inner(analysed(taken(plant, seed=seed))))
    # 0.05 a trace is allowed: two expected, more than six would be a fault
    assert false <= 6
