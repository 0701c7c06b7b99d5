"""Status lines between supply and terminal: predicted, and explained from evidence.

A line is a switch to signal return at the supply: closed or open. What the terminal
makes of it depends on its polarity setting. Both may be wrong, and so may the cable.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

LINES = ("on battery", "battery missing", "battery low", "replace battery")
STATES = ("normal", "mains pulled", "battery lead off", "restored")
POLARITIES = ("open is alarm", "closed is alarm")

_CAUSED = {"mains pulled": "on battery", "battery lead off": "battery missing"}
_READING_SLIP = 0.005
_WORTH_BITS = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusFault:
    """One thing wrong with the lines or with the battery.

    `kind` is one of: none, open, shorted, swapped, joined, lost common,
    wrong polarity, no mains, battery missing, battery low, replace battery.
    """

    kind: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """What is known about the lines.

    `carried` are those in the cord, `strapped` those held at return at the terminal or
    switched off there; a line neither carried nor strapped stays open.
    """

    supply_polarity: str
    terminal_polarity: str
    carried: tuple[str, ...] = LINES
    strapped: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for value in (self.supply_polarity, self.terminal_polarity):
            if value not in POLARITIES:
                raise ValueError(f"polarity must be one of {POLARITIES}, got {value!r}")


def _true_alarms(state: str, fault: StatusFault) -> set[str]:
    if state not in STATES:
        raise ValueError(f"state must be one of {STATES}, got {state!r}")
    alarms = {_CAUSED[state]} if state in _CAUSED else set()
    if fault.kind in {"battery missing", "battery low", "replace battery"}:
        alarms.add(fault.kind)
    if fault.kind == "no mains":
        alarms.add("on battery")
    return alarms


def _closed_at_terminal(
    state: str, fault: StatusFault, wiring: Wiring
) -> dict[str, bool]:
    alarms = _true_alarms(state, fault)
    rests_closed = wiring.supply_polarity == "open is alarm"
    closed = {line: (line in alarms) != rests_closed for line in LINES}
    closed |= {line: False for line in LINES if line not in wiring.carried}
    if fault.kind == "swapped":
        first, second = fault.lines
        closed[first], closed[second] = closed[second], closed[first]
    elif fault.kind == "joined":
        closed |= dict.fromkeys(fault.lines, any(closed[line] for line in fault.lines))
    elif fault.kind in {"open", "shorted"}:
        closed |= dict.fromkeys(fault.lines, fault.kind == "shorted")
    elif fault.kind == "lost common":
        closed = dict.fromkeys(LINES, False)
    return closed


def predicted_lines(
    state: str, wiring: Wiring, fault: StatusFault | None = None
) -> dict[str, str]:
    """What the terminal reports on each line in a state.

    Parameters
    ----------
    state : str
        "normal", "mains pulled", "battery lead off" or "restored" [id]
    wiring : Wiring
        Polarities, lines carried and strapped [1]
    fault : StatusFault, optional
        What is wrong; nothing when left out [1]

    Returns
    -------
    lines : dict
        "normal" or "alarm" by line [id]

    Examples
    --------
    >>> wiring = Wiring(supply_polarity="open is alarm",
    ...                 terminal_polarity="open is alarm")
    >>> predicted_lines("mains pulled", wiring)["on battery"]
    'alarm'
    """
    wrong = fault or StatusFault(kind="none")
    closed = _closed_at_terminal(state, wrong, wiring)
    open_alarms = wiring.terminal_polarity == "open is alarm"
    if wrong.kind == "wrong polarity":
        open_alarms = not open_alarms
    return {
        line: "normal"
        if line in wiring.strapped or closed[line] == open_alarms
        else "alarm"
        for line in LINES
    }


def possible_faults(wiring: Wiring) -> tuple[StatusFault, ...]:
    """Every single fault that these lines can have.

    Parameters
    ----------
    wiring : Wiring
        Polarities, lines carried and strapped [1]

    Returns
    -------
    faults : tuple of StatusFault
        Nothing wrong first [1]

    Examples
    --------
    >>> wiring = Wiring(supply_polarity="open is alarm",
    ...                 terminal_polarity="open is alarm", carried=("on battery",))
    >>> len(possible_faults(wiring))
    9
    """
    live = [line for line in wiring.carried if line not in wiring.strapped]
    kinds = (
        "none", "lost common", "wrong polarity", "no mains", "battery missing",
        "battery low", "replace battery",
    )  # fmt: skip
    faults = [StatusFault(kind=kind) for kind in kinds]
    for line in live:
        faults += [
            StatusFault(kind=kind, lines=(line,)) for kind in ("open", "shorted")
        ]
    for pair in combinations(live, 2):
        faults += [StatusFault(kind=kind, lines=pair) for kind in ("swapped", "joined")]
    return tuple(faults)


def status_causes(
    seen: Sequence[tuple[str, str, str]],
    wiring: Wiring,
    *,
    priors: Mapping[str, float],
) -> tuple[tuple[StatusFault, float], ...]:
    """Single faults ranked by what the lines said.

    Parameters
    ----------
    seen : sequence of tuple
        State, line, and "normal" or "alarm" as the terminal reported it [id]
    wiring : Wiring
        Polarities, lines carried and strapped [1]
    priors : mapping
        How often each kind is met; shared among the lines it may hit [1]

    Returns
    -------
    causes : tuple of tuple
        Fault and probability, best first, summing to 1 [1]

    Examples
    --------
    >>> wiring = Wiring(supply_polarity="open is alarm",
    ...                 terminal_polarity="open is alarm")
    >>> kinds = {"none": 0.8, "open": 0.1, "replace battery": 0.1}
    >>> seen = [("normal", line, "alarm") for line in LINES[:1]]
    >>> status_causes(seen, wiring, priors=kinds)[0][0]
    StatusFault(kind='open', lines=('on battery',))
    """
    for _, line, said in seen:
        if line not in LINES or said not in {"normal", "alarm"}:
            raise ValueError(
                f"seen must hold known lines and words, got {line}, {said}"
            )
    faults = [f for f in possible_faults(wiring) if priors.get(f.kind, 0.0) > 0.0]
    kinds = [fault.kind for fault in faults]
    weights = []
    for fault in faults:
        agree = sum(
            predicted_lines(state, wiring, fault)[line] == said
            for state, line, said in seen
        )
        chance = priors[fault.kind] / kinds.count(fault.kind)
        chance *= (1.0 - _READING_SLIP) ** agree
        weights.append(chance * _READING_SLIP ** (len(seen) - agree))
    total = sum(weights)
    ranked = sorted(zip(faults, weights, strict=True), key=lambda entry: -entry[1])
    return tuple((fault, weight / total) for fault, weight in ranked)


def next_status_state(
    causes: Sequence[tuple[StatusFault, float]],
    wiring: Wiring,
    *,
    seen_states: Collection[str] = (),
) -> str | None:
    """State to make next, because it tells the remaining causes apart best.

    Parameters
    ----------
    causes : sequence of tuple
        Faults with probabilities [1]
    wiring : Wiring
        Polarities, lines carried and strapped [1]
    seen_states : collection of str, optional
        States whose lines have all been read [id]

    Returns
    -------
    state : str or None
        None when no state would tell more [id]

    Examples
    --------
    >>> wiring = Wiring(supply_polarity="open is alarm",
    ...                 terminal_polarity="open is alarm")
    >>> both = [(StatusFault(kind="none"), 0.5),
    ...         (StatusFault(kind="shorted", lines=("on battery",)), 0.5)]
    >>> next_status_state(both, wiring, seen_states=["normal"])
    'mains pulled'
    """
    best, worth = None, _WORTH_BITS
    for state in STATES[:3]:
        if state in seen_states:
            continue
        mass: dict[tuple[str, ...], float] = {}
        for fault, probability in causes:
            pattern = tuple(predicted_lines(state, wiring, fault).values())
            mass[pattern] = mass.get(pattern, 0.0) + probability
        bits = -sum(p * math.log2(p) for p in mass.values() if p > 0.0)
        if bits > worth + 1e-12:
            best, worth = state, bits
    return best


def return_lift_v(current_a: float, return_ohm: float) -> float:
    """Voltage between the two ends of a return that power and status share.

    Parameters
    ----------
    current_a : float
        Supply current of the terminal [A]
    return_ohm : float
        Resistance of the return conductor, one way, joints included [Ω]

    Returns
    -------
    lift_v : float
        How far the terminal's return lies from the supply's [V]

    Examples
    --------
    >>> return_lift_v(0.956, 1.59)
    1.52
    """
    return current_a * return_ohm


def lift_state(lift_v: float, *, threshold_v: float, u_v: float = 0.0) -> str:
    """Whether the lift can turn a closed line into an open one.

    Parameters
    ----------
    lift_v : float
        Lift at peak load on battery [V]
    threshold_v : float
        Voltage at which the terminal's input changes its mind [V]
    u_v : float, optional
        Standard uncertainty of the lift [V]

    Returns
    -------
    state : str
        "below", "above" or "undecided" [id]

    Examples
    --------
    >>> lift_state(1.52, threshold_v=1.0)
    'above'
    """
    over = lift_v - threshold_v
    if abs(over) < 1.645 * u_v:
        return "undecided"
    return "above" if over > 0.0 else "below"
