"""Lamps, lines and volts of the outage rehearsal against what they should show."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from eavelight.assess.context import Context
from eavelight.assess.expectation import expectation_of
from eavelight.assess.feed_hours import block_of, circuit_of
from eavelight.assess.feed_resistance import load_of, loaded, on_battery
from eavelight.assess.selection import Placed
from eavelight.model.observation import Reading
from eavelight.model.plan import Battery, Feed
from eavelight.power.discharge import Block, terminal_volts
from eavelight.power.rehearsal import EvidenceRule, agreement, contradictions
from eavelight.standards.cords import evidence_rules

DISTURBED = {"mains pulled", "on battery", "battery lead off", "disconnected"}
LAMP_WORDS = {
    "lit": "on", "green": "on", "steady": "on", "solid": "on", "dark": "off",
    "out": "off", "flashing": "blinking", "flashes": "blinking", "blinks": "blinking",
}  # fmt: skip
# Rest voltages of full cells and the first minutes of load: this uncertain, one cell.
CURVE_U_PER_CELL_V = 0.025
# A level this far below its expectation is no light worth the name.
NO_LIGHT_DB = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OutageVolts:
    """One voltage read on battery, with what a full battery would have shown.

    `state` is agrees, low, high, or stays up where a collapse was predicted.
    """

    at: str
    value: float
    expected: float
    u: float
    load_w: float
    state: str
    charge: tuple[float, float] | None
    readings: tuple[str, ...]


def undisturbed(reading: Reading) -> bool:
    """Whether a reading was taken with mains and battery as they should be."""
    return not DISTURBED & set(reading.state)


def lamp_word(text: str) -> str:
    """What a lamp shows, in the words of the lamp table.

    >>> lamp_word("Flashing"), lamp_word("on")
    ('blinking', 'on')
    """
    word = text.strip().lower()
    return LAMP_WORDS.get(word, word)


def facts_seen(context: Context) -> dict[str, str]:
    """Lamps, lines and light as the table of contradictions names them."""
    facts = {}
    for item in context.current("lamp"):
        reading = item.reading
        if undisturbed(reading):
            facts[f"{reading.at} {reading.lamp}"] = lamp_word(reading.text)
    for item in context.current("status_line", "terminal"):
        if undisturbed(item.reading) and item.reading.line:
            facts[item.reading.line] = item.reading.text
    if any(name.startswith("terminal light") for name in facts):
        plug = level_at_plug(context)
        if plug is not None:
            facts["level at plug"] = plug
    return facts


def level_at_plug(context: Context) -> str | None:
    """What the meter read: good, weak or none; None where nothing was read."""
    expectation = expectation_of(context)
    readings = [
        item.reading
        for item in context.current("level", "terminal")
        if item.reading.wavelength_nm == expectation.down_nm
    ]
    floor = expectation.pon.floor()
    if not readings or floor is None:
        return None
    last = readings[-1]
    if last.below:
        return "none" if last.number <= floor.value else None
    if last.number >= floor.value:
        return "good"
    return "none" if last.number < floor.value - NO_LIGHT_DB else "weak"


def rehearsal_contradictions(context: Context) -> tuple[EvidenceRule, ...]:
    """What was seen together and cannot be without a cause; most facts first."""
    return contradictions(facts_seen(context), evidence_rules())


def contradiction_readings(
    context: Context, rules: Iterable[EvidenceRule]
) -> tuple[str, ...]:
    """Ids of the readings on which contradictions rest."""
    names = {name for rule in rules for name, _ in rule.when}
    found = []
    for reading in context.observations.readings:
        lamp = reading.what == "lamp" and f"{reading.at} {reading.lamp}" in names
        line = reading.what == "status_line" and reading.line in names
        level = (
            reading.what == "level"
            and reading.at == "terminal"
            and "level at plug" in names
        )
        if lamp or line or level:
            found.append(reading.id)
    return tuple(found)


def outage_volts(
    context: Context, feed: Feed, battery: Battery, *, ohm: float, u_ohm: float
) -> tuple[OutageVolts, ...]:
    """Volts read on battery, idle and loaded, against a full battery of the plan."""
    return tuple(
        _outage_volts(context, feed, battery, item, path=(ohm, u_ohm))
        for at in ("supply", "terminal", "battery")
        for item in context.current("volts", at)
        if on_battery(item) and item.reading.number > 0.0
    )


def _outage_volts(
    context: Context,
    feed: Feed,
    battery: Battery,
    item: Placed,
    *,
    path: tuple[float, float],
) -> OutageVolts:
    kind, block = block_of(feed, battery)
    ohm, u_ohm = path
    watts = _watts(item, feed)
    circuit = circuit_of(feed, battery, ohm)
    amps, source, far = terminal_volts(block, circuit, depth=0.0, load_w=watts)
    expected = far if item.reading.at == "terminal" else source
    drop_u = amps * u_ohm if item.reading.at == "terminal" else 0.0
    curve_u = CURVE_U_PER_CELL_V * kind.cells(feed.supply_float_v)
    predicted_u = float(np.hypot(curve_u, 0.0 if math.isnan(drop_u) else drop_u))
    reading_u = context.u_of(item.reading)
    return OutageVolts(
        at=item.reading.at,
        value=item.reading.number,
        expected=expected,
        u=predicted_u,
        load_w=watts,
        state=agreement(
            item.reading.number,
            expected,
            measured_u=reading_u,
            predicted_u=predicted_u,
        ),
        charge=_charge(
            item, block, watts, ohm=ohm, u_v=float(np.hypot(predicted_u, reading_u))
        ),
        readings=(item.reading.id,),
    )


def _watts(item: Placed, feed: Feed) -> float:
    """Load of a reading on battery: stated, else peak when loaded, else idle."""
    if item.reading.load_w is not None:
        return item.reading.load_w
    if "no load" in item.reading.state:
        return 0.0
    return load_of(item, feed)[0] if loaded(item) else feed.terminal_idle_w


def _charge(
    item: Placed, block: Block, watts: float, *, ohm: float, u_v: float
) -> tuple[float, float] | None:
    """State of charge whose loaded voltage this is; None where the curve is flat."""
    volts = item.reading.number
    amps = watts / volts
    behind = volts + amps * block.resistance_ohm
    if item.reading.at == "terminal":
        behind += amps * ohm
    depths = np.linspace(0.0, 1.0, 101)
    curve = np.array([block.emf_v(float(depth)) for depth in depths])
    low = 1.0 - float(np.interp(-(behind - 2.0 * u_v), -curve, depths))
    high = 1.0 - float(np.interp(-(behind + 2.0 * u_v), -curve, depths))
    return None if high - low > 0.5 else (low, high)
