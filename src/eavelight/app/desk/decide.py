"""What the desk decided on a visit: accept, hold, or send back, with the reason."""

from dataclasses import dataclass, replace
from typing import Any

from eavelight.app.desk.live import LiveRecord, LiveVisit
from eavelight.app.record import Change, entry_to_record, stamp
from eavelight.app.record_bodies import EXCEPTION, Entry, whole_item
from eavelight.app.record_view import View
from eavelight.errors import EavelightError
from eavelight.seal import body_of
from eavelight.store import Store

DECISION = "decision"
ACCEPT, HOLD, SEND_BACK = "accept", "hold", "send back"
ANSWERS = (ACCEPT, HOLD, SEND_BACK)


class DecisionError(EavelightError):
    """A decision that lacks its reason, or is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The last decision of the desk."""

    answer: str
    reason: str
    by: str
    at: str


def decide(
    live: LiveRecord, visit: LiveVisit, *, answer: str, reason: str, by: str
) -> Decision:
    """Record a decision; whatever is not plainly ready needs a reason."""
    if answer not in ANSWERS:
        raise DecisionError("answer")
    ready = visit.assessed.assessment.state == "ready"
    if not reason.strip() and not (answer == ACCEPT and ready):
        raise DecisionError("reason")
    made = Decision(answer=answer, reason=reason.strip()[:500], by=by, at=stamp())
    item: dict[str, Any] = {
        "answer": made.answer,
        "reason": made.reason,
        "by": made.by,
        "at": made.at,
        "state": visit.assessed.assessment.state,
    }
    entry = Entry(kind=DECISION, key=(DECISION,), item=item)
    live.change(
        visit.id, lambda _: Change(items=[entry_to_record(entry, visit=visit.id)])
    )
    return made


def accept_exception(
    live: LiveRecord, visit: LiveVisit, *, recorded: str, by: str
) -> bool:
    """Write down who accepts an exception; it stays an exception."""
    found = next(
        (i for i in visit.stored.view.of(EXCEPTION) if i.recorded.id == recorded), None
    )
    if found is None:
        return False
    item = {**found.item, "accepted_by": by}
    entry = Entry(kind=EXCEPTION, key=(EXCEPTION,), item=item)
    return live.add(visit.id, entry, reason="accepted at the desk")


def decision_of(store: Store, visit: str) -> Decision | None:
    """The last decision on a visit, whichever device recorded it."""
    found = []
    listed = [item for item in store.observations(visit) if item.kind == DECISION]
    personal = store.personal(visit) if listed else {}
    for item in listed:
        told, _ = whole_item(body_of(item), personal)
        found.append(
            Decision(
                answer=str(told.get("answer", "")),
                reason=str(told.get("reason", "")),
                by=str(told.get("by", "")),
                at=str(told.get("at", item.recorded_at)),
            )
        )
    return max(found, key=lambda item: item.at, default=None)


def start_visit(live: LiveRecord, visit: LiveVisit) -> bool:
    """The work begins now, where nothing was recorded yet."""
    return _head(live, visit, started=live.moment(visit).isoformat(timespec="seconds"))


def end_visit(live: LiveRecord, visit: LiveVisit) -> bool:
    """The work ends now."""
    return _head(live, visit, ended=live.moment(visit).isoformat(timespec="seconds"))


def reopen_visit(live: LiveRecord, visit: LiveVisit) -> bool:
    """The work goes on: the visit has no end yet."""
    return _head(live, visit, ended=None)


def _head(live: LiveRecord, visit: LiveVisit, **changes: str | None) -> bool:
    def chosen(view: View) -> Change:
        old = view.of("head")
        item = {k: v for k, v in {**old[0].item, **changes}.items() if v is not None}
        entry = Entry(kind="head", key=("head",), item=item)
        ids = [found.recorded.id for found in old]
        made = entry_to_record(
            entry, visit=visit.id, supersedes=ids, reason=", ".join(changes)
        )
        return Change(items=[replace(made)])

    return live.change(visit.id, chosen)
