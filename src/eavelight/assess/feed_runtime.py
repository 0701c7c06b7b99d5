"""Whether the battery carries the hours asked for, given what was shown of it."""

import math
from dataclasses import dataclass

from eavelight.assess.context import Context
from eavelight.assess.feed_facts import FULL, BatteryFacts, battery_facts, extremes_c
from eavelight.assess.feed_hours import Hours, Inputs, hours_on_battery
from eavelight.assess.feed_rehearsal import OutageVolts, outage_volts
from eavelight.assess.feed_resistance import planned_loop, shown_resistance
from eavelight.assess.judge import finding, not_measured
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Battery, Feed
from eavelight.power.battery import earliest_runtime_test_h

REQUIREMENT = "feed.runtime"
SURE = 0.95
EARLY = {"terminal", "collapse", "does not start"}
# Less than this is not running on battery.
STAYS_OFF_H = 0.5
# Charger of a supply that states no power: a tenth of the capacity per hour.
TENTH = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class RuntimeStory:
    """Hours with the battery as it was found, and as they are once it is full."""

    facts: BatteryFacts
    charge: tuple[float, float]
    found: Hours
    full: Hours
    volts: tuple[OutageVolts, ...]
    shown: bool
    wait_h: float
    readings: tuple[str, ...]
    deciding: tuple[str, ...] = ()

    @property
    def weak(self) -> bool:
        """Whether the battery showed less than full."""
        return self.charge[1] < SURE


def runtime_story(context: Context, feed: Feed) -> RuntimeStory | None:
    """Hours on what was shown, None without a battery.

    Raises ValueError where the maker's table cannot be one of a battery.
    """
    battery = feed.battery
    if battery is None:
        return None
    facts = battery_facts(context, feed, battery)
    shown = shown_resistance(context, feed)
    ohm, u_ohm = (shown.ohm, shown.u_ohm) if shown else planned_loop(feed)
    volts = outage_volts(context, feed, battery, ohm=ohm, u_ohm=u_ohm)
    charge = _charge(facts, volts)
    low_c, high_c = extremes_c(context.plan, facts.temperature_c)

    def hours(at: tuple[float, float]) -> Hours:
        found = hours_on_battery(
            feed,
            Inputs(
                loop_ohm=ohm,
                loop_u_ohm=u_ohm,
                temperature_c=facts.temperature_c,
                low_c=low_c,
                high_c=high_c,
                age_years=facts.age_years,
                charge=at,
            ),
        )
        if found is None:
            raise ValueError("feed must have a battery")
        return found

    return RuntimeStory(
        facts=facts,
        charge=charge,
        found=hours(charge),
        full=hours(FULL),
        volts=volts,
        shown=shown is not None,
        wait_h=_wait_h(feed, battery, charge),
        readings=(
            *(shown.readings if shown else ()),
            *facts.readings,
            *(name for item in volts for name in item.readings),
        ),
        deciding=(
            *(shown.deciding if shown and shown.disagree else ()),
            *facts.readings,
        ),
    )


def _charge(facts: BatteryFacts, volts: tuple[OutageVolts, ...]) -> tuple[float, float]:
    """State of charge that was shown; full where nothing speaks against it."""
    bands = [facts.rest_charge] if facts.rest_charge is not None else []
    bands += [
        item.charge
        for item in volts
        if item.state == "low" and item.at != "terminal" and item.charge is not None
    ]
    if not bands:
        return FULL
    return min(bands, key=lambda band: band[1])


def _wait_h(feed: Feed, battery: Battery, charge: tuple[float, float]) -> float:
    amps = TENTH * battery.capacity_ah
    if feed.supply_limit_w is not None:
        spare = feed.supply_limit_w - feed.terminal_idle_w
        amps = min(max(spare / feed.supply_float_v, 0.0), 2.5 * amps) or amps
    return earliest_runtime_test_h(
        charge[0], capacity_ah=battery.capacity_ah, charger_a=amps
    )


def assess_runtime(context: Context, feed: Feed) -> list[Finding]:
    """`feed.runtime`; nothing where no battery is planned."""
    requirement = REQUIREMENT
    if feed.battery is None:
        return []
    try:
        story = runtime_story(context, feed)
    except ValueError as error:
        return [
            not_measured(
                context,
                requirement,
                "battery",
                reason="table",
                values={"error": str(error)},
            )
        ]
    return [] if story is None else [_judge(context, feed.battery, story)]


def _judge(context: Context, battery: Battery, story: RuntimeStory) -> Finding:
    requirement = REQUIREMENT
    today = story.found.today
    target = battery.target_hours
    values = _values(story, target)
    half = (today.high_h - today.low_h) / 2.0
    expected = Quantity(value=today.low_h + half, unit="h", u=half / 3.0**0.5)
    limit = Limit(low=target, unit="h", clause="plan.feed.battery", confidence="stated")
    reason = "no_target" if not target else ("" if story.shown else "planned")
    if reason or not target:
        return not_measured(
            context,
            requirement,
            "battery",
            reason=reason,
            values=values,
            expected=expected,
            limit=limit if target else None,
            observations=story.readings,
        )
    verdict, name = _verdict(story, target)
    return finding(
        context,
        requirement,
        "battery",
        verdict=verdict,
        because=Message(name, values),
        expected=expected,
        limit=limit,
        probability=today.chance_of(target),
        decide_by=_decide_by(story, values) if verdict is Verdict.UNDECIDED else None,
        observations=story.readings,
        broken_by=story.deciding,
    )


def _verdict(story: RuntimeStory, target: float) -> tuple[Verdict, str]:
    """Fails only where even a full battery falls short."""
    found = story.found.today.chance_of(target)
    full = story.full.today.chance_of(target)
    if full <= 1.0 - SURE:
        stays_off = story.full.today.high_h < STAYS_OFF_H
        return Verdict.FAIL, f"feed.runtime.fail{'.stays_off' if stays_off else ''}"
    if story.facts.age_state == "after visit":
        return Verdict.UNDECIDED, "feed.runtime.undecided.date"
    if found >= SURE:
        return Verdict.PASS, "feed.runtime.pass"
    if full >= SURE:
        return Verdict.UNDECIDED, "feed.runtime.undecided.charge"
    return Verdict.UNDECIDED, "feed.runtime.undecided"


def _decide_by(story: RuntimeStory, values: dict[str, object]) -> Message:
    if story.facts.age_state == "after visit":
        return Message("feed.runtime.decide_by.date", values)
    if story.weak:
        return Message("feed.runtime.decide_by.charge", values)
    return Message("feed.runtime.decide_by", values)


def half_hours(hours: float) -> float:
    """Hours as told: never more than there are, and no finer than anybody knows.

    >>> half_hours(13.9), half_hours(0.31)
    (13.5, 0.3)
    """
    step = 0.5 if hours >= 2.0 else 0.1
    return math.floor(hours / step + 1e-9) * step


def _values(story: RuntimeStory, target: float | None) -> dict[str, object]:
    found = story.found
    cases = {
        "today": found.today,
        "cold": found.cold,
        "old": found.end_of_life,
        "worst": found.cold_end_of_life,
    }
    values: dict[str, object] = {"target": target}
    for name, case in cases.items():
        values[f"{name}_low"] = half_hours(case.low_h)
        values[f"{name}_high"] = half_hours(case.high_h)
        values[f"{name}_c"] = case.temperature_c
    # hours told beyond this are more than anybody will wait for
    values["short"] = bool(target) and found.cold_end_of_life.low_h < float(target or 0)
    values["outside"] = not found.cold.covered
    values["wait"] = story.wait_h
    values["early"] = story.full.today.ended_by in EARLY
    values["given"] = _given(story)
    return values


def _given(story: RuntimeStory) -> tuple[Message, ...]:
    """What the hours rest on, in words."""
    facts = story.facts
    found = [
        Message(
            f"feed.runtime.given.{facts.temperature_source}",
            {"celsius": facts.temperature_c},
        )
    ]
    if facts.rest_charge is not None:
        low, high = (100.0 * share for share in facts.rest_charge)
        values = {"volts": facts.rest_v, "low": low, "high": high}
        found.append(Message("feed.runtime.given.rest", values))
    elif facts.rest_v is not None:
        found.append(Message("feed.runtime.given.flat", {"volts": facts.rest_v}))
    if facts.age_state != "stated":
        key = facts.age_state.replace(" ", "_")
        found.append(Message(f"feed.runtime.given.{key}", {"years": facts.age_years}))
    weak = [item for item in story.volts if item.state == "low"]
    if weak:
        item = weak[0]
        found.append(
            Message(
                "feed.runtime.given.low",
                {"value": item.value, "expected": item.expected, "at": item.at},
            )
        )
    elif story.volts:
        found.append(Message("feed.runtime.given.rehearsed"))
    return tuple(found)
