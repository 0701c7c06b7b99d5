"""Heat, cold, dew and entries of a box: verdicts and what they rest on."""

import builtins
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.assess import wall
from eavelight.assess.assessment import context_of
from eavelight.assess.entry import assess_entry
from eavelight.assess.housing import assess_housing
from eavelight.assess.job_notes import day_notes, notes_of_the_day, place_notes
from eavelight.climate import sun
from eavelight.model.observation import Observations, Reading
from eavelight.model.plan import (
    Battery,
    Entry,
    Feed,
    Housing,
    Part,
    Plan,
    Plant,
    Site,
    SupplyPlace,
)
from eavelight.standards.profiles import load_profile
from eavelight.wording import say

pytest.importorskip("pvlib")

# 21 July, 15:30 standard time in Arizona (UTC-7)
HOT_HOUR = datetime(2026, 7, 21, 22, 30, tzinfo=UTC)
DESERT = {"latitude": 33.43, "longitude": -112.02, "elevation_m": 337}
GOOD_ENTRY = Entry(
    name="drop", outside_diameter_mm=6.0, grommet_min_mm=5, grommet_max_mm=7,
    loop_width_mm=120,
)  # fmt: skip


def box(**changed):
    values = {
        "width_mm": 250, "height_mm": 300, "depth_mm": 100, "colour": "light grey",
        "facing_deg": 270, "internal_w": 8.0, "rated_low_c": -40.0,
        "rated_high_c": 70.0, "rating_refers_to": "air in box",
    }  # fmt: skip
    return Housing(**(values | changed))


def plan(housing=None, entry=(), feed=None, places=(), **site):
    return Plan(
        purpose="turn-up", site=Site(key="S-1", **site), housing=housing,
        entry=tuple(entry), feed=feed, supply_place=places,
        plant=Plant(
            pon_class="gpon-b+",
            part=(
                Part(name="port", kind="connector"),
                Part(name="drop cable", kind="fibre", length_m=100.0),
                Part(name="terminal", kind="connector"),
            ),
        ),
    )  # fmt: skip


def temperature(at, value, *, minutes=0, state=(), id=None):
    return Reading(
        id=id or f"{at}{minutes}", what="temperature", at=at, value=value, unit="°C",
        time=HOT_HOUR + timedelta(minutes=minutes), state=state,
    )  # fmt: skip


def entry_seen(text, name="drop"):
    return Reading(
        id=f"e-{name}", what="entry_seen", at="box", value=text, entry=name,
        time=HOT_HOUR,
    )  # fmt: skip


def context(plan, *readings):
    seen = Observations(started=HOT_HOUR, readings=readings)
    return context_of("V-1", plan, seen, load_profile())


def found(plan, *readings):
    return {
        item.requirement.removeprefix("housing."): item
        for item in assess_housing(context(plan, *readings))
    }


# --- hot -----------------------------------------------------------------------------


def test_without_a_box_nothing_is_measured_and_nothing_heavy_runs(monkeypatch):
    monkeypatch.setattr(sun, "_pvlib", None)
    for item in found(plan(**DESERT)).values():
        assert item.verdict == "not measured"
        assert "describes no box" in say(item.because)


# Phoenix day run of the reference sheet: 20.5 K above 43.4 °C on the west wall
@pytest.mark.parametrize(
    ("rated", "verdict"), [(75.0, "pass"), (64.0, "undecided"), (55.0, "fail")]
)
def test_the_hot_day_is_guarded_by_the_doubt_of_the_model(rated, verdict):
    site = DESERT | {"low_c": -3.0, "high_c": 43.4, "extremes_source": "operator"}
    hot = found(plan(box(rated_high_c=rated), **site))["hot"]
    assert hot.verdict == verdict
    assert hot.expected.value == pytest.approx(63.6, abs=0.5)
    # ±5 K is two standard uncertainties; the stated outside air adds half a kelvin
    assert hot.expected.u == pytest.approx((2.5**2 + 0.5**2) ** 0.5)


def test_the_sentence_names_rung_rating_and_what_it_is_not():
    hot = found(plan(box(), **DESERT))["hot"]
    text = say(hot.because)
    assert "bundled grid" in text
    assert "air in box" in text
    assert "Clear-sky model, not a compliance statement." in text
    stated = DESERT | {"low_c": -3, "high_c": 47, "extremes_source": "town records"}
    assert "stated: town records" in say(found(plan(box(), **stated))["hot"].because)


def test_a_rating_about_outside_air_is_held_against_outside_air():
    site = {"low_c": -20.0, "high_c": 44.0}
    hot = found(plan(box(rated_high_c=46, rating_refers_to="outside air"), **site))
    assert hot["hot"].verdict == "pass"
    assert hot["hot"].expected.value == 44.0


def test_the_case_is_hotter_than_the_air():
    air = found(plan(box(), **DESERT))["hot"].expected
    case = found(plan(box(rating_refers_to="case"), **DESERT))["hot"].expected
    assert case.value > air.value + 10.0
    assert case.u > air.u


@pytest.mark.parametrize(
    ("changed", "site", "reason"),
    [
        ({"rated_high_c": None}, DESERT, "no_rating"),
        ({"rating_refers_to": None}, DESERT, "rating_of_what"),
        ({}, {}, "no_place"),
    ],
)
def test_what_cannot_be_judged_says_why(changed, site, reason):
    hot = found(plan(box(**changed), **site))["hot"]
    assert hot.verdict == "not measured"
    assert hot.because.id == f"housing.hot.not_measured.{reason}"
    assert say(hot.because)


def test_without_the_sun_heat_is_not_measured_and_cold_still_is(monkeypatch):
    real = builtins.__import__

    def without(name, *more, **keys):
        if name == "pvlib":
            raise ModuleNotFoundError("pvlib is not there", name="pvlib")
        return real(name, *more, **keys)

    for cache in (sun._pvlib, wall._hot_day, wall._grid):
        cache.cache_clear()
    monkeypatch.setattr(builtins, "__import__", without)
    items = found(plan(box(), **DESERT))
    monkeypatch.undo()
    for cache in (wall._hot_day, wall._grid):
        cache.cache_clear()
    assert items["hot"].because.id.endswith("needs_sun")
    assert items["cold"].verdict == "pass"


def test_a_failing_box_is_told_to_shade_and_paint_before_it_moves():
    hot = found(plan(box(rated_high_c=55), **DESERT))["hot"]
    changes = hot.because.values["changes"]
    assert changes[:2] == ("shade-the-top", "paint-light")
    assert changes.index("other-wall") > 1
    assert "cover over the top" in say(hot.because)


@given(st.floats(-60.0, 60.0), st.floats(0.1, 30.0))
@settings(deadline=None, max_examples=15)
def test_a_better_rating_is_never_worse(rated, more):
    order = ("fail", "undecided", "pass")
    site = DESERT | {"low_c": -3.0, "high_c": 43.4}
    worse, better = (
        found(plan(box(rated_high_c=value), **site))["hot"]
        for value in (rated, rated + more)
    )
    assert order.index(better.verdict) >= order.index(worse.verdict)
    assert better.probability >= worse.probability


# --- measured ------------------------------------------------------------------------

STATED = DESERT | {"low_c": -3.0, "high_c": 46.0}


def measured(inside, outside=43.0, **changed):
    return found(
        plan(box(**changed), **STATED),
        temperature("outside", outside), temperature("box", inside, minutes=5),
    )["hot"]  # fmt: skip


def test_a_box_hotter_than_its_model_fails_although_the_model_passes():
    assert found(plan(box(rated_high_c=76), **STATED))["hot"].verdict == "pass"
    hot = measured(78.0, rated_high_c=76)
    assert hot.verdict == "fail"
    # 35 K above 43 °C is 81 °C above 46 °C
    assert hot.expected.value == pytest.approx(81.0, abs=2.0)
    assert hot.measured.value == 78.0
    assert hot.observations == ("box5", "outside0")
    assert "sky not known" in say(hot.because)


def test_a_cool_reading_under_an_unknown_sky_lifts_a_fail_but_passes_nothing():
    assert found(plan(box(rated_high_c=58), **STATED))["hot"].verdict == "fail"
    hot = measured(53.0, rated_high_c=58)
    assert hot.verdict == "undecided"
    assert "clear hot afternoon" in say(hot.decide_by)


def test_a_cool_reading_passes_where_even_its_doubt_fits():
    assert measured(53.0, rated_high_c=72).verdict == "pass"


@pytest.mark.parametrize(
    "readings",
    [
        (temperature("box", 75.0),),
        (temperature("outside", 43.0), temperature("box", 75.0, minutes=45)),
        (temperature("outside", 43.0), temperature("box", 75.0, state=("lid open",))),
    ],
    ids=["alone", "apart in time", "open box"],
)
def test_a_reading_that_tells_nothing_leaves_the_model(readings):
    hot = found(plan(box(rated_high_c=76), **STATED), *readings)["hot"]
    assert (hot.verdict, hot.measured) == ("pass", None)


def test_without_coordinates_a_box_seen_beyond_its_rating_fails():
    readings = temperature("outside", 40.0), temperature("box", 80.0)
    assert found(plan(box()), *readings)["hot"].verdict == "fail"
    readings = temperature("outside", 40.0), temperature("box", 60.0)
    assert found(plan(box()), *readings)["hot"].verdict == "not measured"


# --- cold ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "verdict"), [(-20.0, "pass"), (-42.0, "undecided"), (-60.0, "fail")]
)
def test_cold_passes_stopped_fails_running_and_is_open_in_between(low, verdict):
    cold = found(plan(box(), low_c=low, high_c=30.0))["cold"]
    assert cold.verdict == verdict
    assert say(cold.because)


def test_an_unknown_place_condemns_no_rating():
    assert found(plan(box()))["cold"].verdict == "undecided"
    assert "place not known" in say(found(plan(box()))["cold"].because)


def test_height_makes_the_cold_night_colder():
    low = wall.site_air(Site(key="S", latitude=46.0, longitude=8.0, elevation_m=500),
                        load_profile()).low  # fmt: skip
    high = wall.site_air(Site(key="S", latitude=46.0, longitude=8.0, elevation_m=2000),
                         load_profile()).low  # fmt: skip
    assert low.value_c - high.value_c == pytest.approx(9.75)


def test_each_end_keeps_its_own_source():
    site = Site(key="S", high_c=41.0, extremes_source="operator", **{
        key: DESERT[key] for key in ("latitude", "longitude")})  # fmt: skip
    air = wall.site_air(site, load_profile())
    assert (air.high.rung, air.low.rung) == ("stated", "grid")
    assert air.high.u_k < air.low.u_k


def test_ends_stated_the_wrong_way_round_are_no_crash():
    air = wall.site_air(Site(key="S", low_c=40.0, high_c=-20.0), load_profile())
    assert air.low.value_c == -20.0


# --- dew and entries -----------------------------------------------------------------

COAST = {"latitude": 53.2, "longitude": -9.3, "elevation_m": 15}


def test_a_good_box_in_the_desert_stays_dry():
    dew = found(plan(box(), [GOOD_ENTRY], **DESERT), entry_seen("good"))["dew"]
    assert dew.verdict == "pass"
    assert dew.advisory


@pytest.mark.parametrize(
    ("entry", "readings"),
    [
        (GOOD_ENTRY, ()),
        (GOOD_ENTRY, (entry_seen("no loop below"),)),
        (
            Entry(name="drop", outside_diameter_mm=9, grommet_max_mm=7),
            (entry_seen("good"),),
        ),
    ],
    ids=["not looked at", "seen bad", "planned bad"],
)
def test_a_bad_entry_is_never_dry(entry, readings):
    dew = found(plan(box(), [entry], **DESERT), *readings)["dew"]
    assert dew.verdict == "undecided"
    assert "mend entries" in say(dew.because)


@pytest.mark.parametrize(
    ("power", "verdict"), [(8.0, "pass"), (3.0, "undecided"), (0.0, "fail")]
)
def test_the_coast_is_told_to_vent_and_drain(power, verdict):
    house = plan(box(internal_w=power), [GOOD_ENTRY], **COAST)
    dew = found(house, entry_seen("good"))["dew"]
    assert dew.verdict == verdict
    assert "vent and drain at the lowest point" in say(dew.because)


def the_entry(entry, *readings):
    return assess_entry(context(plan(None, [entry]), *readings))[0]


def entry(**changed):
    values = {
        "name": "drop", "outside_diameter_mm": 8.0, "grommet_min_mm": 5.0,
        "grommet_max_mm": 9.0, "loop_width_mm": 160.0,
    }  # fmt: skip
    return Entry(**(values | changed))


def test_an_eight_millimetre_cable_needs_a_loop_of_160_mm():
    assert the_entry(entry(), entry_seen("good")).verdict == "pass"
    narrow = the_entry(entry(loop_width_mm=159.0), entry_seen("good"))
    assert narrow.verdict == "fail"
    assert "needs 160 mm" in say(narrow.because)


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"grommet_max_mm": 7.0}, "too thick"),
        ({"grommet_min_mm": 8.5}, "too thin"),
        ({"from_": "above"}, "from above"),
    ],
)
def test_a_planned_fault_fails_even_when_nobody_looked(changed, word):
    found = the_entry(entry(**changed))
    assert found.verdict == "fail"
    assert word in say(found.because)


def test_what_the_plan_leaves_open_is_settled_by_a_look():
    bare = Entry(name="drop", outside_diameter_mm=8.0)
    assert the_entry(bare).verdict == "not measured"
    assert the_entry(bare, entry_seen("good")).verdict == "pass"


def test_the_slack_for_two_strippings_is_told():
    both = [entry(), entry(name="cord")]
    seen = assess_entry(context(plan(None, both), entry_seen("good")))[0]
    assert seen.verdict == "undecided"
    assert "0.4 m of cable" in say(seen.decide_by)


def test_a_clamped_sheath_moves_far_less_than_a_free_one():
    slack = wall.slack_of(plan(low_c=-20.0, high_c=40.0), load_profile())
    # 100 m over 60 K: glass-fibre rod 6e-6, polyethylene 150e-6 per kelvin
    assert slack.clamped_mm == pytest.approx(36.0)
    assert slack.sheath_mm == pytest.approx(900.0)
    assert slack.slack_m == pytest.approx(0.336)


# --- notes ---------------------------------------------------------------------------


def test_a_mild_day_calls_for_no_note():
    assert notes_of_the_day(plan(), outside_c=18.0) == ()
    assert day_notes(context(plan())) == ()


def test_a_cold_day_calls_for_its_notes_in_words():
    notes = [
        say(item) for item in day_notes(context(plan(), temperature("outside", -12)))
    ]
    assert any("splicer" in note for note in notes)
    assert all("unknown" not in note for note in notes)


def test_the_garage_and_the_seasons_are_told_for_the_place():
    feed = Feed(
        supply_float_v=13.6, supply_cutoff_v=11.0, length_m=20, terminal_idle_w=4,
        terminal_peak_w=8, terminal_min_v=10, terminal_max_v=15, place="garage",
        shares_sheath_with="drop cable",
        battery=Battery(chemistry="lfp", capacity_ah=7.0),
    )  # fmt: skip
    garage = SupplyPlace(name="garage", length_m=20, low_c=-10, high_c=40)
    house = plan(feed=feed, places=(garage,), low_c=-40.0, high_c=60.0)
    notes = " ".join(say(item) for item in place_notes(house, load_profile()))
    assert "must not be charged below freezing" in notes
    # copper: 0.764 and 1.157 times its resistance at 20 °C
    assert "0.76 times" in notes
    assert "1.16 times" in notes
    assert "0.005 dB" in notes
