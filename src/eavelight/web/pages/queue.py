"""The desk's queue: exceptions first, filters, closeouts of several at once."""

import io
import zipfile
from collections.abc import Mapping

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.clock import now
from eavelight.errors import EavelightError
from eavelight.web.context import Form, posted, shelf_of, shown
from eavelight.web.pages.beside import PAGE, filters_of, query_of
from eavelight.web.render import page

MOST_CLOSEOUTS = 25


@shown()
def queue(request: Request) -> Response:
    """The list of visits."""
    return _page_of(request, problem=False)


def _page_of(request: Request, *, problem: bool) -> Response:
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
        "problem": problem,
    }
    status = 422 if problem else 200
    return page(request, "queue.html.j2", values, status=status)


def _page(asked: Mapping[str, str], offset: int) -> str:
    return query_of(asked, **{"from": str(offset)})


@posted("read")
def closeouts(request: Request, form: Form) -> Response:
    """Closeouts of the chosen visits in one file."""
    shelf = shelf_of(request)
    names = form.several.get("visit", ())
    if not 0 < len(names) <= MOST_CLOSEOUTS:
        return _page_of(request, problem=True)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for number, name in enumerate(names, start=1):
            visit = shelf.visit(name)
            if visit is None:
                raise HTTPException(404)
            safe = "".join(c if c.isalnum() or c in "-_" else "_" for c in visit.id)
            try:
                data = shelf.pictures.document(visit, "closeout.pdf")
            except EavelightError as error:
                packed.writestr(f"{number:02d}-{safe}.txt", str(error))
                continue
            packed.writestr(f"{number:02d}-{safe}.pdf", data)
    headers = {"content-disposition": 'attachment; filename="closeouts.zip"'}
    return Response(stream.getvalue(), media_type="application/zip", headers=headers)
