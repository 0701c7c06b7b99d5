"""The splice tray: cut marks of both sides, re-splices, stored slack."""

from dataclasses import dataclass

from eavelight.glass.fibre import FibreType
from eavelight.glass.slack import LoopReport, loop_report
from eavelight.glass.tray import Cable, Pigtail, Tray, TrayPlan, Work, plan_tray
from eavelight.model.plan import Loop, Part, Plan
from eavelight.standards.fibre_types import fibre_type

DEFAULT_FIBRE = "g652d"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayResult:
    """The plan of the tray with the fibres it was made for."""

    cable_fibre: str
    pigtail_fibre: str
    spare_attempts: int
    plan: TrayPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class SlackResult:
    """Stored slack as planned, with what it costs in light and in life."""

    loop: Loop
    report: LoopReport


def fibres_at_splice(plan: Plan) -> tuple[str, str]:
    """Fibre types on both sides of the last splice: the drop and the pigtail."""
    drop = plan.plant.drop
    last = max((i for i, part in enumerate(drop) if part.kind == "splice"), default=-1)
    before, after = _types(drop[: max(last, 0)]), _types(drop[last + 1 :])
    stored = [loop.fibre for loop in plan.plant.loop if loop.at == "tray"]
    cable = (before or after or stored or [DEFAULT_FIBRE])[-1]
    return cable, (after or stored or [cable])[0]


def _types(parts: tuple[Part, ...]) -> list[str]:
    return [part.fibre for part in parts if part.kind == "fibre" and part.fibre]


def plan_splice_tray(plan: Plan) -> TrayResult | None:
    """Laps, cut marks and re-splices, None where no tray is planned."""
    if plan.tray is None:
        return None
    given = plan.tray
    cable, pigtail = fibres_at_splice(plan)
    found = plan_tray(
        Tray(
            length_mm=given.length_mm,
            width_mm=given.width_mm,
            winding_radius_mm=given.winding_radius_mm,
            holder_offset_mm=given.holder_offset_mm,
            sleeve_mm=given.sleeve_mm,
        ),
        cable=Cable(strands=given.strands, smallest_mm=_smallest(cable)),
        pigtail=Pigtail(
            length_mm=1000.0 * given.pigtail_m, smallest_mm=_smallest(pigtail)
        ),
        work=Work(spare_attempts=given.spare_attempts),
    )
    return TrayResult(
        cable_fibre=cable,
        pigtail_fibre=pigtail,
        spare_attempts=given.spare_attempts,
        plan=found,
    )


def _smallest(name: str) -> float:
    return fibre_type(name).design_radius_mm


def plan_slack(plan: Plan) -> tuple[SlackResult, ...]:
    """Every stored loop of the plan."""
    return tuple(
        SlackResult(loop=loop, report=_report(fibre_type(loop.fibre), loop))
        for loop in plan.plant.loop
    )


def _report(fibre: FibreType, loop: Loop) -> LoopReport:
    return loop_report(fibre, loop.radius_mm, turns=loop.turns)
