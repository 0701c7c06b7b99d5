"""The queue beside a visit: the same rows in the same order, and which comes next."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request

from eavelight.app.desk import QueueFilters
from eavelight.app.desk.summaries import Summary
from eavelight.web.site import Shelf

PAGE = 50
FILTERS = ("state", "crew", "purpose", "decision", "flags", "search", "from")


def filters_of(asked: Mapping[str, str]) -> QueueFilters:
    """What an address asks of the queue; one row more than a page shows."""
    offset = asked.get("from", "0")
    plain = offset.isascii() and offset.isdigit() and len(offset) < 8
    return QueueFilters(
        state=asked.get("state", "")[:40],
        crew=asked.get("crew", "")[:80],
        purpose=asked.get("purpose", "")[:40],
        decision=asked.get("decision", "")[:40],
        flags=asked.get("flags") == "yes",
        search=asked.get("search", "").strip()[:80],
        offset=int(offset) if plain else 0,
        limit=PAGE + 1,
    )


def query_of(asked: Mapping[str, str], **more: str) -> str:
    """The same question to the queue for another address; empty for the whole queue."""
    kept = {name: asked[name] for name in FILTERS if asked.get(name)} | more
    kept = {name: value for name, value in kept.items() if value}
    return f"?{urlencode(kept)}" if kept else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Rows of the queue around one visit; `before` and `after` are None at an end."""

    lines: tuple[Summary, ...]
    before: Summary | None
    after: Summary | None
    query: str


def beside(request: Request, shelf: Shelf, visit: str) -> Beside:
    """The page of the queue from which a visit was opened.

    A visit that is not on it, by a decision or a filter, is followed by its first row.
    """
    filters = filters_of(request.query_params)
    found = shelf.summaries.queue(filters)
    names = [line.visit for line in found]
    here = names.index(visit) if visit in names else -1
    rest = [line for line in found[here + 1 :] if line.visit != visit]
    return Beside(
        lines=found[:PAGE],
        before=found[here - 1] if here > 0 else None,
        after=rest[0] if rest else None,
        query=query_of(request.query_params),
    )
