"""Battery in, power on, outage rehearsal: what to expect, and what contradicts it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from eavelight.power.discharge import Block, Circuit, depth_at_start, terminal_volts
from eavelight.power.load import Service, services_left
from eavelight.power.rate_models import RateModel


@dataclass(frozen=True, slots=True, kw_only=True)
class LampStep:
    """One lamp of one equipment over a part of the power-up sequence."""

    equipment: str
    lamp: str
    state: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceRule:
    """A contradiction: when all facts hold, the cause is named."""

    id: str
    when: tuple[tuple[str, str], ...]
    cause: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutageExpectation:
    """What a short outage should show; volts are NaN when the feed collapses."""

    battery_start_v: float
    battery_end_v: float
    idle_start_v: float
    peak_start_v: float
    idle_end_v: float
    peak_end_v: float
    alarms: tuple[str, ...]
    services: tuple[str, ...]


def expected_lamps(
    steps: Sequence[LampStep], seconds: float
) -> dict[tuple[str, str], tuple[str, ...]]:
    """States that each lamp may show a time after power-on.

    Parameters
    ----------
    steps : sequence of LampStep
        Lamp table of the equipment, steps may overlap [1]
    seconds : float
        Time since power-on [s]

    Returns
    -------
    lamps : dict
        Allowed states by equipment and lamp; lamps without a step are absent [id]

    Examples
    --------
    >>> step = LampStep(equipment="supply", lamp="mains", state="on", from_s=0.0,
    ...                 to_s=60.0)
    >>> expected_lamps([step], 5.0)
    {('supply', 'mains'): ('on',)}
    """
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for step in steps:
        if step.from_s <= seconds <= step.to_s:
            key = (step.equipment, step.lamp)
            found[key] = (*found.get(key, ()), step.state)
    return found


def lamp_surprises(
    steps: Sequence[LampStep], seconds: float, *, seen: Mapping[tuple[str, str], str]
) -> tuple[tuple[str, str], ...]:
    """Lamps that show what the sequence does not allow now.

    Parameters
    ----------
    steps : sequence of LampStep
        Lamp table of the equipment [1]
    seconds : float
        Time since power-on [s]
    seen : mapping
        State by equipment and lamp [id]

    Returns
    -------
    lamps : tuple of tuple
        Equipment and lamp [id]

    Examples
    --------
    >>> step = LampStep(equipment="supply", lamp="mains", state="on", from_s=0.0,
    ...                 to_s=60.0)
    >>> lamp_surprises([step], 5.0, seen={("supply", "mains"): "off"})
    (('supply', 'mains'),)
    """
    allowed = expected_lamps(steps, seconds)
    return tuple(
        key
        for key, state in seen.items()
        if key in allowed and state not in allowed[key]
    )


def contradictions(
    facts: Mapping[str, str], rules: Sequence[EvidenceRule]
) -> tuple[EvidenceRule, ...]:
    """Rules whose facts all hold, those with most facts first.

    Parameters
    ----------
    facts : mapping
        What was seen, by name [id]
    rules : sequence of EvidenceRule
        Table of contradictions [1]

    Returns
    -------
    rules : tuple of EvidenceRule
        Those that apply [1]

    Examples
    --------
    >>> rule = EvidenceRule(id="dead outlet", cause="supply",
    ...                     when=(("supply.output", "on"), ("on battery", "alarm")))
    >>> [r.id for r in contradictions({"supply.output": "on", "on battery": "alarm"},
    ...                               [rule])]
    ['dead outlet']
    """
    holds = [
        rule
        for rule in rules
        if all(facts.get(name) == value for name, value in rule.when)
    ]
    return tuple(sorted(holds, key=lambda rule: -len(rule.when)))


def outage_expectation(
    model: RateModel,
    block: Block,
    circuit: Circuit,
    *,
    idle_w: float,
    minutes: float,
    charge: float = 1.0,
    services: Sequence[Service] = (),
) -> OutageExpectation:
    """What a short outage should show at the terminal.

    The dip in the first minutes of a discharge from full is not modelled: read after
    a minute.

    Parameters
    ----------
    model : RateModel
        How much charge the battery gives at a current [1]
    block : Block
        Its voltage over depth [1]
    circuit : Circuit
        Cable, thresholds and peak load [1]
    idle_w : float
        Load during the rehearsal [W]
    minutes : float
        Length of the rehearsal [min]
    charge : float, optional
        State of charge at its start [1]
    services : sequence of Service, optional
        Services that are shed or stay [1]

    Returns
    -------
    expected : OutageExpectation
        Volts at start and end, alarms, services that stay [mixed]

    Examples
    --------
    >>> from eavelight.power.rate_models import Peukert
    >>> flat = Block(depth=(0.0, 1.0), volts=(13.0, 11.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> feed = Circuit(loop_ohm=1.0, terminal_min_v=10.0, cutoff_v=10.5, peak_w=8.0)
    >>> ideal = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
    >>> outage_expectation(ideal, flat, feed, idle_w=4.5, minutes=2.0).peak_start_v
    12.35
    """
    state = model.begin(charge)
    start = depth_at_start(model, charge)
    current, battery, idle = terminal_volts(block, circuit, depth=start, load_w=idle_w)
    _, _, peak = terminal_volts(block, circuit, depth=start, load_w=circuit.peak_w)
    after = model.depth(model.step(state, current, minutes / 60.0))
    _, battery_end, idle_end = terminal_volts(
        block, circuit, depth=after, load_w=idle_w
    )
    _, _, peak_end = terminal_volts(block, circuit, depth=after, load_w=circuit.peak_w)
    return OutageExpectation(
        battery_start_v=battery,
        battery_end_v=battery_end,
        idle_start_v=idle,
        peak_start_v=peak,
        idle_end_v=idle_end,
        peak_end_v=peak_end,
        alarms=("on battery",),
        services=services_left(services, minutes / 60.0),
    )


def agreement(
    measured: float, predicted: float, *, measured_u: float, predicted_u: float
) -> str:
    """Whether a reading agrees with its prediction.

    Parameters
    ----------
    measured : float
        Reading [V]
    predicted : float
        Prediction; NaN when the feed should have collapsed [V]
    measured_u : float
        Standard uncertainty of the reading [V]
    predicted_u : float
        Standard uncertainty of the prediction [V]

    Returns
    -------
    state : str
        "agrees", "low", "high", or "stays up" where collapse was predicted [id]

    Examples
    --------
    >>> agreement(11.2, 12.3, measured_u=0.03, predicted_u=0.1)
    'low'
    """
    if math.isnan(predicted):
        return "stays up"
    room = 2.0 * (measured_u**2 + predicted_u**2) ** 0.5
    if abs(measured - predicted) <= room:
        return "agrees"
    return "low" if measured < predicted else "high"
