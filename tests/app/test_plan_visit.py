"""A plan says what to expect, from what the work order holds and nothing else."""

import math
from typing import Any

import pytest

from eavelight.app.plan_visit import plan_visit
from eavelight.errors import EvidenceError, FolderError


@pytest.fixture
def table(clean: dict[str, Any]) -> dict[str, Any]:
    """The clean visit before anybody was there, without the slow sun."""
    for key in ("reading", "evidence", "housing"):
        clean.pop(key)
    return clean


@pytest.fixture
def plan(save):
    return lambda table: plan_visit(str(save(table)))


def ids(messages):
    return {item.id.rpartition(".")[2] for item in messages}


def test_a_complete_work_order_lacks_nothing(table, plan):
    assert plan(table).incomplete == ()


@pytest.mark.parametrize(
    ("section", "key", "missing"),
    [
        ("assignment", "port", "port"),
        ("assignment", "fibre", "fibre"),
        ("assignment", "tube", "tube"),
        ("assignment", "terminal_serial", "serial"),
        ("plant", "launch_dbm", "launch"),
    ],
)
def test_what_the_work_order_leaves_out_is_told(table, plan, section, key, missing):
    del table[section][key]
    assert ids(plan(table).incomplete) == {missing}


def test_a_fibre_number_beyond_the_scheme_is_told_and_not_guessed(table, plan):
    table["assignment"]["fibre"] = 40
    planned = plan(table)
    assert ids(planned.incomplete) == {"fibre_in_scheme"}
    assert planned.identity.fibre is None


def test_the_level_is_the_launch_less_every_loss(table, plan):
    parts = [
        {"name": "port", "kind": "connector", "loss_db": 0.3},
        {"name": "pad", "kind": "attenuator", "loss_db": 5.0},
        {"name": "terminal", "kind": "connector", "loss_db": 0.2},
    ]
    table["plant"] |= {"part": parts, "launch_dbm": 3.0, "loop": []}
    levels = plan(table).light.levels
    assert levels["hub"][1490].value == pytest.approx(3.0)
    assert levels["port"][1490].value == pytest.approx(2.7)
    assert levels["terminal"][1490].value == pytest.approx(-2.5)


def test_readings_never_move_the_plan_but_are_told_beside_it(clean, plan):
    clean["housing"] = None
    del clean["housing"]
    seen = plan(clean)
    clean["reading"] = []
    before = plan(clean)
    assert seen.light.levels == before.light.levels
    assert before.light.given == {}
    assert (
        seen.light.given["terminal"][1490].u
        < 0.5 * seen.light.levels["terminal"][1490].u
    )


def test_an_unstated_launch_is_anywhere_in_the_class_window(table, plan):
    table["plant"]["pon_class"] = "gpon-b+"
    for key in ("launch_dbm", "launch_u_db"):
        del table["plant"][key]
    hub = plan(table).light.levels["hub"][1490]
    assert (hub.value, hub.u) == pytest.approx((3.25, 3.5 / math.sqrt(12)))
    assert (hub.low, hub.high) == (1.5, 5.0)


def test_a_band_never_reaches_beyond_the_worst_cases(table, plan):
    found = plan(table).light
    spans = [s for by_nm in found.levels.values() for s in by_nm.values()]
    spans += [s for by_nm in found.losses.values() for s in by_nm.values()]
    for span in spans:
        assert span.worst_low <= span.low <= span.value <= span.high <= span.worst_high


def test_a_class_without_limits_has_no_window_and_no_expected_level(table, plan):
    table["plant"] |= {"pon_class": "epon-px30"}
    del table["plant"]["launch_dbm"]
    found = plan(table).light
    assert found.window.floor_dbm is None
    assert found.levels == {}
    assert found.losses["drop"][1550].value > 0


def test_the_feed_follows_the_constant_power_quadratic(table, plan):
    found = plan(table).feed
    feed, ohm = found.feed, found.loop_ohm
    volts = found.volts["cutoff"]["peak"]
    # what goes in less what the cable takes is what the terminal draws
    amps = (feed.supply_cutoff_v - volts) / ohm
    assert volts * amps == pytest.approx(feed.terminal_peak_w)
    assert found.collapse_v == pytest.approx(2 * math.sqrt(ohm * 8.0))
    assert found.min_supply_v == pytest.approx(10.0 + 8.0 * ohm / 10.0)
    longest = (11.0 - 10.0) * 10.0 / 8.0 / ohm * feed.length_m
    assert found.max_length_m == pytest.approx(longest)


def test_a_feed_that_collapses_has_no_volts_and_does_not_hold(table, plan):
    table["feed"] |= {"awg": 26, "length_m": 200}
    found = plan(table).feed
    assert found.volts["cutoff"]["peak"] is None
    assert not found.holds
    assert found.margin_v < 0


def test_works_on_mains_and_dies_on_battery_is_seen_before_driving(table, plan):
    table["feed"] |= {"length_m": 45}
    found = plan(table).feed
    assert found.volts["float"]["peak"] > found.feed.terminal_min_v
    assert not found.holds


def test_cold_is_the_low_of_the_place_in_use_else_freezing(table, plan):
    assert plan(table).battery.hours.cold.temperature_c == -8.0
    del table["feed"]["place"]
    assert plan(table).battery.hours.cold.temperature_c == 0.0


def test_cold_and_age_cost_hours_and_both_cost_most(table, plan):
    hours = plan(table).battery.hours
    assert hours.cold.low_h < hours.today.low_h
    assert hours.end_of_life.low_h < hours.today.low_h
    worst = hours.cold_end_of_life.low_h
    assert worst < min(hours.cold.low_h, hours.end_of_life.low_h)


def test_the_battery_that_meets_the_target_is_named_where_this_one_does_not(
    table, plan
):
    found = plan(table).battery
    assert found.hours.cold_end_of_life.low_h < found.battery.target_hours
    assert found.capacity_for_target_ah > found.battery.capacity_ah
    table["feed"]["battery"]["capacity_ah"] = 18
    assert plan(table).battery.capacity_for_target_ah is None


def test_a_table_that_no_battery_can_have_is_refused_with_its_key(table, plan):
    table["feed"]["battery"]["discharge_table"] = [
        {"hours": 1, "watts": 5, "end_v": 10.5},
        {"hours": 10, "watts": 80, "end_v": 10.5},
    ]
    with pytest.raises(EvidenceError, match="discharge_table"):
        plan(table)


@pytest.mark.parametrize(
    "hazard",
    [
        "splash", "floods", "vehicles", "switched outlet", "sealed space",
        "fuel appliance",
    ],
)  # fmt: skip
def test_a_hazard_rules_a_place_out(table, plan, hazard):
    near = {"name": "near", "length_m": 5, "low_c": 15, "high_c": 25}
    table["supply_place"] = [near | {"hazards": [hazard]}, near | {"name": "dry"}]
    del table["feed"]["place"]
    results = plan(table).places.results
    assert [item.name for item in results] == ["dry", "near"]
    assert results[1].deciding == f"refused: {hazard}"


def test_sun_on_a_place_is_only_a_caution(table, plan):
    table["supply_place"][1]["hazards"] = ["sun"]
    found = {item.name: item for item in plan(table).places.results}
    assert found["hall cupboard"].refusals == ()


def test_lines_that_the_cord_lacks_are_strapped(table, plan):
    table["feed"] |= {"construction": "power only", "status_lines": 0}
    found = plan(table).conductors
    assert len(found.rows) == 2
    assert len(found.strap) == 4


def test_cut_marks_meet_in_the_holder_and_the_radius_counts(table, plan):
    found = plan(table).tray
    assert found.plan.usable
    assert found.plan.cable.arrives != found.plan.pigtail.arrives
    assert found.pigtail_fibre == "g652d"


def test_a_sleeve_too_short_for_the_glass_is_refused_without_marks(table, plan):
    table["tray"]["sleeve_mm"] = 20
    found = plan(table).tray.plan
    assert not found.usable
    assert found.cable is None


def test_the_filter_is_asked_for_only_where_other_light_is(table, plan):
    texts = {item.id: item.values for item in plan(table).bring}
    assert texts["plan.bring.meter"]["filter"] is False
    table["plant"]["service"] = [{"pon_class": "xgspon-n1"}]
    texts = {item.id: item.values for item in plan(table).bring}
    assert texts["plan.bring.meter"]["filter"] is True


def test_video_narrows_the_loss_that_suits_all(table, plan):
    table["plant"]["service"] = [{"pon_class": "video", "launch_dbm": 18.0}]
    found = plan(table).services
    low, high = found.shared_db
    assert low > 13.0
    assert high < 28.0
    video = found.services[1]
    assert video.wavelength_nm == 1550
    assert video.levels["hub"].value == 18.0


def test_strong_video_raises_the_hazard_level_at_the_hub(table, plan):
    assert plan(table).hazard["hub"].level == "1"
    table["plant"]["service"] = [{"pon_class": "video", "launch_dbm": 18.0}]
    assert plan(table).hazard["hub"].level == "1M"


def test_cautions_follow_what_is_planned(table, plan):
    assert {"battery", "foreign"} <= ids(plan(table).cautions)
    del table["feed"]
    table["supply_place"] = []
    assert not {"battery", "mains"} & ids(plan(table).cautions)


def test_a_bad_folder_is_refused_as_for_an_assessment(table, plan):
    table["plant"]["launch_dbm"] = 60
    table["feed"]["awgg"] = 3
    with pytest.raises(FolderError) as refused:
        plan(table)
    assert len(refused.value.mistakes) == 2
