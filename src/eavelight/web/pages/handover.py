"""Hand-over: closeout, customer sheet, record, and its hash as a code to scan."""

import hashlib
import io

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.desk import decision_of
from eavelight.app.desk.pictures import DOCUMENTS
from eavelight.errors import EavelightError
from eavelight.web.context import shown, visit_of
from eavelight.web.render import look_of, page, visit_base
from eavelight.web.security import PAGE_POLICY, PICTURE_POLICY


def record_hash(text: bytes) -> str:
    """SHA-256 of the record as it stands on page one of the closeout."""
    return hashlib.sha256(text).hexdigest()


@shown()
def handover(request: Request) -> Response:
    """What is handed over."""
    shelf, visit = visit_of(request)
    values = {
        "visit": visit,
        "head": visit.stored.visit.head,
        "here": visit_base(shelf, visit),
        "state": visit.assessed.assessment.state,
        "progress": visit.progress,
        "hash": record_hash(visit.stored.text),
        "decision": decision_of(shelf.live.record.store, visit.id),
        "seals": shelf.live.record.store.seals(visit.id),
        "has_feed": visit.stored.visit.plan.feed is not None,
        "device": shelf.live.record.key.device,
    }
    return page(request, "handover.html.j2", values)


@shown()
def document(request: Request) -> Response:
    """A closeout or customer sheet."""
    shelf, visit = visit_of(request)
    name = request.path_params["document"]
    if name not in DOCUMENTS:
        raise HTTPException(404)
    try:
        look = look_of(request, language=request.query_params.get("language", ""))
        data = shelf.pictures.document(visit, name, look)
    except EavelightError as error:
        raise HTTPException(422, str(error)) from None
    safe = "".join(
        c if c.isascii() and (c.isalnum() or c in "-_") else "_" for c in visit.id
    )
    if name.endswith(".pdf"):
        headers = {"content-disposition": f'attachment; filename="{safe}-{name}"'}
        return Response(data, media_type="application/pdf", headers=headers)
    headers = {"content-security-policy": PAGE_POLICY}
    return Response(data, media_type="text/html", headers=headers)


@shown()
def record_text(request: Request) -> Response:
    """The record as a visit.toml."""
    _, visit = visit_of(request)
    headers = {"content-disposition": 'attachment; filename="visit.toml"'}
    return Response(visit.stored.text, media_type="application/toml", headers=headers)


@shown()
def code(request: Request) -> Response:
    """The visit's id and the hash of its record as a code to scan."""
    import segno

    _, visit = visit_of(request)
    text = f"eavelight {visit.id} sha256 {record_hash(visit.stored.text)}"
    stream = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        stream, kind="svg", scale=4, border=4, svgclass=None, lineclass=None
    )
    headers = {"content-security-policy": PICTURE_POLICY}
    return Response(stream.getvalue(), media_type="image/svg+xml", headers=headers)
