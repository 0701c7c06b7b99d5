"""A work order taken into the record: planned, nothing seen yet."""

from eavelight.app.desk.live import LiveRecord
from eavelight.app.names import known_names
from eavelight.app.record import Change, entry_to_record
from eavelight.app.record_bodies import HEAD, PLAN, entries_of
from eavelight.app.record_view import View
from eavelight.app.visit_folder.read import table_of, visit_from_table
from eavelight.errors import EavelightError

SHOWN = "work order"
LARGEST_BYTES = 1_000_000


class WorkOrderError(EavelightError):
    """A work order that cannot be taken."""


def take_work_order(live: LiveRecord, data: bytes) -> str:
    """Record head and plan of a `visit.toml` without anything seen; the visit's id.

    Raises
    ------
    EavelightError
        With every mistake found, or where the visit is known already.
    """
    if len(data) > LARGEST_BYTES:
        raise WorkOrderError(f"{SHOWN}: expected at most {LARGEST_BYTES} bytes")
    table = table_of(data, shown=SHOWN)
    visit = visit_from_table(table, known_names(), shown=SHOWN)
    if visit.readings or visit.evidence or visit.exceptions:
        raise WorkOrderError(
            f"{SHOWN}: expected a plan without readings, found some; bring a whole "
            "visit in with eavelight import"
        )
    name = visit.head.id
    if live.line(name) is not None:
        raise WorkOrderError(f"{SHOWN}: visit {name} is in the record already")
    entries = [item for item in entries_of(table) if item.kind in {HEAD, PLAN}]

    def decide(view: View) -> Change:
        if view.standing:
            return Change()
        items = [entry_to_record(entry, visit=name) for entry in entries]
        return Change(items=items)

    live.change(name, decide)
    return name
