"""The desk's queue: exceptions first, filters, closeouts of several at once."""

import io
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse

from eavelight.app.clock import now
from eavelight.app.desk import LiveVisit
from eavelight.app.desk.decide import ACCEPT
from eavelight.app.desk.summaries import Summary
from eavelight.app.plan_figures import Look
from eavelight.errors import EavelightError
from eavelight.web.context import Form, posted, shelf_of, shown
from eavelight.web.pages.beside import PAGE, filters_of, query_of
from eavelight.web.pages.visit import write_decision
from eavelight.web.render import look_of, page, person_of
from eavelight.web.site import Shelf

MOST_CLOSEOUTS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """What came of accepting several visits at once."""

    done: tuple[str, ...]
    left: tuple[str, ...]


@shown()
def queue(request: Request) -> Response:
    """The list of visits."""
    shelf = shelf_of(request)
    asked = request.query_params
    filters = filters_of(asked)
    done = shelf.look_ahead()
    lines = shelf.summaries.queue(filters)
    later, earlier = filters.offset + PAGE, max(filters.offset - PAGE, 0)
    values = {
        "lines": lines[:PAGE],
        "counts": shelf.summaries.counts(),
        "crews": shelf.summaries.crews(),
        "asked": filters,
        "done": done,
        "query": query_of(asked),
        "later": _page(asked, later) if len(lines) > PAGE else "",
        "earlier": _page(asked, earlier) if filters.offset else "",
        "now": now(),
        "most": MOST_CLOSEOUTS,
        "problem": asked.get("problem") == "choose",
        "accepted": _accepted(shelf, asked),
    }
    return page(request, "queue.html.j2", values)


def _accepted(shelf: Shelf, asked: Mapping[str, str]) -> Accepted | None:
    """What came of accepting several, as far as the record bears it out."""
    done = tuple(i.visit for i in _told(shelf, asked, "done") if i.decision == ACCEPT)
    left = tuple(i.visit for i in _told(shelf, asked, "left") if i.decision != ACCEPT)
    return Accepted(done=done, left=left) if done or left else None


def _told(shelf: Shelf, asked: Mapping[str, str], name: str) -> list[Summary]:
    ids = asked.get(name, "").split(",")[:MOST_CLOSEOUTS]
    lines = (shelf.summaries.line(id) for id in ids)
    return [line for line in lines if line is not None]


def _page(asked: Mapping[str, str], offset: int) -> str:
    return query_of(asked, **{"from": str(offset)})


def _chosen(form: Form) -> tuple[str, ...]:
    """The chosen visits, none where they are too many at once."""
    names = tuple(dict.fromkeys(form.several.get("visit", ())))
    return names if len(names) <= MOST_CLOSEOUTS else ()


@posted("decide")
def accept_several(request: Request, form: Form) -> Response:
    """Accept those of the chosen visits in which nothing asks for a look."""
    shelf, names = shelf_of(request), _chosen(form)
    if not names:
        return _back(request, problem="choose")
    person = person_of(request)
    done, left = [], []
    for name in names:
        if _accept_plain(shelf, name, by=person.name if person else ""):
            done.append(name)
        else:
            left.append(name)
    return _back(request, done=",".join(done), left=",".join(left))


def _back(request: Request, **told: str) -> Response:
    """To the queue with its filters, and what became of the choice."""
    query = query_of(request.query_params, **told)
    return RedirectResponse(f"/{shelf_of(request).name}/{query}", status_code=303)


def _accept_plain(shelf: Shelf, name: str, *, by: str) -> bool:
    visit = shelf.visit(name)
    if visit is None:
        raise HTTPException(404)
    line = shelf.summaries.line(name)
    if line is None or not line.plain:
        return False
    if line.decision != ACCEPT:
        write_decision(shelf, visit, answer=ACCEPT, reason="", by=by)
    return True


@posted("read")
def closeouts(request: Request, form: Form) -> Response:
    """Closeouts of the chosen visits in one file, sent while it is written."""
    shelf, names = shelf_of(request), _chosen(form)
    if not names:
        return _back(request, problem="choose")
    visits = [shelf.visit(name) for name in names]
    found = [visit for visit in visits if visit is not None]
    if len(found) < len(visits):
        raise HTTPException(404)
    headers = {"content-disposition": 'attachment; filename="closeouts.zip"'}
    return StreamingResponse(
        _packed(shelf, found, look_of(request)),
        media_type="application/zip",
        headers=headers,
    )


class _Sink(io.RawIOBase):
    """Takes what the packer writes and gives it on; it cannot go back."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self._parts.append(bytes(data))
        return len(data)

    def taken(self) -> bytes:
        """What was written since the last time."""
        parts, self._parts = self._parts, []
        return b"".join(parts)


def _packed(shelf: Shelf, visits: list[LiveVisit], look: Look) -> Iterator[bytes]:
    sink = _Sink()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as packed:
        for number, visit in enumerate(visits, start=1):
            safe = "".join(c if c.isalnum() or c in "-_" else "_" for c in visit.id)
            name = f"{number:02d}-{safe}"
            try:
                data = shelf.pictures.document(visit, "closeout.pdf", look)
            except EavelightError as error:
                packed.writestr(f"{name}.txt", str(error))
            else:
                packed.writestr(f"{name}.pdf", data)
            yield sink.taken()
    yield sink.taken()
