"""What to put into the van for this job, and nothing that it does not call for."""

from collections.abc import Iterator

from eavelight.app.planning.battery import BatteryPlan
from eavelight.app.planning.conductors import ConductorsPlan
from eavelight.app.planning.feed import FeedPlan
from eavelight.app.planning.housing import HousingPlan
from eavelight.app.planning.levels import LightPlan
from eavelight.app.planning.services import Coexistence
from eavelight.app.planning.tray import fibres_at_splice
from eavelight.model.message import Message
from eavelight.model.plan import Plan

LOSS_TEST_NM = (1310, 1550)


def bring_light(
    plan: Plan, light: LightPlan, services: Coexistence | None
) -> Iterator[Message]:
    """Meter, source, faces, splice."""
    polish = tuple(
        dict.fromkeys(
            part.polish
            for part in plan.plant.part
            if part.kind == "connector" and part.polish
        )
    )
    yield Message(
        "plan.bring.meter",
        {"wavelength": light.down_nm, "filter": services is not None},
    )
    yield Message(
        "plan.bring.source",
        {"short": LOSS_TEST_NM[0], "long": LOSS_TEST_NM[1], "polish": polish},
    )
    yield Message("plan.bring.microscope", {"polish": polish})
    yield Message("plan.bring.fibre_light")
    yield Message("plan.bring.safety")
    yield Message("plan.bring.record")


def bring_splice(plan: Plan) -> Iterator[Message]:
    """Splicer, sleeves, pigtail, for as many splices as may be needed."""
    splices = [part for part in plan.plant.drop if part.kind == "splice"]
    if not splices:
        return
    cable, pigtail = fibres_at_splice(plan)
    spare = 3 if plan.tray is None else plan.tray.spare_attempts
    count = sum(part.count for part in splices)
    yield Message(
        "plan.bring.splicer",
        {"cable": cable, "pigtail": pigtail, "same": cable == pigtail},
    )
    yield Message(
        "plan.bring.sleeves",
        {
            "count": count * (1 + spare),
            "sleeve": None if plan.tray is None else plan.tray.sleeve_mm,
            "known": plan.tray is not None,
        },
    )
    terminal = plan.plant.part[-1]
    yield Message(
        "plan.bring.pigtails",
        {
            "fibre": pigtail,
            "polish": terminal.polish,
            "length": None if plan.tray is None else plan.tray.pigtail_m,
            "known": plan.tray is not None,
        },
    )


def bring_power(
    feed: FeedPlan | None, battery: BatteryPlan | None, map_: ConductorsPlan | None
) -> Iterator[Message]:
    """Meter, cord, load, battery, straps."""
    if feed is None:
        return
    yield Message("plan.bring.multimeter", {"loop": feed.loop_ohm})
    given = feed.feed
    if given.shares_sheath_with is None:
        yield Message(
            "plan.bring.cord",
            {
                "length": given.length_m,
                "awg": given.awg,
                "area": given.area_mm2,
                "metric": given.area_mm2 is not None,
                "construction": given.construction or "power only",
            },
        )
    yield Message("plan.bring.load", {"load": given.terminal_peak_w})
    if map_ is not None and map_.strap and map_.construction != "power only":
        yield Message("plan.bring.straps", {"lines": map_.strap})
    if battery is not None:
        chosen = battery.battery
        yield Message(
            f"plan.bring.battery.{chosen.chemistry}",
            {"capacity": chosen.capacity_ah, "rating": chosen.rating_hours},
        )


def bring_box(plan: Plan, housing: HousingPlan | None) -> Iterator[Message]:
    """Entries, thermometer, and a shade where the heat calls for one."""
    if plan.entry:
        names = tuple(item.name for item in plan.entry)
        yield Message("plan.bring.grommets", {"entries": names})
    if housing is None:
        return
    yield Message("plan.bring.thermometer")
    house = housing.house
    if house is not None and any(item.about == "heat" for item in house.advice):
        yield Message("plan.bring.shade")
