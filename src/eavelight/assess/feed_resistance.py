"""What the readings say about the resistance between supply and terminal.

A loop reading sees the cable with its far end shorted; a loaded reading sees cable
and joints under current. Both are weighed by their uncertainty; where they disagree
the larger counts, because a joint that only shows under load is a joint.
"""

from dataclasses import dataclass

import numpy as np

from eavelight.assess.context import Context
from eavelight.assess.selection import BATTERY_STATES, Placed
from eavelight.model.plan import Feed
from eavelight.power.conductor import (
    awg_area_mm2,
    loop_resistance_ohm,
    loop_resistance_u_ohm,
)
from eavelight.power.feed import path_resistance_ohm, path_resistance_u_ohm
from eavelight.power.materials import MATERIALS

# Two estimates disagree when they are further apart than twice their joint spread.
DISAGREE = 2.0
# A float voltage that nobody read is known to about this much, rectangular.
FLOAT_U_V = 0.2 / np.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """One value of the resistance, with the readings it rests on."""

    ohm: float
    u_ohm: float
    kind: str
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathResistance:
    """The resistance that counts, and whether its sources disagree."""

    ohm: float
    u_ohm: float
    kind: str
    readings: tuple[str, ...]
    disagree: bool
    estimates: tuple[Estimate, ...]

    @property
    def deciding(self) -> tuple[str, ...]:
        """The readings of the largest estimate where they disagree, else all."""
        if not self.disagree:
            return self.readings
        return max(self.estimates, key=lambda item: item.ohm).readings


def planned_loop(feed: Feed) -> tuple[float, float]:
    """Loop resistance of the plan with its standard uncertainty [Ω]."""
    area = feed.area_mm2
    if area is None:
        area = float(awg_area_mm2(feed.awg if feed.awg is not None else 0))
    material = MATERIALS[feed.material]
    loop = float(
        loop_resistance_ohm(
            feed.length_m,
            area,
            temperature_c=feed.conductor_temperature_c,
            material=material,
            stranded=feed.stranded,
            twisted=feed.twisted,
            pairs=feed.pairs,
        )
    )
    u = loop_resistance_u_ohm(loop, length_m=feed.length_m, material=material)
    return loop, float(u)


def on_battery(item: Placed) -> bool:
    """Whether a reading was taken while the supply ran on its battery."""
    return bool(BATTERY_STATES & set(item.reading.state))


def loaded(item: Placed) -> bool:
    """Whether a voltage was read under load."""
    reading = item.reading
    if "no load" in reading.state or "disconnected" in reading.state:
        return False
    return "loaded" in reading.state or bool(reading.load_w)


def shown_resistance(context: Context, feed: Feed) -> PathResistance | None:
    """The resistance shown by loop and loaded readings, None where neither exists."""
    estimates = [*_from_loops(context), *_from_loads(context, feed)]
    if not estimates:
        return None
    weights = np.array([1.0 / item.u_ohm**2 for item in estimates])
    values = np.array([item.ohm for item in estimates])
    mean = float(np.sum(weights * values) / weights.sum())
    u = float(1.0 / np.sqrt(weights.sum()))
    low = min(estimates, key=lambda item: item.ohm)
    high = max(estimates, key=lambda item: item.ohm)
    apart = high.ohm - low.ohm
    disagree = apart > DISAGREE * float(np.hypot(low.u_ohm, high.u_ohm))
    readings = tuple(dict.fromkeys(i for item in estimates for i in item.readings))
    kinds = sorted({item.kind for item in estimates})
    return PathResistance(
        ohm=max(high.ohm if disagree else mean, 0.0),
        u_ohm=high.u_ohm if disagree else u,
        kind=high.kind if disagree else " and ".join(kinds),
        readings=readings,
        disagree=disagree,
        estimates=tuple(estimates),
    )


def _from_loops(context: Context) -> list[Estimate]:
    return [
        Estimate(
            ohm=item.reading.number,
            u_ohm=context.u_of(item.reading),
            kind="loop",
            readings=(item.reading.id,),
        )
        for item in power_loops(context)
    ]


def power_loops(context: Context) -> tuple[Placed, ...]:
    """Loop readings of the power pair; those of a status line name their line."""
    return tuple(
        item for item in context.current("loop_resistance") if item.reading.line is None
    )


def _from_loads(context: Context, feed: Feed) -> list[Estimate]:
    found = []
    for item in context.current("volts", "terminal"):
        if not loaded(item) or item.reading.number <= 0:
            continue
        source = source_volts(context, feed, battery=on_battery(item))
        if source is None or source[0] <= 0:
            continue
        supply_v, supply_u, supply_ids = source
        load, load_u = load_of(item, feed)
        if load <= 0:
            continue
        u = path_resistance_u_ohm(
            supply_v,
            item.reading.number,
            load,
            supply_u_v=supply_u,
            terminal_u_v=context.u_of(item.reading),
            load_u_w=load_u,
        )
        found.append(
            Estimate(
                ohm=float(path_resistance_ohm(supply_v, item.reading.number, load)),
                u_ohm=max(float(u), 1e-6),
                kind="load",
                readings=(*supply_ids, item.reading.id),
            )
        )
    return found


def load_of(item: Placed, feed: Feed) -> tuple[float, float]:
    """Load at a reading with its uncertainty; unstated, between idle and peak [W]."""
    if item.reading.load_w is not None:
        return item.reading.load_w, 0.0
    low, high = feed.terminal_idle_w, feed.terminal_peak_w
    return (low + high) / 2.0, (high - low) / np.sqrt(12.0)


def source_volts(
    context: Context, feed: Feed, *, battery: bool
) -> tuple[float, float, tuple[str, ...]] | None:
    """Volts at the head of the cable in one state, best reading first."""
    supply = [
        item
        for item in context.current("volts", "supply")
        if on_battery(item) is battery
    ]
    supply.sort(key=loaded)
    unloaded = [
        item
        for item in context.current("volts", "terminal")
        if on_battery(item) is battery and "no load" in item.reading.state
    ]
    for item in (*reversed(supply), *reversed(unloaded)):
        reading = item.reading
        return reading.number, context.u_of(reading), (reading.id,)
    if battery:
        return None
    return feed.supply_float_v, float(FLOAT_U_V), ()
