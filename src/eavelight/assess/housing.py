"""Heat, cold and dew in the box: `housing.hot`, `housing.cold`, `housing.dew`.

A temperature is that of a clear-sky model, good to ±5 K, with the doubt about the
outside air on top; a measured box replaces it as far as the reading reaches. None of
it is a statement of compliance.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from eavelight.assess.context import Context
from eavelight.assess.entry import assess_entry
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import CLOSED, Placed
from eavelight.errors import MissingFeatureError
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Housing, Site
from eavelight.standards.conformity import Decision, decide

if TYPE_CHECKING:
    from eavelight.assess.wall import AirEnd
    from eavelight.climate.dew import DewRisk
    from eavelight.climate.housing import Held, HotDay

HOT, COLD, DEW = "housing.hot", "housing.cold", "housing.dew"
SUBJECT = "box"
OUTSIDE_AIR = "outside air"
FITS = 1e-9
FOG = 0.995


def assess_housing(context: Context) -> list[Finding]:
    """Hot day, cold night and dew; nothing heavy is loaded without a box."""
    housing = context.plan.housing
    if housing is None:
        return [
            not_measured(context, name, SUBJECT, reason="no_housing")
            for name in (HOT, COLD, DEW)
        ]
    return [_hot(context, housing), _cold(context, housing), _dew(context, housing)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A box and the outside air, read at about the same time."""

    inside: Placed
    outside: Placed
    u_inside_k: float
    u_k: float

    @property
    def inside_c(self) -> float:
        """Air in the box."""
        return self.inside.reading.number

    @property
    def outside_c(self) -> float:
        """Air outside."""
        return self.outside.reading.number


def measured_pair(context: Context) -> Pair | None:
    """The last reading in the closed box with the nearest one outside.

    Air in an open box is not the air that the box will hold.
    """
    from eavelight.standards.climate import climate_numbers

    apart_min = climate_numbers()["measured.pair_minutes"]
    inside = [
        item
        for item in context.selection.all_of("temperature", SUBJECT)
        if item.lid in {0, CLOSED}
    ]
    outside = context.selection.all_of("temperature", "outside")
    if not inside or not outside:
        return None
    last = inside[-1]
    near = min(outside, key=lambda item: _apart_min(item, last))
    if _apart_min(near, last) > apart_min:
        return None
    u_inside, u_outside = context.u_of(last.reading), context.u_of(near.reading)
    return Pair(
        inside=last,
        outside=near,
        u_inside_k=u_inside,
        u_k=math.hypot(u_inside, u_outside),
    )


def _apart_min(first: Placed, second: Placed) -> float:
    return abs((first.reading.time - second.reading.time).total_seconds()) / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """One end of the rating held against one temperature, ready for a verdict."""

    held: "Held"
    limit: Limit
    values: Mapping[str, object]
    pair: Pair | None = None
    readings: tuple[str, ...] = field(default=())


def _rating_gap(housing: Housing, rated_c: float | None) -> str | None:
    """Why nothing can be held against the rating, None where it can."""
    if rated_c is None:
        return "no_rating"
    return "rating_of_what" if housing.rating_refers_to is None else None


def _limit(*, low: float | None = None, high: float | None = None) -> Limit:
    return Limit(
        low=low, high=high, unit="°C", clause="plan.housing", confidence="stated"
    )


def _decided(context: Context, held: "Held", limit: Limit) -> Decision:
    return decide(
        held.compared_c,
        held.u_k,
        low=limit.low,
        high=limit.high,
        factor=context.profile.guard_factor,
    )


def _told(
    context: Context, requirement: str, case: _Case, decision: Decision
) -> Finding:
    """The finding of a decision, with its sentence."""
    verdict = Verdict(decision.verdict)
    values = {
        "value": case.held.compared_c,
        "doubt": 2.0 * case.held.u_k,
        "refers": case.held.refers_to,
        "what": Message(f"housing.refers.{case.held.refers_to.replace(' ', '_')}"),
        "low": case.limit.low,
        "high": case.limit.high,
        "measured": case.pair is not None,
        **case.values,
    }
    kind = ".outside" if case.held.refers_to == OUTSIDE_AIR else ""
    pair = case.pair
    return finding(
        context,
        requirement,
        SUBJECT,
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}{kind}", values),
        measured=(
            None
            if pair is None
            else Quantity(value=pair.inside_c, unit="°C", u=pair.u_inside_k)
        ),
        expected=Quantity(value=case.held.compared_c, unit="°C", u=case.held.u_k),
        limit=case.limit,
        probability=decision.probability,
        decide_by=(
            Message(f"{requirement}.decide_by", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=() if pair is None else ids([pair.inside, pair.outside]),
    )


def _air_values(air: "AirEnd") -> dict[str, object]:
    return {
        "outside": air.value_c,
        "rung": Message(f"housing.rung.{air.rung.replace(' ', '_')}"),
        "source": air.source,
        "source_told": air.rung == "stated",
        "outside_u": air.u_k,
    }


# --- hot ---------------------------------------------------------------------------


def _hot(context: Context, housing: Housing) -> Finding:
    from eavelight.assess.wall import hot_day_of, site_air

    gap = _rating_gap(housing, housing.rated_high_c)
    pair = measured_pair(context)
    air = site_air(context.plan.site, context.profile).high
    about_outside = housing.rating_refers_to == OUTSIDE_AIR
    hot = None
    if not about_outside:
        try:
            hot = hot_day_of(context.plan.site, housing, high_c=air.value_c)
        except MissingFeatureError:
            gap = gap or "needs_sun"
        else:
            gap = gap or ("no_place" if hot is None else None)
    if gap in {"needs_sun", "no_place"}:
        beyond = _beyond_already(context, housing, air, pair)
        if beyond is not None:
            return beyond
    if gap is not None:
        return _hot_gap(context, housing, gap, hot)
    case = _hot_case(context, housing, air, hot, pair)
    decision = _decided(context, case.held, case.limit)
    if Verdict(decision.verdict) is not Verdict.PASS and hot is not None:
        case = replace(
            case, values={**case.values, **_changes(context.plan.site, housing, hot)}
        )
    return _told(context, HOT, case, decision)


def _hot_gap(
    context: Context, housing: Housing, gap: str, hot: "HotDay | None"
) -> Finding:
    from eavelight.climate.housing import MODEL_U_K

    air = None if hot is None else hot.air_c
    return not_measured(
        context,
        HOT,
        SUBJECT,
        reason=gap,
        values={"air": air, "known": air is not None, "high": housing.rated_high_c},
        expected=None if air is None else Quantity(value=air, unit="°C", u=MODEL_U_K),
    )


def _hot_case(
    context: Context,
    housing: Housing,
    air: "AirEnd",
    hot: "HotDay | None",
    pair: Pair | None,
) -> _Case:
    """The rating against the outside air, or against the box on its hot day."""
    from eavelight.climate.housing import MODEL_U_K

    inside_c, u_k, outside_u_k = air.value_c, MODEL_U_K, air.u_k
    used = None
    if hot is not None:
        inside_c = hot.air_c
        if pair is not None:
            inside_c, u_k, outside_u_k = _carried(context, housing, hot, pair, air)
            used = pair
    held = _held(
        housing,
        housing.rated_high_c or 0.0,
        air_c=inside_c,
        outside_c=air.value_c,
        power_w=housing.internal_w,
        hot=True,
        u_k=u_k,
        outside_u_k=outside_u_k,
    )
    return _Case(
        held=held,
        limit=_limit(high=housing.rated_high_c),
        values=_air_values(air) | _day_values(hot, pair if used else None),
        pair=used,
    )


def _day_values(hot: "HotDay | None", pair: Pair | None) -> dict[str, object]:
    if hot is None:
        return {}
    values: dict[str, object] = {"model": hot.air_c, "skin": hot.skin_c}
    if pair is not None:
        values |= {
            "inside": pair.inside_c,
            "then_outside": pair.outside_c,
            "time": pair.inside.reading.time,
        }
    return values


def _carried(
    context: Context, housing: Housing, hot: "HotDay", pair: Pair, air: "AirEnd"
) -> tuple[float, float, float]:
    """Design temperature from a reading, with the doubts that remain.

    A box that was already hotter than that counts as it was.
    """
    from eavelight.assess.wall import peak_from_reading

    peak = peak_from_reading(
        context.plan.site,
        housing,
        hot,
        inside_c=pair.inside_c,
        outside_c=pair.outside_c,
        time=pair.inside.reading.time,
        u_k=pair.u_k,
    )
    if peak is None or pair.inside_c > peak.air_c:
        return pair.inside_c, pair.u_inside_k, 0.0
    return peak.air_c, peak.u_k, air.u_k


def _held(
    housing: Housing,
    rated_c: float,
    *,
    air_c: float,
    outside_c: float,
    power_w: float,
    hot: bool,
    u_k: float,
    outside_u_k: float,
) -> "Held":
    from eavelight.climate.housing import held_against

    held = held_against(
        rated_c,
        refers_to=housing.rating_refers_to or OUTSIDE_AIR,
        outside_c=outside_c,
        air_c=air_c,
        power_w=power_w,
        hot=hot,
        u_k=u_k,
        outside_u_k=outside_u_k,
    )
    return replace(held, u_k=max(held.u_k, FITS))


def _beyond_already(
    context: Context, housing: Housing, air: "AirEnd", pair: Pair | None
) -> Finding | None:
    """Without a model a box can still be seen beyond its rating."""
    if pair is None or housing.rated_high_c is None:
        return None
    if housing.rating_refers_to in {None, OUTSIDE_AIR}:
        return None
    held = _held(
        housing,
        housing.rated_high_c,
        air_c=pair.inside_c,
        outside_c=pair.outside_c,
        power_w=housing.internal_w,
        hot=True,
        u_k=pair.u_inside_k,
        outside_u_k=0.0,
    )
    case = _Case(
        held=held,
        limit=_limit(high=housing.rated_high_c),
        values=_air_values(air)
        | {
            "inside": pair.inside_c,
            "then_outside": pair.outside_c,
            "time": pair.inside.reading.time,
            "measures": (),
            "changes": (),
        },
        pair=pair,
    )
    decision = _decided(context, held, case.limit)
    if Verdict(decision.verdict) is not Verdict.FAIL:
        return None
    return _told(context, HOT, case, decision)


def _changes(site: Site, housing: Housing, hot: "HotDay") -> dict[str, object]:
    """What would cool the box, by id and as sentences; best first."""
    from eavelight.assess.wall import changes_of

    found = changes_of(site, housing, high_c=hot.outside_c)
    return {
        "changes": tuple(item.change.replace(" ", "-") for item in found),
        "measures": tuple(
            Message(
                f"housing.change.{item.change.replace(' ', '_')}",
                {"gain": item.gain_k, **item.details},
            )
            for item in found
        ),
    }


# --- cold --------------------------------------------------------------------------


def _cold(context: Context, housing: Housing) -> Finding:
    """Fails when the running box is too cold, passes when an unpowered one is not.

    In between the terminal may not start after a power cut.
    """
    from eavelight.assess.wall import cold_night_of, site_air
    from eavelight.climate.housing import MODEL_U_K

    gap = _rating_gap(housing, housing.rated_low_c)
    air = site_air(context.plan.site, context.profile).low
    night = cold_night_of(housing, low_c=air.value_c)
    if gap is not None:
        return not_measured(
            context,
            COLD,
            SUBJECT,
            reason=gap,
            values={"air": night.air_c, "low": housing.rated_low_c},
            expected=Quantity(value=night.air_c, unit="°C", u=MODEL_U_K),
        )
    limit = _limit(low=housing.rated_low_c)

    def held(air_c: float, power_w: float) -> "Held":
        return _held(
            housing,
            housing.rated_low_c or 0.0,
            air_c=air_c,
            outside_c=air.value_c,
            power_w=power_w,
            hot=False,
            u_k=MODEL_U_K,
            outside_u_k=air.u_k,
        )

    running = held(night.air_c, housing.internal_w)
    stopped = held(night.unpowered_air_c, 0.0)
    with_power = _decided(context, running, limit)
    without = _decided(context, stopped, limit)
    decision = without
    if Verdict(with_power.verdict) is Verdict.FAIL:
        decision = with_power
    elif Verdict(without.verdict) is Verdict.FAIL:
        decision = replace(without, verdict=Verdict.UNDECIDED.value)
    case = _Case(
        held=running,
        limit=limit,
        values=_air_values(air) | {"stopped": stopped.compared_c},
    )
    return _told(context, COLD, case, decision)


# --- dew ---------------------------------------------------------------------------


def _dew(context: Context, housing: Housing) -> Finding:
    """Advice: whether the lid gets wet on an ordinary clear night.

    A bad entry is never called dry: water that runs in along a cable is no matter of
    dew points.
    """
    from eavelight.assess.wall import night_of
    from eavelight.climate.dew import dew_risk
    from eavelight.standards.climate import climate_practice

    night = night_of(context.plan.site)
    if night is None:
        return not_measured(context, DEW, SUBJECT, reason="no_place")
    entry = assess_entry(context)[0].verdict
    sealed = {Verdict.PASS: True, Verdict.FAIL: False}.get(entry)
    doubt = climate_practice().night.u_relative_humidity * context.profile.guard_factor

    def risk(humidity: float) -> "DewRisk":
        return dew_risk(
            night.air_c,
            min(1.0, max(0.01, humidity)),
            power_w=housing.internal_w,
            sealed=sealed,
        )

    usual, damp = (risk(night.relative_humidity + more) for more in (0.0, doubt))
    dry = usual.verdict == "dry" and damp.verdict == "dry"
    verdict = Verdict.FAIL if usual.verdict == "wet" else Verdict.UNDECIDED
    if dry:
        verdict = Verdict.PASS
    values = {
        "air": night.air_c,
        "humidity": 100.0 * night.relative_humidity,
        "wet_from": 100.0 * usual.night.wet_from_humidity,
        "fog": usual.night.wet_from_humidity >= FOG,
        "wet_from_off": 100.0 * usual.unpowered.wet_from_humidity,
        "power": housing.internal_w,
        "entry": Message(f"housing.dew.entry.{str(entry).replace(' ', '_')}"),
        "measures": tuple(
            Message(f"housing.measure.{name.replace(' ', '_')}")
            for name in damp.measures
        ),
        "changes": tuple(name.replace(" ", "-") for name in damp.measures),
        "any": bool(damp.measures),
    }
    return finding(
        context,
        DEW,
        SUBJECT,
        verdict=verdict,
        because=Message(f"{DEW}.{verdict}", values),
        expected=Quantity(value=usual.lid_above_dew_k, unit="K", u=1.0),
        decide_by=(
            Message(f"{DEW}.decide_by", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
    )
