"""A battery emptied through a cable by a constant-power terminal.

The battery gives out when its depth is spent, when its own disconnect opens, or,
often first, when the cable can no longer hold the terminal up.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from eavelight.power.feed import terminal_voltage_v
from eavelight.power.load import Profile, checked_profile
from eavelight.power.rate_models import RateModel, State

_DEPTH_STEP = 0.006
_FIRST_STEP_H = 0.02
_LEAST_SHARE = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Voltage of a battery over its depth of discharge, at one current.

    `depth` rises from 0 to 1, `volts` falls; both are at the posts while
    `reference_a` flows. Other currents shift the curve by `resistance_ohm`.
    """

    depth: tuple[float, ...]
    volts: tuple[float, ...]
    reference_a: float
    resistance_ohm: float

    def __post_init__(self) -> None:
        if len(self.depth) != len(self.volts) or len(self.depth) < 2:
            raise ValueError("depth and volts need two or more points, as many each")
        if list(self.depth) != sorted(set(self.depth)):
            raise ValueError(f"depth must rise, got {self.depth!r}")

    def emf_v(self, depth: float) -> float:
        """Voltage behind the internal resistance."""
        upper = min(max(1, bisect_right(self.depth, depth)), len(self.depth) - 1)
        x0, x1 = self.depth[upper - 1], self.depth[upper]
        y0, y1 = self.volts[upper - 1], self.volts[upper]
        volts = y0 + (depth - x0) * (y1 - y0) / (x1 - x0)
        return volts + self.reference_a * self.resistance_ohm

    def weakened(self, factor: float) -> "Block":
        """The same block cold or old: resistance rises as capacity falls."""
        kept = tuple(
            v + self.reference_a * self.resistance_ohm * (1.0 - 1.0 / factor)
            for v in self.volts
        )
        return Block(
            depth=self.depth,
            volts=kept,
            reference_a=self.reference_a,
            resistance_ohm=self.resistance_ohm / factor,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Everything between the battery and the end of service.

    `peak_w` is the load at which the terminal must still hold at any time, such as
    ringing; the profile is what it takes on the way. `usable_fraction` is where the
    supply locks out on purpose.
    """

    loop_ohm: float
    terminal_min_v: float
    cutoff_v: float
    peak_w: float = 0.0
    usable_fraction: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """One emptying, with what ended it.

    `ended_by` is one of: terminal, collapse, battery cut-off, lock-out, empty,
    does not start, horizon.
    """

    hours: float
    ended_by: str
    energy_wh: float
    drawn_wh: float
    charge_ah: float
    at_h: tuple[float, ...]
    battery_v: tuple[float, ...]
    terminal_v: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Run time as a band over models and inputs; `ended_by` belongs to the low end."""

    low_h: float
    high_h: float
    ended_by: str
    by_model: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True)
class _Moment:
    current: float
    battery: float
    terminal: float
    margins: tuple[float, float, float]


_ENDS = ("terminal", "battery cut-off", "lock-out")


def _moment(block: Block, circuit: Circuit, *, depth: float, watts: float) -> _Moment:
    emf = block.emf_v(depth)
    ohm = circuit.loop_ohm + block.resistance_ohm
    peak = max(watts, circuit.peak_w)
    held = max(circuit.terminal_min_v, math.sqrt(ohm * peak))
    room = emf - (held + ohm * peak / held if held > 0.0 else 0.0)
    inside = emf * emf - 4.0 * ohm * watts
    terminal = (emf + math.sqrt(max(inside, 0.0))) / 2.0
    current = watts / terminal if terminal > 0.0 else 0.0
    battery = emf - current * block.resistance_ohm
    margins = (room, battery - circuit.cutoff_v, circuit.usable_fraction - depth)
    return _Moment(current, battery, terminal, margins)


def _end_name(index: int, circuit: Circuit, *, block: Block, watts: float) -> str:
    if index == 0:
        peak = max(watts, circuit.peak_w)
        ohm = circuit.loop_ohm + block.resistance_ohm
        low = circuit.terminal_min_v
        return "collapse" if math.sqrt(ohm * peak) > low else "terminal"
    if index == 2 and circuit.usable_fraction >= 1.0:
        return "empty"
    return _ENDS[index]


class _Log:
    """What one discharge has given so far."""

    def __init__(self) -> None:
        self.at_h: list[float] = []
        self.battery_v: list[float] = []
        self.terminal_v: list[float] = []
        self.energy_wh = self.drawn_wh = self.charge_ah = 0.0

    def note(self, hours: float, moment: _Moment) -> None:
        self.at_h.append(hours)
        self.battery_v.append(moment.battery)
        self.terminal_v.append(moment.terminal)

    def give(self, hours: float, moment: _Moment, watts: float) -> None:
        self.energy_wh += watts * hours
        self.charge_ah += moment.current * hours
        self.drawn_wh += moment.current * moment.battery * hours

    def closed(self, hours: float, ended_by: str) -> Discharge:
        return Discharge(
            hours=hours,
            ended_by=ended_by,
            energy_wh=self.energy_wh,
            drawn_wh=self.drawn_wh,
            charge_ah=self.charge_ah,
            at_h=tuple(self.at_h),
            battery_v=tuple(self.battery_v),
            terminal_v=tuple(self.terminal_v),
        )


def discharge(
    model: RateModel,
    block: Block,
    circuit: Circuit,
    *,
    profile: Profile,
    charge: float = 1.0,
    horizon_h: float = 240.0,
) -> Discharge:
    """Empty a battery through a cable until service ends.

    Parameters
    ----------
    model : RateModel
        How much charge the battery gives at a current [1]
    block : Block
        Its voltage over depth [1]
    circuit : Circuit
        Cable, thresholds and peak load [1]
    profile : sequence of tuple
        Load over the outage, steps of hour and watts [h, W]
    charge : float, optional
        State of charge when mains fails, 0 to 1 [1]
    horizon_h : float, optional
        Longest outage that is followed [h]

    Returns
    -------
    run : Discharge
        Run time, what ended it, and the voltages on the way [mixed]

    Examples
    --------
    >>> from eavelight.power.rate_models import Peukert
    >>> flat = Block(depth=(0.0, 1.0), volts=(12.0, 12.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> bare = Circuit(loop_ohm=0.0, terminal_min_v=9.0, cutoff_v=10.5)
    >>> ideal = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
    >>> discharge(ideal, flat, bare, profile=[(0.0, 10.0)]).hours
    8.64
    """
    if not 0.0 <= charge <= 1.0:
        raise ValueError(f"charge must lie between 0 and 1, got {charge}")
    steps = checked_profile(profile)
    ends = [hour for hour, _ in steps[1:]] + [horizon_h]
    log, state, now, stride = _Log(), model.begin(charge), 0.0, _FIRST_STEP_H
    for (_, watts), until in zip(steps, ends, strict=True):
        here = _moment(block, circuit, depth=model.depth(state), watts=watts)
        log.note(now, here)
        broken = [i for i, margin in enumerate(here.margins) if margin < 0.0]
        if broken:
            name = _end_name(broken[0], circuit, block=block, watts=watts)
            return log.closed(now, "does not start" if now == 0.0 else name)
        while now < until:
            hours = min(stride, until - now)
            after = model.step(state, here.current, hours)
            there = _moment(block, circuit, depth=model.depth(after), watts=watts)
            part, index = _first_crossing(here, there)
            log.give(hours * part, here, watts)
            now += hours * part
            if index is not None:
                log.note(now, _between(here, there, part))
                return log.closed(
                    now, _end_name(index, circuit, block=block, watts=watts)
                )
            moved = model.depth(after) - model.depth(state)
            state, here = after, there
            log.note(now, here)
            stride = _next_stride(hours, moved)
    return log.closed(now, "horizon")


def _next_stride(hours: float, moved: float) -> float:
    if moved <= 0.0:
        return hours * 2.0
    return hours * min(4.0, max(0.25, _DEPTH_STEP / moved))


def _between(here: _Moment, there: _Moment, part: float) -> _Moment:
    return _Moment(
        here.current,
        here.battery + part * (there.battery - here.battery),
        here.terminal + part * (there.terminal - here.terminal),
        here.margins,
    )


def _first_crossing(here: _Moment, there: _Moment) -> tuple[float, int | None]:
    part, index = 1.0, None
    for number, (before, after) in enumerate(
        zip(here.margins, there.margins, strict=True)
    ):
        if after < 0.0 and before / (before - after) <= part:
            part, index = before / (before - after), number
    return part, index


def runtime_band(
    models: Sequence[RateModel],
    block: Block,
    circuit: Circuit,
    *,
    profile: Profile,
    capacity: tuple[float, float] = (1.0, 1.0),
    charge: tuple[float, float] = (1.0, 1.0),
    load: tuple[float, float] = (1.0, 1.0),
) -> Band:
    """Run time over several models and the spread of the inputs.

    The low end takes every input at its unfavourable end, the high end at the other.

    Parameters
    ----------
    models : sequence of RateModel
        At least one [1]
    block : Block
        Voltage over depth [1]
    circuit : Circuit
        Cable, thresholds and peak load [1]
    profile : sequence of tuple
        Load over the outage, steps of hour and watts [h, W]
    capacity : tuple of float, optional
        Low and high share of the rated capacity: cold, age, tolerance [1]
    charge : tuple of float, optional
        Low and high state of charge when mains fails [1]
    load : tuple of float, optional
        Low and high factor on the load [1]

    Returns
    -------
    band : Band
        Shortest and longest run time, what ends the shortest [h]

    Examples
    --------
    >>> from eavelight.power.rate_models import Peukert
    >>> flat = Block(depth=(0.0, 1.0), volts=(12.0, 12.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> bare = Circuit(loop_ohm=0.0, terminal_min_v=9.0, cutoff_v=10.5)
    >>> ideal = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
    >>> band = runtime_band([ideal], flat, bare, profile=[(0.0, 10.0)],
    ...                     capacity=(0.8, 1.0))
    >>> band.low_h, band.high_h
    (6.912, 8.64)
    """
    if not models:
        raise ValueError("models must hold at least one model")
    worst: list[Discharge] = []
    best: list[Discharge] = []
    for end, other, results in ((0, 1, worst), (1, 0, best)):
        share = max(capacity[end], _LEAST_SHARE)
        weak = block.weakened(share)
        steps = [(hour, watts * load[other]) for hour, watts in profile]
        results.extend(
            discharge(
                model.scaled(share),
                weak,
                circuit,
                profile=steps,
                charge=charge[end],
            )
            for model in models
        )
        if (capacity[0], charge[0], load[0]) == (capacity[1], charge[1], load[1]):
            best = worst
            break
    shortest = min(worst, key=lambda run: run.hours)
    return Band(
        low_h=shortest.hours,
        high_h=max(run.hours for run in best),
        ended_by=shortest.ended_by,
        by_model=tuple(
            (model.name, low.hours, high.hours)
            for model, low, high in zip(models, worst, best, strict=True)
        ),
    )


def points_from_power_table(
    rows: Sequence[tuple[float, float, float]], block: Block, *, end_v: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """A maker's constant-power table as charge over duration.

    Watts are taken at the end voltage, linear between the table's own end voltages
    and never beyond them; durations and charge are stretched to the whole curve.

    Parameters
    ----------
    rows : sequence of tuple
        Duration, watts of the block, end voltage of the block [h, W, V]
    block : Block
        Voltage over depth [1]
    end_v : float
        End voltage that the service allows [V]

    Returns
    -------
    points : tuple of tuple
        Durations, rising, and the charge for each [h, Ah]

    Examples
    --------
    >>> flat = Block(depth=(0.0, 1.0), volts=(12.0, 12.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> points_from_power_table([(10.0, 8.0, 10.5), (20.0, 4.3, 10.5)], flat,
    ...                         end_v=10.5)
    ((10.0, 20.0), (6.67, 7.17))
    """
    hours, charges = [], []
    for duration in sorted({row[0] for row in rows}):
        at = sorted((end, watts) for h, watts, end in rows if h == duration)
        ends = [end for end, _ in at]
        watts = float(np.interp(end_v, ends, [w for _, w in at]))
        low = min(max(end_v, ends[0]), ends[-1])
        amps, depth = _current_and_depth(block, watts, low)
        hours.append(duration / depth)
        charges.append(amps * duration / depth)
    return tuple(hours), tuple(charges)


def _current_and_depth(block: Block, watts: float, end_v: float) -> tuple[float, float]:
    depth = np.linspace(0.0, 1.0, 201)
    emf = np.array([block.emf_v(float(x)) for x in depth])
    amps = watts / float(emf.mean())
    reached = 1.0
    for _ in range(3):
        volts = emf - amps * block.resistance_ohm
        above = volts >= end_v
        reached = float(depth[above][-1]) if above.any() else 1.0
        amps = watts / float(volts[above].mean() if above.any() else volts.mean())
    return amps, max(reached, float(depth[1]))


def depth_at_start(model: RateModel, charge: float) -> float:
    """Place on the voltage curve at which a partly charged battery starts.

    Parameters
    ----------
    model : RateModel
        How much charge the battery gives at a current [1]
    charge : float
        State of charge, 0 to 1 [1]

    Returns
    -------
    depth : float
        Depth of discharge on the block's curve [1]

    Examples
    --------
    >>> from eavelight.power.rate_models import Peukert
    >>> ideal = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
    >>> depth_at_start(ideal, 0.75)
    0.25
    """
    state: State = model.begin(charge)
    return model.depth(state)


def terminal_volts(
    block: Block, circuit: Circuit, *, depth: float, load_w: float
) -> tuple[float, float, float]:
    """Operating point at a depth of discharge.

    Parameters
    ----------
    block : Block
        Voltage over depth [1]
    circuit : Circuit
        Cable, thresholds and peak load [1]
    depth : float
        Depth of discharge on the block's curve [1]
    load_w : float
        Load [W]

    Returns
    -------
    point : tuple of float
        Current, battery voltage, terminal voltage; NaN when it collapses [A, V, V]

    Examples
    --------
    >>> flat = Block(depth=(0.0, 1.0), volts=(12.0, 12.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> cable = Circuit(loop_ohm=1.0, terminal_min_v=9.0, cutoff_v=10.5)
    >>> terminal_volts(flat, cable, depth=0.5, load_w=10.0)
    (0.901, 12.0, 11.1)
    """
    emf = block.emf_v(depth)
    ohm = circuit.loop_ohm + block.resistance_ohm
    terminal = float(terminal_voltage_v(emf, ohm, load_w))
    current = load_w / terminal
    return current, emf - current * block.resistance_ohm, terminal
