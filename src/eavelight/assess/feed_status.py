"""Status lines proven by disturbance, and the lift of a return that power shares."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from eavelight.assess.context import Context
from eavelight.assess.feed_rehearsal import (
    contradiction_readings,
    rehearsal_contradictions,
)
from eavelight.assess.feed_resistance import planned_loop, shown_resistance
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import BATTERY_STATES, Placed
from eavelight.model.finding import Finding, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import Reading
from eavelight.model.plan import Feed
from eavelight.power.conductor_map import lines_to_strap
from eavelight.power.feed import feed_current_a
from eavelight.power.rehearsal import EvidenceRule
from eavelight.power.status_lines import (
    LINES,
    POLARITIES,
    STATES,
    StatusFault,
    Wiring,
    lift_state,
    next_status_state,
    predicted_lines,
    return_lift_v,
    status_causes,
)
from eavelight.standards.cords import cord, status_priors

REQUIREMENT = "feed.status"
SURE = 0.95
# A line that says what it should not is more likely at fault than misread below this.
LIKELY = 0.5
# Causes told by name, beside the first.
MOST = 3
Seen = tuple[str, str, str]
Ranked = tuple[tuple[StatusFault, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusStory:
    """What the lines said and what explains it, best first.

    `chance` is the probability that nothing is wrong; `make_next` the state to make;
    `surprises` the states in which a line said what it should not.
    """

    seen: tuple[Seen, ...]
    causes: Ranked
    chance: float
    make_next: str | None
    agrees: bool
    surprises: tuple[str, ...] = ()


def carried_lines(feed: Feed) -> tuple[str, ...]:
    """Status lines that the cord carries, as far as the plan says."""
    names: tuple[str, ...] = LINES
    if feed.construction is not None:
        held = {row.function for row in cord(feed.construction)}
        names = tuple(line for line in LINES if line in held)
    if feed.status_lines is not None:
        names = names[: feed.status_lines]
    return names


def missing_lines(feed: Feed) -> tuple[str, ...]:
    """Lines that the terminal watches and the cord lacks: strap or switch off."""
    if feed.construction is None:
        return tuple(line for line in LINES if line not in carried_lines(feed))
    held = set(carried_lines(feed))
    rows = [
        row
        for row in cord(feed.construction)
        if row.function in held or row.function not in LINES
    ]
    return lines_to_strap(rows, LINES)


def state_of_reading(reading: Reading) -> str:
    """The disturbance under which a line was read."""
    states = set(reading.state)
    if "battery lead off" in states:
        return "battery lead off"
    if states & BATTERY_STATES:
        return "mains pulled"
    return "restored" if "restored" in states else "normal"


def lines_seen(context: Context) -> tuple[Placed, ...]:
    """Readings of the lines that count, those of one known state at a time."""
    return tuple(
        item
        for item in context.current("status_line", "terminal")
        if item.reading.line in LINES
        and item.reading.text in {"normal", "alarm"}
        and "disconnected" not in item.reading.state
    )


def _wirings(feed: Feed) -> tuple[Wiring, ...]:
    """What may be known of the lines: both settings where the plan names none."""
    stated = feed.status_polarity
    return tuple(
        Wiring(
            supply_polarity=polarity,
            terminal_polarity=polarity,
            carried=carried_lines(feed),
            strapped=missing_lines(feed),
        )
        for polarity in ([stated] if stated is not None else POLARITIES)
    )


def status_story(context: Context, feed: Feed) -> StatusStory | None:
    """What the lines said so far, None where none was read."""
    carried = carried_lines(feed)
    seen = tuple(
        (state_of_reading(item.reading), str(item.reading.line), item.reading.text)
        for item in lines_seen(context)
        if item.reading.line in carried
    )
    if not seen:
        return None
    wirings = _wirings(feed)
    causes = _averaged(
        [status_causes(seen, w, priors=status_priors()) for w in wirings]
    )
    chance = sum(p for fault, p in causes if fault.kind == "none")
    whole = [state for state in STATES if _all_read(state, seen, carried)]
    wrong = min((_surprises(seen, wiring) for wiring in wirings), key=len)
    return StatusStory(
        seen=seen,
        causes=causes,
        chance=chance,
        make_next=next_status_state(causes, wirings[0], seen_states=whole),
        agrees=not wrong,
        surprises=wrong,
    )


def _surprises(seen: Sequence[Seen], wiring: Wiring) -> tuple[str, ...]:
    """States in which a line said what it should not."""
    return tuple(
        state
        for state, line, said in seen
        if predicted_lines(state, wiring)[line] != said
    )


def _averaged(rankings: Sequence[Ranked]) -> Ranked:
    mixed: dict[StatusFault, float] = {}
    for ranked in rankings:
        for fault, chance in ranked:
            mixed[fault] = mixed.get(fault, 0.0) + chance / len(rankings)
    return tuple(sorted(mixed.items(), key=lambda entry: -entry[1]))


def _all_read(state: str, seen: Sequence[Seen], carried: Sequence[str]) -> bool:
    """Whether every line was read in a state; restored is normal again."""
    same = {"normal", "restored"} if state in {"normal", "restored"} else {state}
    read = {line for made, line, _ in seen if made in same}
    return set(carried) <= read


def assess_status(context: Context, feed: Feed) -> Finding:
    """`feed.status`: lines in each state, lamps, and the lift of a shared return."""
    requirement = REQUIREMENT
    rules = rehearsal_contradictions(context)
    if rules:
        return _contradiction(context, rules)
    unstrapped = _unstrapped(context, feed)
    if unstrapped:
        return _strap(context, unstrapped)
    lift = shared_lift_v(context, feed)
    story = status_story(context, feed)
    if story is not None:
        return _story(context, story, lift)
    missing = missing_lines(feed)
    values = {"lines": missing, "lacks": bool(missing), **_lift_values(context, lift)}
    if not carried_lines(feed):
        return not_measured(
            context,
            requirement,
            "terminal",
            reason="no_lines",
            values=values,
            decide_by=None,
        )
    return not_measured(context, requirement, "terminal", values=values)


def shared_lift_v(context: Context, feed: Feed) -> float | None:
    """Lift of a shared return at peak load and battery cut-off, None without one [V].

    Half of the loop is return; a joint shows only in the whole, so it may lie here.
    """
    if not feed.return_shared or not carried_lines(feed):
        return None
    shown = shown_resistance(context, feed)
    loop = planned_loop(feed)[0]
    ohm = shown.ohm if shown is not None else loop
    amps = float(feed_current_a(feed.supply_cutoff_v, ohm, feed.terminal_peak_w))
    if math.isnan(amps):
        amps = 2.0 * feed.terminal_peak_w / feed.supply_cutoff_v
    return return_lift_v(amps, loop / 2.0 + max(ohm - loop, 0.0))


def _lift_values(context: Context, lift: float | None) -> dict[str, object]:
    threshold = context.profile.number("feed.status.threshold")
    high = lift is not None and lift_state(lift, threshold_v=threshold) == "above"
    return {"lift": lift, "threshold": threshold, "lifted": high}


def _contradiction(context: Context, rules: Sequence[EvidenceRule]) -> Finding:
    first = rules[0]
    name = f"feed.status.seen.{first.id.replace(' ', '_')}"
    return finding(
        context,
        REQUIREMENT,
        "terminal",
        verdict=Verdict.FAIL,
        because=Message(name, {"cause": first.cause}),
        observations=contradiction_readings(context, rules[:1]),
    )


def _unstrapped(context: Context, feed: Feed) -> tuple[Placed, ...]:
    """Alarms on lines that the cord does not carry."""
    carried = carried_lines(feed)
    return tuple(
        item
        for item in lines_seen(context)
        if item.reading.line not in carried and item.reading.text == "alarm"
    )


def _strap(context: Context, items: Sequence[Placed]) -> Finding:
    names = tuple(dict.fromkeys(str(item.reading.line) for item in items))
    return finding(
        context,
        REQUIREMENT,
        "terminal",
        verdict=Verdict.FAIL,
        because=Message("feed.status.fail.strap", {"lines": names}),
        observations=ids(items),
    )


def _story(context: Context, story: StatusStory, lift: float | None) -> Finding:
    lifted = _lift_values(context, lift)
    verdict = _verdict(story)
    name = f"{REQUIREMENT}.{verdict}"
    values = {
        "cause": fault_message(story.causes[0][0]),
        "percent": 100.0 * story.causes[0][1],
        "others": _others(story),
        "next": story.make_next,
        "states": tuple(dict.fromkeys(state for state, _, _ in story.seen)),
        "count": len(story.seen),
        **lifted,
    }
    if verdict is Verdict.PASS and lifted["lifted"]:
        verdict, name = Verdict.UNDECIDED, f"{REQUIREMENT}.undecided.lift"
    elif verdict is not Verdict.PASS and story.agrees:
        name += ".agrees"
    state = "peak" if name.endswith("lift") else _make(story)
    decide_by = None
    if state is not None and verdict is not Verdict.PASS:
        decide_by = Message(f"{REQUIREMENT}.make.{state.replace(' ', '_')}", values)
    return finding(
        context,
        REQUIREMENT,
        "terminal",
        verdict=verdict,
        because=Message(name, values),
        probability=story.chance,
        decide_by=decide_by,
        observations=ids(lines_seen(context)),
    )


def _make(story: StatusStory) -> str | None:
    """State to make next; where none would tell more, the one that surprised again."""
    if story.make_next is not None or story.agrees:
        return story.make_next
    return story.surprises[0] if story.surprises else None


def _verdict(story: StatusStory) -> Verdict:
    if story.agrees:
        told_all = story.make_next is None
        return Verdict.PASS if told_all or story.chance >= SURE else Verdict.UNDECIDED
    return Verdict.FAIL if story.chance < LIKELY else Verdict.UNDECIDED


def fault_message(fault: StatusFault) -> Message:
    """A fault of the lines in words."""
    key = fault.kind.replace(" ", "_")
    return Message(f"feed.status.fault.{key}", {"lines": fault.lines})


def _others(story: StatusStory) -> tuple[Message, ...]:
    return tuple(
        fault_message(fault)
        for fault, chance in story.causes[1:MOST]
        if chance >= 0.05 and fault.kind != "none"
    )
