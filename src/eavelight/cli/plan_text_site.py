"""The lines of the plan about the house: copper, battery, wall, tray, entries."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from eavelight.app.plan_json import deciding_message
from eavelight.app.plan_visit import PlannedVisit
from eavelight.app.planning.feed import FeedPlan
from eavelight.cli.plan_text_light import row, volts
from eavelight.glass.tray import Side
from eavelight.model.message import Message
from eavelight.model.plan import Entry
from eavelight.wording import say, shown, with_uncertainty

if TYPE_CHECKING:
    from eavelight.app.planning.housing import HousingPlan
    from eavelight.climate.entry import EntryCheck
    from eavelight.climate.extremes import Extremes

TOLD = "fewer re-splices than planned"
"""A warning that the count of re-splices already tells."""


def _say(sentence: str, /, **values: Any) -> str:
    return say(Message(sentence, values))


def feed_lines(planned: PlannedVisit) -> Iterator[str]:
    """Loop, volts in both states and loads, margins and limits."""
    found = planned.feed
    if found is None:
        return
    feed = found.feed
    widths = (20, 16, 16)
    yield row(
        [
            _say("plan.feed.columns_state"),
            _say("plan.feed.columns_idle", load=feed.terminal_idle_w),
            _say("plan.feed.columns_peak", load=feed.terminal_peak_w),
        ],
        widths,
    )
    for state, supply in (
        ("float", feed.supply_float_v),
        ("cutoff", feed.supply_cutoff_v),
    ):
        at = found.volts[state]
        yield row(
            [
                _say(f"plan.feed.{state}", volts=supply),
                volts(at["idle"]),
                volts(at["peak"]),
            ],
            widths,
        )
    words = (_cord, _verdict, _limits, _feed_notes)
    yield " ".join(text for said in words for text in said(found))


def _cord(found: FeedPlan) -> Iterator[str]:
    feed = found.feed
    size = f"{feed.awg} AWG" if feed.area_mm2 is None else f"{feed.area_mm2:g} mm²"
    yield _say(
        "plan.feed.cord",
        length=feed.length_m,
        size=size,
        pairs=feed.pairs if feed.pairs > 1 else None,
        material=feed.material,
        loop=with_uncertainty(found.loop_ohm, found.loop_u_ohm, "ohm"),
    )
    if feed.shares_sheath_with is not None:
        yield _say("plan.feed.shared", part=feed.shares_sheath_with)


def _verdict(found: FeedPlan) -> Iterator[str]:
    feed = found.feed
    yield _say("plan.feed.needs", low=feed.terminal_min_v, high=feed.terminal_max_v)
    name = "holds" if found.holds else "fails"
    yield _say(f"plan.feed.{name}", margin=abs(found.margin_v))
    on_mains = found.volts["float"]["peak"]
    if not found.holds and on_mains is not None and on_mains >= feed.terminal_min_v:
        yield _say("plan.feed.mains_only")


def _limits(found: FeedPlan) -> Iterator[str]:
    yield _say(
        "plan.feed.limits",
        collapse=found.collapse_v,
        least=found.min_supply_v,
        longest=found.max_length_m,
        gauge=found.thinnest_awg,
    )
    if found.thinnest_awg is None:
        yield _say("plan.feed.no_gauge")
    if found.hotter is not None:
        ends = "hot" if found.hotter.cutoff_peak_v is not None else "hot_collapses"
        yield _say(
            f"plan.feed.{ends}",
            temperature=found.hotter.conductor_c,
            volts=found.hotter.cutoff_peak_v,
        )
    if found.return_lift_v is not None:
        yield _say("plan.feed.lift", lift=found.return_lift_v)


def _feed_notes(found: FeedPlan) -> Iterator[str]:
    for note in found.notes:
        yield _say(
            f"plan.feed.note.{note.replace(' ', '_')}",
            power=found.supply_power_w,
            limit=found.feed.supply_limit_w,
        )


def battery_lines(planned: PlannedVisit) -> Iterator[str]:
    """Hours as bands, target, life."""
    found = planned.battery
    if found is None:
        return
    hours = _say(
        "plan.battery.hours",
        cases=tuple(
            Message(
                f"plan.battery.{name}",
                {
                    "temperature": case.temperature_c,
                    "low": shown(case.low_h, 1),
                    "high": case.high_h,
                },
            )
            for name, case in found.cases.items()
        ),
    )
    yield " ".join([hours, *_battery_words(planned)])


def _battery_words(planned: PlannedVisit) -> Iterator[str]:
    found = planned.battery
    if found is None:
        return
    target, size = found.battery.target_hours, found.capacity_for_target_ah
    if target:
        name = "target_met" if size is None else "target_size"
        if size is not None and math.isnan(size):
            name = "target_never"
        yield _say(f"plan.battery.{name}", target=target, size=size)
    today = found.hours.today
    if today.ended_by == "does not start":
        yield _say("plan.battery.starts_not", temperature=today.temperature_c)
    low, high = found.replace_in_years
    yield _say("plan.battery.replace", low=shown(low, 1), high=shown(high, 1))
    if found.assumed_load:
        yield _say("plan.battery.idle")
    if not found.hours.cold.covered:
        yield _say("plan.battery.outside_tables")
    if found.charging == "too cold":
        yield _say("plan.battery.no_charge_cold")
    if found.charging == "too hot":
        yield _say("plan.battery.charge_hot")
    if found.vent_cm2 > 0:
        yield _say("plan.battery.air", vent=shown(found.vent_cm2, 1))


def place_lines(planned: PlannedVisit) -> Iterator[str]:
    """Places for the supply, best first, each with what decides."""
    found = planned.places
    if found is None:
        return
    for item in found.results:
        peak = item.cutoff_peak_v
        yield _say(
            "plan.place.row",
            name=item.name,
            in_use=item.name == found.in_use,
            because=deciding_message(item.deciding),
            length=item.length_m,
            volts=volts(None if math.isnan(peak) else peak),
            low=shown(item.cold_old_h[0], 1),
            high=item.cold_old_h[1],
        )


def conductor_lines(planned: PlannedVisit) -> Iterator[str]:
    """The map of this cord, what to strip, what to strap."""
    found = planned.conductors
    if found is None:
        return
    rows = " · ".join(
        _say(
            "plan.conductors.row",
            position=item.position,
            colour=item.colour,
            function=item.function,
            supply=item.supply_contact,
            terminal=item.terminal_contact,
        )
        for item in found.rows
    )
    power = {i.strip_terminal_mm for i in found.rows if i.function.startswith("power")}
    others = {i.strip_terminal_mm for i in found.rows} - power
    words = [
        f"{rows}.",
        _say(
            "plan.conductors.strip" if others else "plan.conductors.strip_one",
            thick=max(power),
            thin=max(others, default=None),
        ),
    ]
    if found.polarity is not None:
        words.append(
            _say(
                "plan.conductors.polarity",
                polarity=found.polarity,
                shared=found.shared_return,
            )
        )
    if found.strap:
        words.append(_say("plan.conductors.strap", lines=found.strap))
    yield " ".join(words)


def wall_lines(planned: PlannedVisit, *, everything: bool) -> Iterator[str]:
    """Heat and cold in the box against the rating, and what to change first."""
    found = planned.housing
    if found is None:
        return
    house = found.house
    yield " ".join(
        [*_temperatures(found), *_rating(found), *_first(found), *_dew(found)]
    )
    if everything and house is not None:
        for wall in house.walls:
            yield row(
                [
                    f"{wall.wall}, {wall.colour}",
                    f"{shown(wall.peak.air_c, 0)} °C",
                    f"{shown(wall.skin_c, 0)} °C",
                ],
                (24, 10, 10),
            )


def _first(found: "HousingPlan") -> Iterator[str]:
    """What to change first, where heat or cold call for it."""
    advice = () if found.house is None else found.house.advice
    cooler, mind = [], []
    for item in advice:
        if item.about == "heat":
            values = {**item.numbers, "gain": item.numbers["gain_k"]}
            cooler.append(Message(f"housing.change.{_id(item.advice)}", values))
        elif item.about != "dew":
            values = dict(item.numbers)
            mind.append(Message(f"plan.advice.{_id(item.advice)}", values))
    if cooler:
        yield _say("plan.housing.change", changes=tuple(cooler[:3]))
    if mind:
        yield _say("plan.housing.mind", advice=tuple(mind))


def _dew(found: "HousingPlan") -> Iterator[str]:
    """Vent and drain, where an ordinary clear night wets the lid without power."""
    advice = () if found.house is None else found.house.advice
    if any(item.advice.startswith("vent and drain") for item in advice):
        yield _say("housing.advice.vent_and_drain_at_the_lowest_point")


def _temperatures(found: "HousingPlan") -> Iterator[str]:
    extremes, house, cold = found.extremes, found.house, found.cold
    yield _say(
        "plan.housing.outside",
        low=extremes.low_c,
        high=extremes.high_c,
        source=_source(extremes),
    )
    yield _say(
        "plan.housing.hot" if house is not None else "plan.housing.cold_only",
        air=None if house is None else house.hot.air_c,
        skin=None if house is None else house.hot.skin_c,
        cold=cold.air_c,
        unpowered=cold.unpowered_air_c,
        width=found.half_width_k,
    )
    if house is None:
        if found.without_sun == "place":
            yield _say("plan.housing.without_place")
        else:
            yield _say("plan.housing.without_sun", because=found.without_sun)


def _source(extremes: "Extremes") -> "str | Message":
    """Who says so: the person or document where one does, else the rung."""
    if extremes.rung in {"stated", "class"}:
        return extremes.source
    return Message(f"housing.rung.{_id(extremes.rung)}")


def _rating(found: "HousingPlan") -> Iterator[str]:
    hot, cold = found.hot_held, found.cold_held
    word = found.housing.rating_refers_to
    refers_to = None if word is None else Message(f"housing.refers.{_id(word)}")
    if hot is not None and cold is not None:
        yield _say(
            "plan.housing.held",
            low=found.housing.rated_low_c,
            high=found.housing.rated_high_c,
            refers_to=refers_to,
            hot=_spare(hot.margin_k),
            cold=_spare(cold.margin_k),
        )
    elif cold is not None:
        yield _say(
            "plan.housing.held_cold",
            low=found.housing.rated_low_c,
            refers_to=refers_to,
            cold=_spare(cold.margin_k),
        )
    else:
        yield _say("plan.housing.unrated")
    yield _say("plan.housing.note")


def _id(word: str) -> str:
    return word.replace(" ", "_")


def _spare(margin_k: float) -> Message:
    name = "spare" if margin_k >= 0 else "beyond"
    return Message(f"plan.housing.{name}", {"margin": abs(margin_k)})


def entry_lines(planned: PlannedVisit) -> Iterator[str]:
    """Grommets and loops of the cable entries, and the cable to leave there."""
    if planned.entries is None:
        return
    good, words = [], []
    planned_as = {item.name: item for item in planned.opened.visit.plan.entry}
    for name, item in planned.entries.checks.items():
        needed = item.loop_needed_mm
        if item.faults:
            words.append(_entry_faults(planned_as[name], item))
        elif item.loop_spare_mm is None:
            words.append(_say("plan.entries.unknown_loop", name=name, needed=needed))
        else:
            good.append(name)
    if good:
        words.append(_say("plan.entries.fits", names=tuple(good)))
    if planned.entries.slack is not None:
        words.append(_say("plan.entries.slack", slack=planned.entries.slack.slack_m))
    yield " ".join(words)


def _entry_faults(entry: Entry, check: "EntryCheck") -> str:
    values = {
        "entry": entry.name,
        "diameter": entry.outside_diameter_mm,
        "low": entry.grommet_min_mm,
        "high": entry.grommet_max_mm,
        "width": entry.loop_width_mm,
        "needed": check.loop_needed_mm,
    }
    return _say(
        "plan.entries.wrong",
        faults=tuple(
            Message(f"housing.entry.fault.{_id(fault)}", values)
            for fault in check.faults
        ),
    )


def tray_lines(planned: PlannedVisit) -> Iterator[str]:
    """Cut marks of both sides and the re-splices that remain."""
    found = planned.tray
    if found is None:
        return
    plan = found.plan
    for name, side in (("cable", plan.cable), ("pigtail", plan.pigtail)):
        if side is not None:
            yield _side(name, side)
    words = []
    if plan.refused:
        words.append(_say("plan.tray.refused", reasons=plan.refused))
    else:
        words.append(
            _say(
                "plan.tray.left",
                count=plan.remaining,
                spare=found.spare_attempts,
                off=plan.sleeve.off_centre_mm,
            )
        )
    warnings = tuple(item for item in plan.warnings if item != TOLD)
    if warnings:
        words.append(_say("plan.tray.warning", warnings=warnings))
    yield " ".join(words)


def _side(name: str, side: Side) -> str:
    return _say(
        "plan.tray.side",
        side=_say(f"plan.tray.{name}"),
        marks=tuple(
            Message(
                "plan.tray.mark",
                {"layer": mark.layer, "at": shown(mark.from_entry_mm, 0)},
            )
            for mark in side.marks
        ),
        reversing=side.reversing,
        laps=side.laps,
    )
