"""The use case before driving: a visit in, everything to expect and bring out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from eavelight.app.assess_visit import open_visit
from eavelight.app.planning.battery import BatteryPlan, plan_battery
from eavelight.app.planning.bring import (
    bring_box,
    bring_light,
    bring_power,
    bring_splice,
)
from eavelight.app.planning.conductors import ConductorsPlan, plan_conductors
from eavelight.app.planning.feed import FeedPlan, plan_feed
from eavelight.app.planning.identity import IdentityPlan, missing_in, plan_identity
from eavelight.app.planning.levels import LightPlan, plan_light
from eavelight.app.planning.places import PlacesPlan, plan_places
from eavelight.app.planning.services import (
    Coexistence,
    plan_hazard,
    plan_services,
    service_wavelengths,
)
from eavelight.app.planning.tray import (
    SlackResult,
    TrayResult,
    plan_slack,
    plan_splice_tray,
)
from eavelight.app.visit_folder import VisitFolder
from eavelight.assess.cautions import cautions_of
from eavelight.light.laser_hazard import Hazard
from eavelight.model.message import Message
from eavelight.model.plan import Plan
from eavelight.standards.profiles import Profile, load_profile

if TYPE_CHECKING:
    from eavelight.app.planning.housing import EntriesPlan, HousingPlan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedVisit:
    """Everything that a visit's plan leads one to expect; None was not planned."""

    opened: VisitFolder
    profile: Profile
    incomplete: tuple[Message, ...]
    identity: IdentityPlan
    light: LightPlan
    services: Coexistence | None
    hazard: Mapping[str, Hazard]
    slack: tuple[SlackResult, ...]
    tray: TrayResult | None
    feed: FeedPlan | None
    battery: BatteryPlan | None
    conductors: ConductorsPlan | None
    places: PlacesPlan | None
    housing: "HousingPlan | None"
    entries: "EntriesPlan | None"
    advice: tuple[Message, ...]
    bring: tuple[Message, ...]
    cautions: tuple[Message, ...]


def plan_visit(place: str, *, store: str | None = None) -> PlannedVisit:
    """Plan the visit at a folder or `visit.toml`, or of this id in the store."""
    return plan_opened(open_visit(place, store=store))


def plan_opened(opened: VisitFolder) -> PlannedVisit:
    """Plan a visit that is open already."""
    visit = opened.visit
    plan = visit.plan
    profile = load_profile(visit.head.profile)
    light = plan_light(visit, profile, service_wavelengths(plan, profile))
    services = plan_services(plan, profile, light)
    tray = plan_splice_tray(plan)
    feed = plan_feed(plan)
    battery = plan_battery(visit, feed)
    conductors = plan_conductors(feed)
    housing, entries = _housing(opened, profile)
    return PlannedVisit(
        opened=opened,
        profile=profile,
        incomplete=missing_in(plan),
        identity=plan_identity(plan),
        light=light,
        services=services,
        hazard=plan_hazard(profile, light, services),
        slack=plan_slack(plan),
        tray=tray,
        feed=feed,
        battery=battery,
        conductors=conductors,
        places=plan_places(plan, feed, battery),
        housing=housing,
        entries=entries,
        advice=_advice(plan, profile),
        bring=(
            *bring_light(plan, light, services),
            *bring_splice(plan),
            *bring_power(feed, battery, conductors),
            *bring_box(plan, housing),
        ),
        cautions=cautions_of(plan),
    )


def _advice(plan: Plan, profile: Profile) -> tuple[Message, ...]:
    """What the seasons do to glass, copper and battery of this house."""
    from eavelight.assess.job_notes import place_notes

    return place_notes(plan, profile)


def _housing(
    opened: VisitFolder, profile: Profile
) -> "tuple[HousingPlan | None, EntriesPlan | None]":
    """Climate is only imported where the plan calls for it."""
    plan = opened.visit.plan
    if plan.housing is None and not plan.entry:
        return None, None
    from eavelight.app.planning.housing import plan_entries, plan_housing

    return plan_housing(plan, profile), plan_entries(plan, profile)
