"""Where to hang the supply: the candidate places of the plan, best first."""

from dataclasses import dataclass

from eavelight.app.planning.battery import BatteryPlan
from eavelight.app.planning.feed import FeedPlan
from eavelight.assess.feed_hours import NEAR_H, block_of, load_profile, models_of
from eavelight.model.plan import Plan
from eavelight.power.places import Place, PlaceResult, Supply, compare_places

REFUSED = (
    "splash",
    "floods",
    "vehicles",
    "switched outlet",
    "sealed space",
    "fuel appliance",
)
"""Hazards that rule a place out; sun on it is a caution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacesPlan:
    """Places best first, the hours asked for, and the one in use."""

    results: tuple[PlaceResult, ...]
    target_h: float
    in_use: str | None


def plan_places(
    plan: Plan, feed: FeedPlan | None, battery: BatteryPlan | None
) -> PlacesPlan | None:
    """The comparison, None without places, feed or battery."""
    if feed is None or battery is None or not plan.supply_place:
        return None
    target = battery.battery.target_hours or NEAR_H
    places = [
        Place(
            name=item.name,
            length_m=item.length_m,
            low_c=item.low_c,
            high_c=max(item.high_c, item.low_c),
            hazards=item.hazards,
        )
        for item in plan.supply_place
    ]
    return PlacesPlan(
        results=compare_places(places, _supply(feed, battery), target_h=target),
        target_h=target,
        in_use=feed.feed.place,
    )


def _supply(feed: FeedPlan, battery: BatteryPlan) -> Supply:
    """What is the same at every place."""
    given, kind = feed.feed, battery.kind
    _, block = block_of(given, battery.battery)
    return Supply(
        models=models_of(given, battery.battery),
        block=block,
        profile=load_profile(given),
        idle_w=given.terminal_idle_w,
        peak_w=given.terminal_peak_w,
        terminal_min_v=given.terminal_min_v,
        cutoff_v=given.supply_cutoff_v,
        loop_ohm_per_km=1000.0 * feed.loop_ohm / given.length_m,
        temperature=kind.temperature,
        reference_years=kind.life_years,
        halving_k=kind.halving_k,
        reference_c=kind.life_reference_c,
        charge_window_c=kind.charge_window_c,
        empty_freezes_c=kind.empty_freezes_c,
        refused=REFUSED,
        usable_fraction=battery.battery.usable_fraction,
        old_fraction=kind.end_fraction,
        capacity_spread=kind.capacity_spread,
    )
