"""The desk's queue: exceptions first, filters, closeouts of several at once."""

import io
import zipfile
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.desk import QueueFilters
from eavelight.errors import EavelightError
from eavelight.web.context import Form, posted, shelf_of, shown
from eavelight.web.render import page

PAGE = 50
MOST_CLOSEOUTS = 25


@shown()
def queue(request: Request) -> Response:
    """The list of visits."""
    shelf = shelf_of(request)
    asked = request.query_params
    offset = asked.get("from", "0")
    filters = QueueFilters(
        state=asked.get("state", "")[:40],
        crew=asked.get("crew", "")[:80],
        purpose=asked.get("purpose", "")[:40],
        decision=asked.get("decision", "")[:40],
        flags=asked.get("flags") == "yes",
        search=asked.get("search", "").strip()[:80],
        offset=int(offset) if offset.isdigit() and len(offset) < 8 else 0,
        limit=PAGE + 1,
    )
    done = shelf.look_ahead()
    lines = shelf.summaries.queue(filters)
    kept = {k: v for k, v in asked.items() if k != "from" and v}
    values = {
        "lines": lines[:PAGE],
        "counts": shelf.summaries.counts(),
        "crews": shelf.summaries.crews(),
        "asked": filters,
        "done": done,
        "later": _page(kept, filters.offset + PAGE) if len(lines) > PAGE else "",
        "earlier": _page(kept, max(filters.offset - PAGE, 0)) if filters.offset else "",
        "most": MOST_CLOSEOUTS,
    }
    return page(request, "queue.html.j2", values)


def _page(kept: dict[str, str], offset: int) -> str:
    return "?" + urlencode({**kept, "from": str(offset)})


@posted("read")
def closeouts(request: Request, form: Form) -> Response:
    """Closeouts of the chosen visits in one file."""
    shelf = shelf_of(request)
    names = form.several.get("visit", ())
    if not 0 < len(names) <= MOST_CLOSEOUTS:
        raise HTTPException(422, f"1 … {MOST_CLOSEOUTS}")
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
