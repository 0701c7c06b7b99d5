"""The plan of a visit that is open already."""

from eavelight.app.desk.keep import Kept
from eavelight.app.desk.live import LiveVisit
from eavelight.app.plan_visit import PlannedVisit, plan_opened

_KEPT: Kept[PlannedVisit] = Kept(40)


def plan_stored(visit: LiveVisit) -> PlannedVisit:
    """Everything that the plan of a visit leads one to expect."""
    key = (visit.id, visit.line.observations, visit.stored.store.id)
    return _KEPT.made(key, lambda: plan_opened(visit.stored))
