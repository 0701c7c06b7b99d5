"""The plan in the JSON of the contract: keys are added, never renamed."""

from typing import TYPE_CHECKING, Any

from eavelight.app.assessment_json import number
from eavelight.app.plan_visit import PlannedVisit
from eavelight.app.planning.battery import BatteryPlan
from eavelight.app.planning.conductors import ConductorsPlan
from eavelight.app.planning.feed import FeedPlan
from eavelight.app.planning.identity import IdentityPlan
from eavelight.app.planning.levels import ByWavelength, ClassWindow, LightPlan
from eavelight.app.planning.numbers import Span
from eavelight.app.planning.places import PlacesPlan
from eavelight.app.planning.services import Coexistence, all_levels
from eavelight.app.planning.tray import SlackResult, TrayResult
from eavelight.glass.tray import Side
from eavelight.model.message import Message
from eavelight.wording import say

if TYPE_CHECKING:
    from eavelight.app.planning.housing import EntriesPlan, HousingPlan
    from eavelight.climate.housing import Held

SCHEMA = "eavelight.plan/1"
Json = dict[str, Any]


def plan_json(planned: PlannedVisit) -> Json:
    """The plan as plain data."""
    head = planned.opened.visit.head
    data: Json = {
        "schema": SCHEMA,
        "visit": head.id,
        "profile": head.profile,
        "incomplete": [say(item) for item in planned.incomplete],
        **_light(planned.light, planned.services),
        "hazard": {
            place: {"level": item.level, "share_of_level_1": item.share_of_level_1}
            for place, item in planned.hazard.items()
        },
        "feed": _feed(planned.feed, planned.battery),
        "housing": _housing(planned.housing),
        "fibre_identity": _identity(planned.identity),
        "tray": _tray(planned.tray),
        "slack": [_slack(item) for item in planned.slack],
        "coexistence": _coexistence(planned.services),
        "places": _places(planned.places),
        "walls": _walls(planned.housing),
        "conductors": _conductors(planned.conductors),
        "status": _status(planned.conductors),
        **_entries(planned.entries),
        "advice": [say(item) for item in planned.advice],
        "bring": [_bring(item) for item in planned.bring],
        "cautions": [say(item) for item in planned.cautions],
    }
    always = {"incomplete", "bring", "cautions"}
    return {
        key: value
        for key, value in data.items()
        if key in always or value not in (None, {}, [])
    }


def _span(span: Span) -> Json:
    return {
        "value": number(span.value),
        "u": number(span.u),
        "low": number(span.low),
        "high": number(span.high),
        "worst_low": number(span.worst_low),
        "worst_high": number(span.worst_high),
    }


def _by_nm(spans: ByWavelength) -> Json:
    return {str(nm): _span(span) for nm, span in spans.items()}


def _light(light: LightPlan, services: Coexistence | None) -> Json:
    return {
        "expected_level_dbm": {
            place: _by_nm(spans) for place, spans in all_levels(light, services).items()
        },
        "given_level_dbm": {
            place: _by_nm(spans) for place, spans in light.given.items()
        },
        "expected_loss_db": {
            subject: _by_nm(spans) for subject, spans in light.losses.items()
        },
        "expected_upstream_dbm": (
            None
            if light.upstream is None
            else {"hub": {str(light.up_nm): _span(light.upstream)}}
        ),
        "class": _window(light.window),
        "class_upstream": _window(light.up_window),
    }


def _window(window: ClassWindow) -> Json:
    return {
        "id": window.id,
        "name": window.name,
        "wavelength_nm": window.wavelength_nm,
        "odn_min_db": number(window.odn_min_db),
        "odn_max_db": number(window.odn_max_db),
        "floor_dbm": number(window.floor_dbm),
        "ceiling_dbm": number(window.ceiling_dbm),
        "document": window.document,
        "edition": window.edition,
        "confidence": window.confidence,
    }


def _identity(identity: IdentityPlan) -> Json:
    fibre = identity.fibre
    tube = identity.tube is not None
    data: Json = {
        "scheme": identity.scheme,
        "tube": identity.tube,
        "tube_colour": fibre.tube_colour if fibre and tube else None,
        "tube_code": fibre.tube_code if fibre and tube else None,
        "fibre": fibre.fibre if fibre else None,
        "fibre_colour": fibre.fibre_colour if fibre else None,
        "fibre_code": fibre.fibre_code if fibre else None,
        "code": None,
        "position": fibre.position if fibre and tube else None,
        "fibres_per_tube": identity.fibres_per_tube,
        "confusable": [
            {
                "with": item.colour,
                "vision": item.vision,
                "difference": number(item.difference),
            }
            for item in identity.confusable
        ],
        "hub": identity.hub,
        "port": identity.port,
        "terminal_serial": identity.serial,
    }
    if fibre is not None:
        data["code"] = fibre.code if tube else fibre.fibre_code
    if identity.copper:
        data["copper_pair"] = say(Message("plan.identity.copper"))
    return data


def _feed(feed: FeedPlan | None, battery: BatteryPlan | None) -> Json | None:
    if feed is None:
        return None
    data: Json = {
        "loop_ohm": number(feed.loop_ohm),
        "loop_u_ohm": number(feed.loop_u_ohm),
        "volts_at_terminal": feed.volts,
        "collapse_v": number(feed.collapse_v),
        "min_supply_v": number(feed.min_supply_v),
        "max_length_m": number(feed.max_length_m),
        "margin_v": number(feed.margin_v),
        "margin_u_v": number(feed.margin_u_v),
        "holds_at_cutoff": feed.holds,
        "supply_power_w": feed.supply_power_w,
        "thinnest_awg": feed.thinnest_awg,
        "return_lift_v": number(feed.return_lift_v),
        "notes": list(feed.notes),
    }
    if feed.hotter is not None:
        data["hot_copper"] = {
            "conductor_c": feed.hotter.conductor_c,
            "loop_ohm": number(feed.hotter.loop_ohm),
            "cutoff_peak_v": feed.hotter.cutoff_peak_v,
        }
    if battery is not None:
        data |= _battery(battery)
    return data


def _battery(battery: BatteryPlan) -> Json:
    size = battery.capacity_for_target_ah
    return {
        "runtime_h": {
            name: [number(case.low_h), number(case.high_h)]
            for name, case in battery.cases.items()
        },
        "runtime": {
            name: {
                "temperature_c": case.temperature_c,
                "ended_by": case.ended_by,
                "inside_tables": case.covered,
            }
            for name, case in battery.cases.items()
        },
        "battery": {
            "target_h": battery.battery.target_hours,
            "age_years": number(battery.age_years),
            "load_assumed_idle": battery.assumed_load,
            "temperature_assumed": battery.assumed_temperature,
            "life_years": _pair(battery.hours.life_years),
            "replace_in_years": _pair(battery.replace_in_years),
            "capacity_for_target_ah": number(size),
            "target_out_of_reach": size is not None and number(size) is None,
            "charging": battery.charging,
            "air_m3_per_h": number(battery.air_m3_per_h),
            "vent_cm2": number(battery.vent_cm2),
        },
    }


def _held(held: "Held | None") -> Json | None:
    if held is None:
        return None
    return {
        "compared_c": number(held.compared_c),
        "margin_k": number(held.margin_k),
        "u_k": number(held.u_k),
        "refers_to": held.refers_to,
    }


def _housing(housing: "HousingPlan | None") -> Json | None:
    if housing is None:
        return None
    house, cold, extremes = housing.house, housing.cold, housing.extremes
    data: Json = {
        "air_c": {
            "hot": None if house is None else number(house.hot.air_c),
            "cold": number(cold.air_c),
            "cold_unpowered": number(cold.unpowered_air_c),
        },
        "skin_c": {"hot": None if house is None else number(house.hot.skin_c)},
        "outside_c": {
            "hot": number(extremes.high_c),
            "cold": number(extremes.low_c),
            "source": extremes.source,
            "rung": extremes.rung,
            "u_k": number(extremes.u_k),
        },
        "half_width_k": housing.half_width_k,
        "held": {"hot": _held(housing.hot_held), "cold": _held(housing.cold_held)},
        "note": say(Message("plan.housing.note")),
    }
    if house is None:
        data["without_sun"] = housing.without_sun
        return data
    data["winter"] = {
        "swing_k": number(house.winter.swing_k),
        "high_c": number(house.winter.high_c),
        "outside_c": number(house.winter.outside_c),
    }
    if house.dew is not None:
        data["dew"] = {
            "verdict": house.dew.verdict,
            "lid_above_dew_k": number(house.dew.lid_above_dew_k),
            "unpowered_above_dew_k": number(house.dew.unpowered_above_dew_k),
        }
    data["advice"] = [
        {"advice": item.advice, "about": item.about, "numbers": dict(item.numbers)}
        for item in house.advice
    ]
    data["changes"] = [
        {
            "change": item.change,
            "gain_k": number(item.gain_k),
            "air_c": number(item.air_c),
            "moves_the_box": item.moves_the_box,
        }
        for item in house.changes
    ]
    return data


def _walls(housing: "HousingPlan | None") -> list[Json]:
    if housing is None or housing.house is None:
        return []
    return [
        {
            "wall": row.wall,
            "facing_deg": row.facing_deg,
            "colour": row.colour,
            "air_c": number(row.peak.air_c),
            "skin_c": number(row.skin_c),
            "time_h": number(row.peak.time_h),
            "margin_k": _margin(housing, row.peak.air_c),
        }
        for row in housing.house.walls
    ]


def _margin(housing: "HousingPlan", air_c: float) -> float | None:
    """Room below the rating on another wall; outside air is the same on all."""
    held, house = housing.hot_held, housing.house
    if held is None or house is None:
        return None
    if held.refers_to == "outside air":
        return number(held.margin_k)
    return number(held.margin_k + house.hot.air_c - air_c)


def _entries(entries: "EntriesPlan | None") -> Json:
    """Cable entries, and the drop cable to leave there for repairs and movement."""
    if entries is None:
        return {}
    data: Json = {
        "entries": [
            {
                "name": name,
                "fits": not item.faults,
                "faults": list(item.faults),
                "loop_needed_mm": number(item.loop_needed_mm),
                "loop_spare_mm": number(item.loop_spare_mm),
            }
            for name, item in entries.checks.items()
        ]
    }
    if entries.slack is not None:
        data["entry_slack_m"] = number(entries.slack.slack_m)
        data["sheath_movement_mm"] = number(entries.slack.sheath_mm)
    return data


def _tray(tray: TrayResult | None) -> Json | None:
    if tray is None:
        return None
    plan = tray.plan
    sleeve = plan.sleeve
    data: Json = {
        "usable": plan.usable,
        "refused": list(plan.refused),
        "warnings": list(plan.warnings),
        "cable_fibre": tray.cable_fibre,
        "pigtail_fibre": tray.pigtail_fibre,
        "resplices_left": plan.remaining,
        "spare_attempts": tray.spare_attempts,
        "sleeve": {
            "fits": sleeve.fits,
            "bare_mm": number(sleeve.bare_mm),
            "off_centre_mm": number(sleeve.off_centre_mm),
        },
        "layers": [
            {
                "name": layer.name,
                "strands": layer.strands,
                "radius_mm": number(layer.radius_mm),
                "laps": layer.laps,
                "length_mm": number(layer.length_mm),
                "ends": layer.ends,
            }
            for layer in plan.layers
        ],
    }
    for name, side in (("cable", plan.cable), ("pigtail", plan.pigtail)):
        if side is not None:
            data[name] = _side(side)
    return data


def _side(side: Side) -> Json:
    return {
        "laps": side.laps,
        "reversing_loop": side.reversing,
        "arrives": side.arrives,
        "length_mm": number(side.length_mm),
        "u_mm": number(side.u_mm),
        "cut_marks": [
            {
                "layer": mark.layer,
                "from_entry_mm": number(mark.from_entry_mm),
                "from_origin_mm": number(mark.from_origin_mm),
            }
            for mark in side.marks
        ],
        "resplices_left": side.resplices.total,
        "limited_by": side.resplices.limited_by,
        "radius_lost_mm": number(side.resplices.radius_lost_mm),
    }


def _slack(item: SlackResult) -> Json:
    report = item.report
    losses = zip(
        report.wavelength_nm,
        report.loss.low_db,
        report.loss.typical_db,
        report.loss.high_db,
        strict=True,
    )
    return {
        "at": item.loop.at,
        "fibre": item.loop.fibre,
        "radius_mm": item.loop.radius_mm,
        "turns": item.loop.turns,
        "loss_db": {
            str(round(nm)): {
                "low": number(float(low)),
                "typical": number(float(typical)),
                "high": number(float(high)),
            }
            for nm, low, typical, high in losses
        },
        "break_risk": {
            years: {
                "decade": risk.decade,
                "low": number(risk.low),
                "high": number(risk.high),
            }
            for years, risk in (
                ("20_years", report.risk_20_years),
                ("30_years", report.risk_30_years),
            )
        },
        "keep_radius_mm": number(report.keep.radius_mm),
        "governed_by": report.keep.governed_by,
        "warnings": list(report.warnings),
    }


def _coexistence(services: Coexistence | None) -> Json | None:
    if services is None:
        return None
    return {
        "services": [
            {
                "name": item.name,
                "wavelength_nm": item.wavelength_nm,
                "launch_dbm": number(item.launch.mean_dbm),
                "launch_u_db": number(item.launch.u_db),
                "level_dbm": {
                    place: _span(span) for place, span in item.levels.items()
                },
                "path_loss_db": number(item.loss_db),
                "loss_window_db": _pair(item.window_db),
                "receive_dbm": _pair(item.receive_dbm),
                "filter_isolation_db": {
                    name: number(value) for name, value in item.isolation_db.items()
                },
            }
            for item in services.services
        ],
        "broadband_dbm": {
            place: number(value) for place, value in services.broadband_dbm.items()
        },
        "shared_loss_window_db": _pair(services.shared_db),
        "suits_all": services.suits_all,
    }


def _pair(pair: tuple[float | None, float | None] | None) -> list[float | None] | None:
    return None if pair is None else [number(pair[0]), number(pair[1])]


def _places(places: PlacesPlan | None) -> list[Json]:
    if places is None:
        return []
    return [
        {
            "name": item.name,
            "in_use": item.name == places.in_use,
            "length_m": number(item.length_m),
            "longest_m": number(item.longest_m),
            "volts_at_cutoff": {
                "idle": number(item.cutoff_idle_v),
                "peak": number(item.cutoff_peak_v),
            },
            "runtime_h": {
                "cold": _pair(item.cold_h),
                "cold_end_of_life": _pair(item.cold_old_h),
            },
            "life_years": _pair(item.life),
            "refused": list(item.refusals),
            "cautions": list(item.cautions),
            "meets_target": item.meets_target,
            "deciding": item.deciding,
            "because": say(deciding_message(item.deciding)),
        }
        for item in places.results
    ]


def deciding_message(deciding: str) -> Message:
    """The deciding reason of a place as a sentence."""
    word = deciding.removeprefix("refused: ")
    kind = "refused" if word != deciding else "deciding"
    return Message(f"plan.place.{kind}.{word.replace(' ', '_')}")


def _conductors(conductors: ConductorsPlan | None) -> list[Json]:
    if conductors is None:
        return []
    return [
        {
            "position": row.position,
            "function": row.function,
            "colour": row.colour,
            "supply_contact": row.supply_contact,
            "terminal_contact": row.terminal_contact,
            "thick": row.thick,
            "strip_supply_mm": row.strip_supply_mm,
            "strip_terminal_mm": row.strip_terminal_mm,
        }
        for row in conductors.rows
    ]


def _status(conductors: ConductorsPlan | None) -> Json | None:
    if conductors is None:
        return None
    return {
        "construction": conductors.construction,
        "power_loop_ohm": number(conductors.power_loop_ohm),
        "strap_or_switch_off": list(conductors.strap),
        "polarity": conductors.polarity,
        "return_shared": conductors.shared_return,
    }


def _bring(item: Message) -> Json:
    return {"item": item.id.removeprefix("plan.bring."), "text": say(item)}
