"""Cold, age, storage, rest voltage, recharge, gas."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.power import battery

few = settings(max_examples=50, deadline=None)
TABLE = battery.TemperatureTable(
    temperature_c=(-20.0, 0.0, 25.0, 40.0),
    low=(0.48, 0.71, 1.0, 1.11),
    high=(0.73, 0.85, 1.0, 1.09),
    covered_c=(-3.9, 51.7),
)
LEAD = battery.RestVoltage(
    charge=(0.0, 0.5, 1.0), low_v=(1.93, 2.035, 2.13), high_v=(1.97, 2.065, 2.17)
)
FLAT = battery.RestVoltage(
    charge=(0.0, 0.1, 0.5, 1.0),
    low_v=(2.5, 3.2, 3.25, 3.3),
    high_v=(3.2, 3.3, 3.34, 3.4),
)


@few
@given(here=st.floats(-30, 45), colder=st.floats(0.1, 20))
def test_colder_is_never_more_capacity(here: float, colder: float) -> None:
    low, high, _ = battery.capacity_at_temperature(here, TABLE)
    low_cold, high_cold, _ = battery.capacity_at_temperature(here - colder, TABLE)
    assert low_cold <= low
    assert high_cold <= high


def test_warmth_is_not_credited() -> None:
    assert battery.capacity_at_temperature(40.0, TABLE) == (1.0, 1.0, True)


def test_below_the_table_the_answer_says_that_it_is_not_covered() -> None:
    assert battery.capacity_at_temperature(-5.0, TABLE)[2] is False


def test_linear_capacity_does_not_go_below_nothing() -> None:
    value = battery.capacity_fraction_linear(-200.0, per_k=0.006, reference_c=25.0)
    assert value == 0.0


@few
@given(age=st.floats(0, 20), more=st.floats(0.1, 5))
def test_older_is_never_more_capacity(age: float, more: float) -> None:
    young = battery.capacity_after_years(age, 4.0, end_fraction=0.8)
    old = battery.capacity_after_years(age + more, 4.0, end_fraction=0.8)
    assert old <= young
    assert battery.capacity_after_years(4.0, 4.0, end_fraction=0.8) == pytest.approx(
        0.8
    )


def test_cold_months_make_up_for_hot_ones_only_when_asked() -> None:
    year = [0.0, 35.0]
    given_ = {"reference_years": 5.0, "halving_k": 10.0, "reference_c": 25.0}
    cautious = battery.life_years(year, **given_)
    credited = battery.life_years(year, **given_, credit_cold=True)
    assert cautious < 5.0 * 0.7
    assert credited > cautious


def test_a_battery_past_its_life_is_due_now() -> None:
    assert battery.replace_in_years(6.0, 4.0) == 0.0


@few
@given(months=st.floats(0.5, 12), warm=st.floats(1, 20))
def test_a_warm_store_costs_more_charge(months: float, warm: float) -> None:
    given_ = {"loss_per_month": 0.03, "reference_c": 20.0, "doubling_k": 10.0}
    cool = battery.charge_after_storage(months, 15.0, **given_)
    hot = battery.charge_after_storage(months, 15.0 + warm, **given_)
    assert 0.0 < hot < cool < 1.0


@few
@given(volts=st.floats(11.0, 13.5))
def test_rest_volts_give_a_band_inside_empty_and_full(volts: float) -> None:
    low, high = battery.charge_from_rest(volts, cells=6, table=LEAD)
    assert 0.0 <= low <= high <= 1.0


def test_a_doubtful_meter_widens_the_band() -> None:
    sharp = battery.charge_from_rest(12.4, cells=6, table=LEAD)
    dull = battery.charge_from_rest(12.4, cells=6, table=LEAD, rest_u_v=0.1)
    assert dull[0] < sharp[0]
    assert dull[1] > sharp[1]


def test_the_flat_curve_cannot_tell() -> None:
    low, high = battery.charge_from_rest(13.2, cells=4, table=FLAT)
    assert high - low > 0.5


def test_recharge_of_nothing_left_over_never_ends() -> None:
    assert battery.recharge_hours(5.0, 0.5, load_a=0.5) == (math.inf, math.inf)


@few
@given(start=st.floats(0, 1), hours=st.floats(0, 48), more=st.floats(0.1, 24))
def test_longer_on_mains_is_never_less_charge(start, hours, more) -> None:
    given_ = {"capacity_ah": 7.2, "charger_a": 0.8}
    here = battery.charge_after_recharge(start, hours, **given_)
    later = battery.charge_after_recharge(start, hours + more, **given_)
    assert start <= here <= later <= 1.0 + 1e-12


def test_a_second_outage_after_four_hours_finds_a_battery_that_is_not_full() -> None:
    charge = battery.charge_after_recharge(0.1, 4.0, capacity_ah=7.2, charger_a=0.8)
    assert charge < 0.6


def test_a_charger_that_gives_nothing_changes_nothing() -> None:
    after = battery.charge_after_recharge(0.4, 9.0, capacity_ah=7.2, charger_a=0.0)
    assert after == 0.4


def test_a_run_time_test_waits_a_day_unless_the_battery_is_known_to_be_full() -> None:
    given_ = {"capacity_ah": 7.2, "charger_a": 0.5}
    assert battery.earliest_runtime_test_h(0.97, **given_) == 0.0
    assert battery.earliest_runtime_test_h(0.7, **given_) == 24.0
    assert battery.earliest_runtime_test_h(0.1, **given_) > 24.0


@pytest.mark.parametrize(
    ("low", "high", "state"),
    [(-5.0, 30.0, "too cold"), (5.0, 60.0, "too hot"), (5.0, 30.0, "allowed")],
)
def test_lithium_is_not_charged_below_freezing(low, high, state) -> None:
    assert battery.charging_state(low, high, window_c=(0.0, 45.0)) == state
