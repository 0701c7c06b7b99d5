"""Bend loss: a range that holds the published rows, monotone in radius and light."""

from dataclasses import replace

import numpy as np
import ofiber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.bend import (
    StepIndex,
    bend_loss_marcuse,
    bend_loss_per_turn,
    coating_ripple,
    coating_ripple_bound,
    limit_envelope,
    loop_loss,
    radius_for_turn_loss,
)
from eavelight.glass.splice import gap_loss, offset_loss, tilt_loss
from eavelight.standards.fibre_types import fibre_type, fibre_types

RADIUS = st.floats(5.0, 30.0)
NM = st.sampled_from([1310.0, 1490.0, 1550.0, 1625.0])
# Beam propagation over 1 cm, and finite differences; a = 4.1 um, NA = 0.117
# (open simulation after Schermer and Cole 2007, figure 7; second column computed).
ROWS = [
    (1320.0, 1.447, 12.5, 0.0371, 0.0643),
    (1320.0, 1.447, 10.0, 0.639, 1.075),
    (1320.0, 1.447, 7.5, 15.5, 18.0),
    (1320.0, 1.447, 5.0, 272.0, 296.0),
    (1550.0, 1.440, 15.0, 0.553, 1.285),
    (1550.0, 1.440, 12.5, 3.21, 7.30),
    (1550.0, 1.440, 10.0, 54.4, 41.4),
    (1550.0, 1.440, 7.5, 180.0, 231.0),
    (1550.0, 1.440, 5.0, 1271.0, 1296.0),
]


@pytest.mark.parametrize(("nm", "index", "radius", "beam", "difference"), ROWS)
def test_formula_lies_within_a_factor_of_two_independent_solutions(
    nm: float, index: float, radius: float, beam: float, difference: float
) -> None:
    found = bend_loss_marcuse(
        radius, wavelength_nm=nm, fibre=StepIndex(cladding_index=index)
    )
    assert 1 / 3 < found / beam < 3
    assert 1.10 < found / difference < 1.75


@pytest.mark.parametrize(
    ("radius", "nm"), [(10.0, 1310.0), (15.0, 1550.0), (5.0, 1550.0)]
)
def test_formula_agrees_with_another_library_up_to_its_index(
    radius: float, nm: float
) -> None:
    index = 1.4469 if nm == 1310.0 else 1.444
    n1 = np.sqrt(index**2 + 0.117**2)
    other = ofiber.bending_loss_db(
        n1, (n1**2 - index**2) / (2 * n1**2), 4.1e-6, radius * 1e-3, nm * 1e-9
    )
    found = bend_loss_marcuse(
        radius, wavelength_nm=nm, fibre=StepIndex(cladding_index=index), factor=1.0
    )
    assert found == pytest.approx(other, rel=0.05)


@settings(deadline=None, max_examples=50)
@given(RADIUS, st.floats(0.2, 5.0), NM)
def test_a_wider_bend_loses_less(radius: float, more: float, nm: float) -> None:
    near = bend_loss_per_turn(radius, wavelength_nm=nm)
    assert bend_loss_per_turn(radius + more, wavelength_nm=nm) < near


@settings(deadline=None, max_examples=50)
@given(st.floats(7.5, 30.0))
def test_a_longer_wavelength_loses_more(radius: float) -> None:
    nm = np.linspace(1260, 1650, 14)
    assert np.all(np.diff(bend_loss_per_turn(radius, wavelength_nm=nm)) > 0)


@pytest.mark.parametrize("name", fibre_types())
@settings(deadline=None, max_examples=25)
@given(radius=RADIUS, nm=NM, turns=st.floats(0.1, 10.0))
def test_edges_hold_the_typical_loss_and_grow_with_turns(
    name: str, radius: float, nm: float, turns: float
) -> None:
    one = loop_loss(fibre_type(name), radius, wavelength_nm=nm)
    many = loop_loss(fibre_type(name), radius, wavelength_nm=nm, turns=turns)
    assert 0 <= many.low_db <= many.typical_db <= many.high_db
    assert many.high_db == pytest.approx(turns * one.high_db)


@pytest.mark.parametrize("name", ["g657a1", "g657a2", "g657b3"])
def test_upper_edge_of_a_bend_insensitive_fibre_is_its_limit(name: str) -> None:
    for row in fibre_type(name).bend_limits:
        found = loop_loss(
            fibre_type(name),
            row.radius_mm,
            wavelength_nm=row.wavelength_nm,
            turns=row.turns,
        )
        assert found.high_db == pytest.approx(row.loss_db)
        assert found.published


@pytest.mark.parametrize("name", fibre_types())
@pytest.mark.parametrize("nm", [1310.0, 1490.0, 1550.0, 1625.0])
def test_loss_of_a_loop_falls_with_its_radius(name: str, nm: float) -> None:
    radius = np.linspace(5.0, 40.0, 60)
    found = loop_loss(fibre_type(name), radius, wavelength_nm=nm)
    for edge in (found.typical_db, found.high_db):
        assert np.all(np.diff(edge) < 0)


def test_standard_fibre_passes_its_own_limit_and_fails_that_of_a1() -> None:
    own = fibre_type("g652d").bend_limits[0]
    standard = loop_loss(
        fibre_type("g652d"),
        own.radius_mm,
        wavelength_nm=own.wavelength_nm,
        turns=own.turns,
    )
    assert standard.typical_db <= own.loss_db
    tight = loop_loss(fibre_type("g652d"), 10.0, wavelength_nm=1550.0)
    assert tight.typical_db > 0.75


def test_no_limit_is_published_at_1310_or_below_the_smallest_row() -> None:
    fibre = fibre_type("g657a2")
    nm = [1310.0, 1550.0, 1625.0, 1650.0]
    assert loop_loss(fibre, 10.0, wavelength_nm=nm).published.tolist() == [
        False, True, True, False,
    ]  # fmt: skip
    assert not loop_loss(fibre, 7.0, wavelength_nm=1550.0).published
    assert not loop_loss(fibre, 4.0, wavelength_nm=1550.0).modelled


def test_limits_of_ten_wide_turns_and_one_tight_turn_add() -> None:
    fibre = fibre_type("g657a2")
    wide = loop_loss(fibre, 15.0, wavelength_nm=1550.0, turns=10)
    tight = loop_loss(fibre, 7.5, wavelength_nm=1550.0)
    assert wide.high_db + tight.high_db == pytest.approx(0.53)


def test_a_bend_rises_with_wavelength_and_a_joint_does_not() -> None:
    for radius in np.linspace(9.0, 16.0, 8):
        short, long = bend_loss_per_turn(radius, wavelength_nm=[1310.0, 1550.0])
        assert long / short > 13
    wide, narrow = ({"first_um": mfd, "second_um": mfd} for mfd in (10.431, 9.129))
    assert offset_loss(1.0, **wide) / offset_loss(1.0, **narrow) < 1
    for loss, amount, index in ((tilt_loss, 1.0, 1.45), (gap_loss, 20.0, 1.0)):
        ratio = loss(amount, wavelength_nm=1550.0, index=index, **wide) / loss(
            amount, wavelength_nm=1310.0, index=index, **narrow
        )
        assert 0.7 < ratio < 1


@settings(deadline=None, max_examples=50)
@given(st.floats(6.0, 36.0), NM, st.floats(1.46, 1.51))
def test_ripple_stays_within_its_bound(radius: float, nm: float, index: float) -> None:
    given_ = {"wavelength_nm": nm, "coating_index": index}
    ripple = coating_ripple(radius, **given_)
    bound = coating_ripple_bound(radius, **given_)
    assert bound >= 1
    assert 1 / bound - 1e-9 <= ripple <= bound + 1e-9


def test_no_ripple_where_the_light_cannot_reach_the_coating() -> None:
    given_ = {"wavelength_nm": 1550.0, "coating_index": 1.51}
    assert coating_ripple(45.0, **given_) == 1
    assert coating_ripple_bound(45.0, **given_) == 1


@settings(deadline=None, max_examples=30)
@given(st.floats(0.05, 5.0), NM, st.sampled_from([0.25, 1.0, 3.0]))
def test_radius_and_loss_are_inverse(loss: float, nm: float, turns: float) -> None:
    radius = radius_for_turn_loss(loss, wavelength_nm=nm, turns=turns)
    again = turns * bend_loss_per_turn(radius, wavelength_nm=nm)
    assert again == pytest.approx(loss, rel=1e-6)


def test_envelope_passes_through_its_rows_in_any_order() -> None:
    rows, limits = [15.0, 10.0, 7.5], [0.003, 0.1, 0.5]
    found = limit_envelope(rows, limit_radius_mm=rows, limit_db=limits)
    np.testing.assert_allclose(found, limits)
    with pytest.raises(ValueError, match="two rows"):
        limit_envelope(10.0, limit_radius_mm=[10.0], limit_db=[0.1])


@pytest.mark.parametrize("radius", [0.0, -3.0, float("nan")])
def test_a_radius_that_is_none_is_refused(radius: float) -> None:
    with pytest.raises(ValueError, match="radius_mm"):
        bend_loss_marcuse(radius, wavelength_nm=1550.0)


def test_negative_turns_are_refused() -> None:
    with pytest.raises(ValueError, match="turns"):
        loop_loss(fibre_type("g652d"), 15.0, wavelength_nm=1550.0, turns=-1)


def test_radius_of_no_loss_is_refused() -> None:
    with pytest.raises(ValueError, match="loss_db and turns"):
        radius_for_turn_loss(0.0, wavelength_nm=1550.0)


def test_a_type_without_a_table_publishes_nothing() -> None:
    bare = replace(fibre_type("g652d"), bend_limits=())
    found = loop_loss(bare, [10.0, 30.0], wavelength_nm=1625.0)
    assert found.published.tolist() == [False, False]


def test_many_wavelengths_give_the_same_as_few() -> None:
    nm = np.linspace(1260.0, 1650.0, 40)
    many = bend_loss_per_turn(12.0, wavelength_nm=nm)
    few = [float(bend_loss_per_turn(12.0, wavelength_nm=one)) for one in nm]
    np.testing.assert_allclose(many, few, rtol=1e-12)


@pytest.mark.parametrize(
    ("loss_1550", "others"),
    [
        (0.1, "0.0001 0.026 0.43 0.67"),
        (0.5, "0.0023 0.165 1.66 2.38"),
        (1.0, "0.008 0.37 2.97 4.11"),
        (3.0, "0.05 1.3 7.4 9.7"),
    ],
)
def test_one_bend_at_every_wavelength_as_the_sheet_computes_it(
    loss_1550: float, others: str
) -> None:
    radius = radius_for_turn_loss(loss_1550, wavelength_nm=1550.0)
    for nm, printed in zip(
        (1310.0, 1490.0, 1625.0, 1650.0), others.split(), strict=True
    ):
        found = bend_loss_per_turn(radius, wavelength_nm=nm)
        last_digit = 10.0 ** -len(printed.partition(".")[2])
        assert found == pytest.approx(float(printed), abs=0.6 * last_digit)
