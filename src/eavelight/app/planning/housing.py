"""Heat and cold in the box, the rating they are held against, walls, cable entries.

Nothing here is imported before a plan has a `[housing]`: the sun needs heavy parts.
The box, the place and the outside air come from `assess.wall`, as for a verdict.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from eavelight.assess.wall import (
    SiteAir,
    Slack,
    cold_night_of,
    entry_of,
    site_air,
    slack_of,
    study_of,
)
from eavelight.climate.entry import EntryCheck, check_entry
from eavelight.climate.extremes import Extremes
from eavelight.climate.house import House
from eavelight.climate.housing import (
    MODEL_HALF_WIDTH_K,
    ColdNight,
    Held,
    held_against,
)
from eavelight.errors import EvidenceError, MissingFeatureError
from eavelight.model.plan import Housing, Plan
from eavelight.standards.profiles import Profile


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HousingPlan:
    """The box as planned; `house` is None where sun or place are not known."""

    housing: Housing
    extremes: Extremes
    half_width_k: float
    cold: ColdNight
    cold_held: Held | None
    hot_held: Held | None
    house: House | None
    without_sun: str | None


def plan_housing(plan: Plan, profile: Profile) -> HousingPlan | None:
    """Heat and cold, None where no housing is planned."""
    housing = plan.housing
    if housing is None:
        return None
    air = site_air(plan.site, profile)
    try:
        cold = cold_night_of(housing, low_c=air.low.value_c)
        house, without_sun = _house(plan, profile)
    except ValueError as error:
        raise EvidenceError(
            "visit.toml",
            "housing",
            "a box that can shed its internal_w",
            str(error),
            advice="check width_mm, height_mm, depth_mm and internal_w",
        ) from None
    return HousingPlan(
        housing=housing,
        extremes=air.extremes,
        half_width_k=MODEL_HALF_WIDTH_K,
        cold=cold,
        cold_held=_cold_held(housing, cold, air),
        hot_held=_hot_held(housing, house, air),
        house=house,
        without_sun=without_sun,
    )


def _house(plan: Plan, profile: Profile) -> tuple[House | None, str | None]:
    try:
        house = study_of(plan, profile)
    except MissingFeatureError as error:
        return None, str(error)
    return house, None if house is not None else "place"


def _cold_held(housing: Housing, cold: ColdNight, air: SiteAir) -> Held | None:
    """After a power cut: the equipment starts without its own heat."""
    if housing.rated_low_c is None or housing.rating_refers_to is None:
        return None
    return held_against(
        housing.rated_low_c,
        refers_to=housing.rating_refers_to,
        outside_c=air.low.value_c,
        air_c=cold.unpowered_air_c,
        power_w=0.0,
        hot=False,
        outside_u_k=air.low.u_k,
    )


def _hot_held(housing: Housing, house: House | None, air: SiteAir) -> Held | None:
    refers_to = housing.rating_refers_to
    if housing.rated_high_c is None or refers_to is None:
        return None
    if house is None and refers_to != "outside air":
        return None
    return held_against(
        housing.rated_high_c,
        refers_to=refers_to,
        outside_c=air.high.value_c,
        air_c=air.high.value_c if house is None else house.hot.air_c,
        power_w=housing.internal_w,
        hot=True,
        outside_u_k=air.high.u_k,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EntriesPlan:
    """Each cable entry by name, and the drop cable to leave there."""

    checks: Mapping[str, EntryCheck]
    slack: Slack | None


def plan_entries(plan: Plan, profile: Profile) -> EntriesPlan | None:
    """Each planned cable entry: grommet, side, loop; None where none is planned."""
    if not plan.entry:
        return None
    return EntriesPlan(
        checks={item.name: check_entry(entry_of(item)) for item in plan.entry},
        slack=slack_of(plan, profile),
    )
