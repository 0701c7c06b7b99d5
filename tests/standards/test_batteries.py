"""Battery types: what a label becomes, and that the tables are the printed ones."""

import math
from datetime import date

import pytest

from eavelight.power.discharge import Circuit, runtime_band
from eavelight.power.limits import source_current_a, source_power_va
from eavelight.power.rehearsal import contradictions
from eavelight.power.status_lines import LINES
from eavelight.standards.batteries import (
    battery_type,
    battery_types,
    capacity_test_table,
    sizing_table,
)
from eavelight.standards.clauses import CONFIDENCE
from eavelight.standards.cords import (
    backup_rules,
    cord,
    cords,
    evidence_rules,
    lamp_steps,
    loop_priors,
    source_rows,
    status_priors,
)

VRLA = battery_type("vrla")
BARE = Circuit(loop_ohm=0.0, terminal_min_v=9.0, cutoff_v=10.5)


def test_the_two_ieee_tables_are_not_mixed_up() -> None:
    sizing = dict(zip(*sizing_table(), strict=True))
    divisor = dict(zip(*capacity_test_table(), strict=True))
    at_40_f = (40.0 - 32.0) / 1.8
    assert sizing[at_40_f] == 1.300
    assert divisor[at_40_f] == 0.670
    assert 1.0 / sizing[at_40_f] != pytest.approx(divisor[at_40_f], abs=0.05)


def test_the_sizing_table_never_rises_with_temperature() -> None:
    _, factors = sizing_table()
    assert list(factors) == sorted(factors, reverse=True)


# 10 C 0.84 / 0.91, 0 C 0.71 / 0.85, -10 C 0.59 / 0.79, -20 C 0.48 / 0.73: reference
# sheet on power, two printed digits; the polynomial is good to 0.015
@pytest.mark.parametrize(
    ("celsius", "low", "high"),
    [(10.0, 0.84, 0.91), (0.0, 0.71, 0.85), (-10.0, 0.59, 0.79), (-20.0, 0.48, 0.73)],
)
def test_cold_capacity_is_the_band_between_the_two_standards(celsius, low, high):
    table = VRLA.temperature
    index = table.temperature_c.index(celsius)
    assert table.low[index] == pytest.approx(low, abs=0.015)
    assert table.high[index] == pytest.approx(high, abs=0.006)


# run times of the reference sheet on power at 25 C, all its models from the steepest
# exponent to the mildest
@pytest.mark.parametrize(
    ("watts", "shortest", "longest"),
    [(5.0, 16.8, 17.1), (10.0, 7.3, 7.9), (20.0, 3.0, 3.7), (25.0, 2.1, 2.9)],
)
def test_the_band_covers_the_spread_of_the_published_models(watts, shortest, longest):
    block = VRLA.block(7.2, rating_hours=20.0, cells=6)
    models = VRLA.models(7.2, rating_hours=20.0, near_h=86.0 / watts)
    spread = VRLA.capacity_spread
    band = runtime_band(
        models,
        block,
        BARE,
        profile=[(0.0, watts)],
        capacity=(1.0 - spread, 1.0 + spread),
    )
    assert band.low_h <= shortest
    assert band.high_h >= longest
    assert band.high_h / band.low_h < 1.6


def test_a_label_with_a_shorter_rating_means_more_charge() -> None:
    assert VRLA.sheet_ah(6.5, 10.0) > VRLA.sheet_ah(6.5, 20.0)


def test_a_makers_table_replaces_the_type() -> None:
    block = VRLA.block(7.2, rating_hours=20.0, cells=6)
    rows = [(1.0, 46.0, 10.5), (5.0, 14.3, 10.5), (10.0, 7.95, 10.5), (20.0, 4.3, 10.5)]
    models = VRLA.models(
        7.2, rating_hours=20.0, near_h=10.0, block=block, table=rows, end_v=10.5
    )
    band = runtime_band(models, block, BARE, profile=[(0.0, 7.95)])
    assert band.low_h == pytest.approx(10.0, rel=0.03)
    assert band.high_h == pytest.approx(10.0, rel=0.03)


def test_one_row_of_a_makers_table_scales_the_type() -> None:
    block = VRLA.block(7.2, rating_hours=20.0, cells=6)
    models = VRLA.models(
        7.2, rating_hours=20.0, near_h=10.0, block=block, table=[(10.0, 8.1, 10.5)],
        end_v=10.5,
    )  # fmt: skip
    band = runtime_band(models, block, BARE, profile=[(0.0, 8.1)])
    assert band.low_h <= 10.0 <= band.high_h * 1.03


def test_a_table_needs_the_block() -> None:
    with pytest.raises(ValueError, match="block"):
        VRLA.models(7.2, rating_hours=20.0, near_h=8.0, table=[(1.0, 40.0, 10.5)])


def test_lithium_is_not_charged_below_freezing_and_its_volts_tell_nothing() -> None:
    lithium = battery_type("lfp")
    assert lithium.charge_window_c[0] == 0.0
    low, high = lithium.rest.low_v[2], lithium.rest.high_v[1]
    assert low < high


def test_every_stated_confidence_is_a_known_word() -> None:
    for kind in battery_types().values():
        assert set(kind.confidence.values()) <= set(CONFIDENCE)


def test_an_unknown_chemistry_names_the_nearest() -> None:
    with pytest.raises(ValueError, match="'vrla'"):
        battery_type("vrl")


def test_the_limited_source_rows_are_those_of_the_table() -> None:
    assert source_power_va(12.0, source_rows()) == 60.0
    assert source_current_a(50.0, source_rows()) == 2.0
    assert source_current_a(28.0, source_rows()) == pytest.approx(100 / 28)
    assert math.isnan(source_current_a(151.0, source_rows()))


def test_every_cord_carries_power_and_no_position_twice() -> None:
    for conductors in cords().values():
        functions = [c.function for c in conductors]
        assert {"power plus", "power return"} <= set(functions)
        assert len({c.position for c in conductors}) == len(conductors)
        contacts = {(c.function, c.supply_contact, c.terminal_contact)
                    for c in conductors}  # fmt: skip
        assert len(contacts) == len(set(functions))
        assert set(functions) <= {"power plus", "power return", "signal return", *LINES}


def test_an_unknown_cord_names_the_nearest() -> None:
    with pytest.raises(ValueError, match="'power only'"):
        cord("power onli")


def test_priors_are_shares() -> None:
    assert sum(loop_priors().values()) == pytest.approx(1.0)
    assert sum(status_priors().values()) == pytest.approx(1.0)


def test_a_battery_alarm_while_the_supply_is_on_is_a_dead_outlet() -> None:
    facts = {"supply output": "on", "on battery": "alarm"}
    assert [rule.id for rule in contradictions(facts, evidence_rules())] == [
        "dead outlet"
    ]


def test_light_at_the_plug_that_the_terminal_does_not_see_is_its_own_plug() -> None:
    facts = {"level at plug": "good", "terminal light": "off"}
    assert contradictions(facts, evidence_rules())[0].cause == "contamination"


def test_lamp_steps_end_after_they_begin() -> None:
    assert all(step.from_s < step.to_s for step in lamp_steps())


def test_a_rule_that_has_run_out_is_not_in_force() -> None:
    rule = next(r for r in backup_rules() if r.hours == 24.0)
    assert not rule.in_force(date(2019, 2, 12))
    assert rule.in_force(date(2019, 2, 13))
    assert not rule.in_force(date(2025, 9, 1))


def test_every_rule_states_how_well_its_dates_are_known() -> None:
    assert {rule.dates_confidence for rule in backup_rules()} <= set(CONFIDENCE)
