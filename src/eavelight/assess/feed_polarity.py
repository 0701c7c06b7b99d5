"""The pair before plugging in: sign, conductors, insulation, foreign voltage.

One finding at the place of the worst; where several things are wrong, all are told.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import reduce

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import planned_loop, power_loops
from eavelight.assess.judge import finding, ids, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Feed
from eavelight.power.conductor import awg_area_mm2, loop_resistance_ohm
from eavelight.power.conductor_map import (
    LoopCause,
    PairLoop,
    foreign_voltage_state,
    loop_causes,
)
from eavelight.power.materials import MATERIALS
from eavelight.standards.conformity import decide
from eavelight.standards.cords import loop_priors, thin_gauge

REQUIREMENT = "feed.polarity"
ORDER = (Verdict.FAIL, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.PASS)
POWER = "power"
MISPLACED = {"swapped", "conductor open", "pair open"}
# Wire is laid, not drawn: length as run and temperature together.
AS_LAID = 0.03
# Thin conductors whose gauge nobody states: about two gauges either way.
THIN_U = 0.25
# A loop this many times the planned one, and this large, is no loop.
OPEN_TIMES, OPEN_OHM = 50.0, 500.0
DEAD = 3.0
# It fails where the loop is surely not as planned and most likely misplaced.
DOUBT, LIKELY = 0.05, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One thing that was looked at, at one place."""

    verdict: Verdict
    because: Message
    observations: tuple[str, ...] = ()
    broken_by: tuple[str, ...] = ()
    measured: Quantity | None = None
    expected: Quantity | None = None
    limit: Limit | None = None
    probability: float | None = None
    decide_by: Message | None = field(default=None)


def assess_polarity(context: Context, feed: Feed) -> Finding:
    """The worst of all that was looked at; a missing sign is missing."""
    requirement = REQUIREMENT
    parts = _parts(context, feed)
    signs = _signs(context)
    settled = all(part.verdict is Verdict.PASS for _, part in parts)
    if not signs and settled:
        return not_measured(context, requirement, "terminal")
    return _joined(context, [*signs, *parts])


def pair_dangers(context: Context, feed: Feed) -> list[tuple[str, Message, Verdict]]:
    """What on the pair can hurt somebody: place, sentence and verdict of each.

    Foreign voltage counts where it cannot be told yet; a wrong sign or a conductor in
    another's place only where it is sure.
    """
    parts = [
        *(
            (p, part)
            for p, part in _foreign(context)
            if part.verdict is not Verdict.PASS
        ),
        *((p, part) for p, part in _signs(context) if part.verdict is Verdict.FAIL),
        *((p, part) for p, part in _conductors(context, feed) if _swapped(part)),
    ]
    return [(place, part.because, part.verdict) for place, part in parts]


def _swapped(part: _Part) -> bool:
    return part.verdict is Verdict.FAIL and part.because.id.endswith(".swapped")


def _parts(context: Context, feed: Feed) -> list[tuple[str, _Part]]:
    return [
        *_conductors(context, feed),
        *_insulation(context),
        *_foreign(context),
    ]


def _joined(context: Context, parts: Sequence[tuple[str, _Part]]) -> Finding:
    """The worst part at its place, with every sentence of the same verdict."""
    worst = min((part.verdict for _, part in parts), key=ORDER.index)
    told = [(place, part) for place, part in parts if part.verdict is worst]
    because = reduce(
        lambda first, second: Message(
            "feed.polarity.both", {"first": first, "second": second}
        ),
        [part.because for _, part in told],
    )
    place, lead = told[0]
    return finding(
        context,
        REQUIREMENT,
        place,
        verdict=worst,
        because=because,
        measured=lead.measured,
        expected=lead.expected,
        limit=lead.limit,
        probability=lead.probability,
        decide_by=next((part.decide_by for _, part in told if part.decide_by), None),
        observations=tuple(
            dict.fromkeys(name for _, part in parts for name in part.observations)
        ),
        broken_by=tuple(
            dict.fromkeys(
                name for _, part in told for name in part.broken_by or part.observations
            )
        ),
    )


def _signs(context: Context) -> list[tuple[str, _Part]]:
    """Negative is reversed: a finding and not a bad number."""
    last: dict[str, Placed] = {}
    for place in ("terminal", "supply"):
        for item in context.selection.all_of("volts", place):
            if abs(item.reading.number) > DEAD * context.u_of(item.reading):
                last[place] = item
    wrong = [item for item in last.values() if item.reading.number < 0]
    shown = wrong or list(last.values())[:1]
    return [(item.reading.at, _sign(context, item, last.values())) for item in shown]


def _sign(context: Context, item: Placed, everything: Iterable[Placed]) -> _Part:
    reading = item.reading
    verdict = Verdict.FAIL if reading.number < 0 else Verdict.PASS
    values = {"value": reading.number, "subject": reading.at}
    return _Part(
        verdict=verdict,
        because=Message(f"{REQUIREMENT}.{verdict}", values),
        measured=Quantity(value=reading.number, unit="V", u=context.u_of(reading)),
        observations=ids(everything),
        broken_by=ids([item]),
    )


def planned_pairs(feed: Feed) -> list[PairLoop]:
    """Predicted loop of the power pair and of each status line with its return."""
    loop, u = planned_loop(feed)
    spread = float((u**2 + (AS_LAID * loop) ** 2) ** 0.5)
    power = PairLoop(
        name=POWER, loop_ohm=loop, loop_u_ohm=spread, per_leg=max(feed.pairs, 1)
    )
    gauge = thin_gauge(feed.construction) if feed.construction else None
    if gauge is None:
        single = loop * feed.pairs
        return [power, *_lines(single, AS_LAID * single + u * feed.pairs)]
    thin = float(
        loop_resistance_ohm(
            feed.length_m,
            float(awg_area_mm2(gauge)),
            temperature_c=feed.conductor_temperature_c,
            material=MATERIALS[feed.material],
        )
    )
    return [power, *_lines(thin, THIN_U * thin)]


def _lines(loop_ohm: float, u_ohm: float) -> list[PairLoop]:
    names = ("on battery", "battery missing", "battery low", "replace battery")
    return [PairLoop(name=name, loop_ohm=loop_ohm, loop_u_ohm=u_ohm) for name in names]


def ranked_loops(context: Context, feed: Feed) -> tuple[LoopCause, ...]:
    """Explanations of the measured loops, best first; empty where none was read."""
    readings = _last_loops(context)
    if not readings:
        return ()
    planned = [pair for pair in planned_pairs(feed) if pair.name in readings]
    loops = {pair.name: pair.loop_ohm for pair in planned}
    values = {
        name: _opened(item.reading.number, loops[name])
        for name, item in readings.items()
    }
    spread = {name: context.u_of(item.reading) for name, item in readings.items()}
    return loop_causes(planned, values, measured_u_ohm=spread, priors=loop_priors())


def _last_loops(context: Context) -> dict[str, Placed]:
    found = {item.reading.line or POWER: item for item in power_loops(context)}
    for item in context.current("loop_resistance"):
        if item.reading.line is not None:
            found[item.reading.line] = item
    return found


def _opened(ohm: float, planned: float) -> float:
    return float("inf") if is_open(ohm, planned) else ohm


def is_open(ohm: float, planned: float) -> bool:
    """Whether a loop reading means that there is no loop."""
    return ohm > OPEN_OHM and ohm > OPEN_TIMES * planned


def _conductors(context: Context, feed: Feed) -> list[tuple[str, _Part]]:
    """Each loop against its prediction: who is swapped, who is open."""
    causes = ranked_loops(context, feed)
    readings = _last_loops(context)
    if not causes:
        return []
    observations = ids(readings.values())
    loops = {pair.name: pair.loop_ohm for pair in planned_pairs(feed)}
    no_loop = [
        name
        for name, item in readings.items()
        if is_open(item.reading.number, loops[name])
    ]
    if no_loop:
        values: dict[str, object] = {"pairs": tuple(no_loop)}
        because = Message(f"{REQUIREMENT}.fail.open", values)
        part = _Part(
            verdict=Verdict.FAIL,
            because=because,
            probability=0.0,
            observations=observations,
            broken_by=ids(readings[name] for name in no_loop),
        )
        return [("supply", part)]
    return [("supply", _ranked(causes, readings, loops, observations))]


def _ranked(
    causes: Sequence[LoopCause],
    readings: dict[str, Placed],
    loops: dict[str, float],
    observations: tuple[str, ...],
) -> _Part:
    wrong = sum(item.probability for item in causes if item.cause in MISPLACED)
    planned = sum(item.probability for item in causes if item.cause == "as planned")
    verdict = Verdict.PASS if wrong < DOUBT else Verdict.UNDECIDED
    if wrong > LIKELY and planned < DOUBT:
        verdict = Verdict.FAIL
    worst = next((item for item in causes if item.cause in MISPLACED), None)
    misplaced = worst.pairs if worst is not None and wrong >= DOUBT else ()
    lead = misplaced[0] if misplaced else POWER
    lead = lead if lead in readings else next(iter(readings))
    values: dict[str, object] = {
        "value": readings[lead].reading.number,
        "planned": loops[lead],
        "pairs": worst.pairs if worst is not None else (),
        "percent": 100.0 * wrong,
        "count": len(readings),
    }
    name = f"{REQUIREMENT}.{verdict}.{'loops_off' if planned < DOUBT else 'loops'}"
    if verdict is not Verdict.PASS and worst is not None:
        name = f"{REQUIREMENT}.{verdict}.{worst.cause.replace(' ', '_')}"
    decide_by = Message(f"{REQUIREMENT}.decide_by.loops", values)
    return _Part(
        verdict=verdict,
        because=Message(name, values),
        measured=Quantity(value=readings[lead].reading.number, unit="ohm"),
        expected=Quantity(value=loops[lead], unit="ohm"),
        probability=1.0 - wrong,
        decide_by=decide_by if verdict is Verdict.UNDECIDED else None,
        observations=observations,
        broken_by=ids(readings[name] for name in misplaced if name in readings),
    )


def _insulation(context: Context) -> list[tuple[str, _Part]]:
    last = context.selection.latest("insulation")
    if last is None:
        return []
    clause = context.profile.limit("feed.polarity.insulation")
    reading, u = last.reading, context.u_of(last.reading)
    decision = decide(
        reading.number, u, low=clause.value, factor=context.profile.guard_factor
    )
    verdict = Verdict(decision.verdict)
    values = {"value": reading.number, "low": clause.value}
    part = _Part(
        verdict=verdict,
        because=Message(f"{REQUIREMENT}.{verdict}.insulation", values),
        measured=Quantity(value=reading.number, unit="Mohm", u=u),
        limit=limit_of(clause),
        probability=decision.probability,
        decide_by=(
            Message("decide.smaller_uncertainty", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=ids([last]),
    )
    return [(reading.at, part)]


def _foreign(context: Context) -> list[tuple[str, _Part]]:
    """Any voltage that is not the supply's own: stop before touching the pair."""
    clause = context.profile.limit("feed.foreign")
    found = []
    for item in context.current("foreign_volts"):
        reading, u = item.reading, context.u_of(item.reading)
        kind = reading.kind or "dc"
        state = foreign_voltage_state(
            reading.number,
            kind,
            u_v=u,
            limit_ac_v=clause.value,
            limit_dc_v=clause.value,
        )
        values = {"value": abs(reading.number), "kind": kind, "high": clause.value}
        verdict = FOREIGN[state]
        part = _Part(
            verdict=verdict,
            because=Message(f"{REQUIREMENT}.{verdict}.foreign", values),
            measured=Quantity(value=reading.number, unit="V", u=u),
            limit=limit_of(clause, low=-clause.value, high=clause.value),
            decide_by=(
                Message("decide.smaller_uncertainty", values)
                if verdict is Verdict.UNDECIDED
                else None
            ),
            observations=ids([item]),
        )
        found.append((reading.at, part))
    return found


FOREIGN = {
    "stop": Verdict.FAIL,
    "undecided": Verdict.UNDECIDED,
    "clear": Verdict.PASS,
}
