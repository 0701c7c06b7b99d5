"""The copper from the supply to the terminal: volts, margins, lengths, limits."""

import math
from dataclasses import dataclass

from eavelight.app.planning.numbers import finite
from eavelight.assess.feed_facts import place_in_use
from eavelight.assess.feed_resistance import planned_loop
from eavelight.model.plan import Feed, Plan
from eavelight.power.conductor import loop_at_temperature_ohm
from eavelight.power.feed import (
    collapse_voltage_v,
    feed_current_a,
    maximum_length_m,
    maximum_loop_ohm,
    minimum_supply_v,
    supply_margin_u_v,
    supply_power_w,
    terminal_voltage_v,
)
from eavelight.power.limits import limit_notes
from eavelight.power.materials import MATERIALS
from eavelight.power.sizing import thinnest_gauge
from eavelight.power.status_lines import return_lift_v
from eavelight.standards.clauses import clause
from eavelight.standards.cords import source_rows

GAUGES = (12, 14, 16, 18, 20, 22, 24)
"""Gauges that vans carry; the answer is the thinnest of them that holds."""
Volts = dict[str, dict[str, float | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hotter:
    """The same cable with warmer copper, at cut-off and peak load."""

    conductor_c: float
    loop_ohm: float
    cutoff_peak_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPlan:
    """Volts are None where the feed collapses.

    `margin_v` is what the supply has at cut-off beyond the least it needs, with the
    uncertainty of the cable; it is the number to decide on.
    """

    feed: Feed
    loop_ohm: float
    loop_u_ohm: float
    volts: Volts
    collapse_v: float
    min_supply_v: float
    max_length_m: float
    margin_v: float
    margin_u_v: float
    supply_power_w: float | None
    thinnest_awg: int | None
    hotter: Hotter | None
    return_lift_v: float | None
    notes: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether the terminal stays up at cut-off and peak load."""
        return self.margin_v >= 0.0


def plan_feed(plan: Plan) -> FeedPlan | None:
    """The feed as planned, None where none is planned."""
    feed = plan.feed
    if feed is None:
        return None
    loop, u = planned_loop(feed)
    peak, low = feed.terminal_peak_w, feed.terminal_min_v
    least = float(minimum_supply_v(loop, peak, low))
    power = float(supply_power_w(feed.supply_float_v, loop, peak))
    return FeedPlan(
        feed=feed,
        loop_ohm=loop,
        loop_u_ohm=u,
        volts=_volts(feed, loop),
        collapse_v=float(collapse_voltage_v(loop, peak)),
        min_supply_v=least,
        max_length_m=longest_m(feed, loop),
        margin_v=feed.supply_cutoff_v - least,
        margin_u_v=float(supply_margin_u_v(loop, peak, low, loop_u_ohm=u)),
        supply_power_w=finite(power),
        thinnest_awg=_thinnest(feed),
        hotter=_hotter(plan, feed, loop),
        return_lift_v=_lift(feed, loop),
        notes=limit_notes(
            feed.supply_float_v,
            power,
            rows=source_rows(),
            wet_contact_v=clause("nec_9_11.wet_contact").value,
            supply_limit_w=feed.supply_limit_w,
        ),
    )


def _volts(feed: Feed, loop: float) -> Volts:
    return {
        state: {
            name: finite(float(terminal_voltage_v(supply, loop, watts)))
            for name, watts in (
                ("idle", feed.terminal_idle_w),
                ("peak", feed.terminal_peak_w),
            )
        }
        for state, supply in (
            ("float", feed.supply_float_v),
            ("cutoff", feed.supply_cutoff_v),
        )
    }


def longest_m(feed: Feed, loop_ohm: float) -> float:
    """Longest cable of this kind that holds at cut-off and peak load [m]."""
    return float(
        maximum_length_m(
            feed.supply_cutoff_v,
            feed.terminal_peak_w,
            feed.terminal_min_v,
            loop_ohm_per_km=1000.0 * loop_ohm / feed.length_m,
        )
    )


def _thinnest(feed: Feed) -> int | None:
    allowed = float(
        maximum_loop_ohm(
            feed.supply_cutoff_v, feed.terminal_peak_w, feed.terminal_min_v
        )
    )
    return thinnest_gauge(
        GAUGES,
        feed.length_m,
        maximum_loop_ohm=allowed,
        temperature_c=feed.conductor_temperature_c,
        material=MATERIALS[feed.material],
        stranded=feed.stranded,
        pairs=feed.pairs,
    )


def _hotter(plan: Plan, feed: Feed, loop: float) -> Hotter | None:
    """Copper at the hottest temperature that the plan states along it."""
    place = place_in_use(plan)
    known = [plan.site.high_c, place.high_c if place is not None else None]
    stated = [value for value in known if value is not None]
    if not stated or max(stated) <= feed.conductor_temperature_c:
        return None
    hot = max(stated)
    ohm = float(
        loop_at_temperature_ohm(
            loop, feed.conductor_temperature_c, hot, material=MATERIALS[feed.material]
        )
    )
    volts = float(terminal_voltage_v(feed.supply_cutoff_v, ohm, feed.terminal_peak_w))
    return Hotter(conductor_c=hot, loop_ohm=ohm, cutoff_peak_v=finite(volts))


def _lift(feed: Feed, loop: float) -> float | None:
    """Volts between both ends of a shared return, at cut-off and peak load."""
    if not feed.return_shared or not feed.status_lines:
        return None
    amps = float(feed_current_a(feed.supply_cutoff_v, loop, feed.terminal_peak_w))
    if math.isnan(amps):
        return None
    return return_lift_v(amps, loop / 2.0)
