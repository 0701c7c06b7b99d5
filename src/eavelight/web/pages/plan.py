"""The plan before driving: what to expect, what to bring, on one page."""

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.desk import LiveVisit
from eavelight.app.desk.planned import plan_stored
from eavelight.app.plan_json import deciding_message, plan_json
from eavelight.app.plan_visit import PlannedVisit
from eavelight.model.message import Message
from eavelight.web.context import shown, visit_of
from eavelight.web.render import page, visit_base

SWATCH = {
    "blue": "#1f5fd6", "orange": "#f08a1d", "green": "#2a9d4b", "brown": "#7a4a21",
    "slate": "#8a949e", "white": "#ffffff", "red": "#d92b2b", "black": "#111111",
    "yellow": "#f6d32b", "violet": "#7b3fb0", "rose": "#f2a0b8", "aqua": "#7fd6d6",
}  # fmt: skip


@shown()
def plan(request: Request) -> Response:
    """Everything that the work order leads one to expect."""
    shelf, visit = visit_of(request)
    planned = plan_stored(visit)
    data = plan_json(planned)
    values = {
        "visit": visit,
        "head": visit.stored.visit.head,
        "here": visit_base(shelf, visit),
        "planned": planned,
        "plan": visit.stored.visit.plan,
        "data": data,
        "levels": _levels(planned),
        "losses": _losses(planned),
        "places": _places(planned),
        "walls": _walls(data.get("walls") or []),
        "has_feed": planned.feed is not None,
    }
    return page(request, "plan.html.j2", values)


def _walls(found: list[dict[str, Any]]) -> dict[str, Any]:
    """Air in the box on the hot day, by wall and colour."""
    rows: dict[str, dict[str, Any]] = {}
    for item in found:
        rows.setdefault(item["wall"], {})[item["colour"]] = item
    colours = list(dict.fromkeys(item["colour"] for item in found))
    return {"colours": colours, "rows": rows} if rows else {}


def _places(planned: PlannedVisit) -> list[tuple[str, bool, Message]]:
    """Places for the supply: name, whether it is the planned one, what decides."""
    found = planned.places
    if found is None:
        return []
    return [
        (item.name, item.name == found.in_use, deciding_message(item.deciding))
        for item in found.results
    ]


def _levels(planned: PlannedVisit) -> list[tuple[str, float, float]]:
    down = planned.light.down_nm
    return [
        (place, spans[down].value, 2 * spans[down].u)
        for place, spans in planned.light.levels.items()
        if place in {"port", "terminal"} and down in spans
    ]


def _losses(planned: PlannedVisit) -> list[tuple[int, float, float]]:
    return [
        (nm, span.value, 2 * span.u)
        for nm, span in planned.light.losses["drop"].items()
        if nm in {1310, 1550}
    ]


def plan_facts(visit: LiveVisit, question: str) -> dict[str, Any] | None:
    """What a screen shows of the plan: the assignment, or the cut marks."""
    if question not in {"work-order", "cut-marks", "fibre-seen", "backup-choice"}:
        return None
    planned = plan_stored(visit)
    told = {"incomplete": planned.incomplete, "bring": planned.bring}
    return {**plan_json(planned), **told}
