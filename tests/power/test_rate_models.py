"""Three models behind one interface, each true to the points it came from."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.power.rate_models import (
    Kibam,
    Table,
    kibam_capacity_ah,
    kibam_fit,
    kibam_step,
    models_from_points,
    peukert_exponent,
    peukert_hours,
    table_hours,
)

HOURS = [1.0, 5.0, 10.0, 20.0]
CHARGE = [4.32, 6.12, 6.696, 7.2]
few = settings(max_examples=30, deadline=None)


def hours_at(model, current: float) -> float:
    state, step, hours = model.begin(1.0), 0.002, 0.0
    while model.depth(state) < 1.0:
        state = model.step(state, current, step)
        hours += step
    return hours


@pytest.mark.parametrize("index", [1, 2, 3])
def test_the_table_gives_back_its_own_points(index: int) -> None:
    model = Table.of(HOURS, CHARGE)
    current = CHARGE[index] / HOURS[index]
    assert hours_at(model, current) == pytest.approx(HOURS[index], abs=0.01)


def test_each_model_is_close_to_the_sheet_near_the_asked_duration() -> None:
    for model in models_from_points(HOURS, CHARGE, near_h=10.0, curve_h=10.0):
        assert hours_at(model, 0.6696) == pytest.approx(10.0, rel=0.01)


def test_the_two_wells_pass_through_the_three_points_they_were_fitted_to() -> None:
    hours, charge = [1.0, 5.0, 20.0], [4.32, 6.12, 7.2]
    c, k, total = kibam_fit(hours, charge)
    for duration, ah in zip(hours, charge, strict=True):
        given_ah = kibam_capacity_ah(
            duration, available_fraction=c, rate_per_h=k, total_ah=total
        )
        assert given_ah == pytest.approx(ah, rel=1e-6)


def test_small_steps_of_the_two_wells_agree_with_one_large_step() -> None:
    a, b = 3.7, 4.1
    for _ in range(60):
        a, b = kibam_step(
            a, b, 1.0, hours=1 / 60, available_fraction=0.475, rate_per_h=0.677
        )
    one = kibam_step(
        3.7, 4.1, 1.0, hours=1.0, available_fraction=0.475, rate_per_h=0.677
    )
    assert (a, b) == pytest.approx(one)


def test_charge_recovers_in_the_available_well_while_the_load_rests() -> None:
    a, b = kibam_step(
        1.0, 4.0, 0.0, hours=2.0, available_fraction=0.475, rate_per_h=0.677
    )
    assert a > 1.0
    assert a + b == pytest.approx(5.0)


@few
@given(current=st.floats(0.1, 5.0), more=st.floats(1.05, 2.0))
def test_more_current_never_runs_longer(current: float, more: float) -> None:
    drains = [c / h for h, c in zip(HOURS, CHARGE, strict=True)]
    assert table_hours(current * more, HOURS, drains) < table_hours(
        current, HOURS, drains
    )
    assert peukert_hours(current * more, 7.2, 20.0, exponent=1.15) < peukert_hours(
        current, 7.2, 20.0, exponent=1.15
    )


@few
@given(current=st.floats(0.01, 0.3))
def test_no_more_charge_than_the_last_row_is_credited(current: float) -> None:
    drains = [c / h for h, c in zip(HOURS, CHARGE, strict=True)]
    assert current * table_hours(current, HOURS, drains) == pytest.approx(7.2)


def test_a_battery_without_rate_effect_has_exponent_one() -> None:
    assert peukert_exponent([5.0, 20.0], [7.0, 7.0]) == pytest.approx(1.0)


@few
@given(factor=st.floats(0.3, 3.0))
def test_a_scaled_model_gives_the_scaled_charge_in_the_same_time(factor: float) -> None:
    for model in models_from_points(HOURS, CHARGE, near_h=8.0, curve_h=10.0):
        state = model.begin(1.0)
        big = model.scaled(factor)
        after = model.depth(model.step(state, 0.8, 2.0))
        same = big.depth(big.step(big.begin(1.0), 0.8 * factor, 2.0))
        assert same == pytest.approx(after)


def test_the_two_wells_follow_the_curve_at_the_rate_that_drew_it() -> None:
    model = Kibam.of(
        available_fraction=0.475, rate_per_h=0.677, total_ah=7.787, curve_h=10.0
    )
    current = (
        kibam_capacity_ah(
            10.0, available_fraction=0.475, rate_per_h=0.677, total_ah=7.787
        )
        / 10.0
    )
    half = model.step(model.begin(1.0), current, 5.0)
    assert model.depth(half) == pytest.approx(0.5, abs=0.002)


def test_two_points_give_no_wells() -> None:
    names = [m.name for m in models_from_points([5, 20], [6, 7], near_h=8, curve_h=10)]
    assert names == ["table", "peukert 1.13"]


@pytest.mark.parametrize(
    ("hours", "charge"),
    [
        pytest.param([1.0], [4.0], id="one point"),
        pytest.param([5.0, 1.0], [6.0, 4.0], id="falling hours"),
        pytest.param([1.0, 5.0], [-1.0, 5.0], id="negative charge"),
        pytest.param([1.0, 2.0], [4.0, 9.0], id="rising current"),
    ],
)
def test_points_that_are_no_discharge_sheet_are_refused(hours, charge) -> None:
    with pytest.raises(ValueError, match="point"):
        Table.of(hours, charge)


def test_a_fit_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="two-well"):
        kibam_fit([1.0, 10.0, 20.0], [4.0, 4.01, 7.2])
    with pytest.raises(ValueError, match="three"):
        kibam_fit([1.0, 10.0], [6.0, 7.2])


def test_a_current_or_drain_that_is_not_positive_is_refused() -> None:
    with pytest.raises(ValueError, match="current_a"):
        peukert_hours(0.0, 7.2, 20.0, exponent=1.1)
    with pytest.raises(ValueError, match="drain"):
        table_hours(0.0, HOURS, [4.32, 1.224, 0.6696, 0.36])


def test_points_no_two_wells_pass_through_leave_the_other_two_models() -> None:
    models = models_from_points(
        [1.0, 10.0, 20.0], [4.0, 4.01, 7.2], near_h=8.0, curve_h=10.0
    )
    assert [model.name.split()[0] for model in models] == ["table", "peukert"]


def test_without_current_nothing_is_used() -> None:
    for model in models_from_points(HOURS, CHARGE, near_h=8.0, curve_h=10.0)[:2]:
        state = model.begin(0.6)
        assert model.step(state, 0.0, 5.0) == state


def test_a_fit_that_only_a_wrong_width_would_give_is_refused() -> None:
    with pytest.raises(ValueError, match="two-well"):
        kibam_fit([1.0, 2.0, 3.0], [5.0, 9.0, 9.1])
