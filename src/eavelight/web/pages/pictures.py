"""Figures, evidence files, the trace viewer and the end-face page."""

from collections.abc import Iterator

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from eavelight.app.desk import LiveVisit
from eavelight.app.desk.pictures import bytes_of, trace_points
from eavelight.app.desk.planned import plan_stored
from eavelight.app.intake import content_of
from eavelight.app.intake.content import SHOWN
from eavelight.errors import EavelightError
from eavelight.model.observation import FileObservation
from eavelight.trace.results import TraceAnalysis
from eavelight.web.context import shown, visit_of
from eavelight.web.render import look_of, page, site_of, visit_base
from eavelight.web.security import PICTURE_POLICY
from eavelight.web.site import Shelf

SHORTEST_MARK = 12


def _svg(data: bytes) -> Response:
    headers = {"content-security-policy": PICTURE_POLICY}
    return Response(data, media_type="image/svg+xml", headers=headers)


@shown()
def figure(request: Request) -> Response:
    """The level line, the volts line, or a figure of the plan."""
    shelf, visit = visit_of(request)
    name = request.path_params["name"]
    narrow = request.query_params.get("narrow") == "yes"
    look = look_of(request, narrow=narrow)
    if name == "level":
        data = shelf.pictures.level(visit, look)
    elif name == "volts":
        data = shelf.pictures.volts(visit, look)
    else:
        data = shelf.pictures.planned(visit, plan_stored(visit), name, look)
    if data is None:
        raise HTTPException(404)
    return _svg(data)


def file_of(request: Request) -> tuple[Shelf, LiveVisit, FileObservation]:
    """The evidence file that an address names by the start of its digest."""
    shelf, visit = visit_of(request)
    mark = request.path_params["mark"]
    for item in visit.assessed.observations.files:
        if len(mark) >= SHORTEST_MARK and item.sha256.startswith(mark):
            return shelf, visit, item
    raise HTTPException(404)


@shown()
def evidence(request: Request) -> Response:
    """The bytes of a file as they were recorded; only pictures are shown."""
    _, visit, item = file_of(request)
    data = bytes_of(visit, item)
    if data is None:
        raise HTTPException(404)
    content = content_of(data)
    media = content.media_type if content else "application/octet-stream"
    headers = {"content-security-policy": PICTURE_POLICY}
    if media not in SHOWN:
        ending = content.ending if content else "bin"
        name = f"{item.sha256[:12]}.{ending}"
        headers["content-disposition"] = f'attachment; filename="{name}"'
    return Response(data, media_type=media, headers=headers)


@shown()
def small_photo(request: Request) -> Response:
    """A photo small enough for a list."""
    shelf, visit, item = file_of(request)
    if item.evidence.what != "photo":
        raise HTTPException(404)
    try:
        data = shelf.pictures.small(visit, item, site_of(request).decoder)
    except EavelightError:
        data = b""
    if not data:
        raise HTTPException(404)
    headers = {"content-security-policy": PICTURE_POLICY}
    return Response(data, media_type="image/jpeg", headers=headers)


@shown()
def face_page(request: Request) -> Response:
    """One end face, with its marks, and before cleaning beside it."""
    shelf, visit, item = file_of(request)
    if item.evidence.what != "endface":
        raise HTTPException(404)
    files = visit.assessed.observations.files
    others = [
        other
        for other in files
        if other is not item
        and other.evidence.what == "endface"
        and (other.evidence.at, other.evidence.side)
        == (item.evidence.at, item.evidence.side)
    ]
    values = {
        "visit": visit,
        "here": visit_base(shelf, visit),
        "item": item,
        "face": shelf.pictures.face_facts(visit, item),
        "others": others,
        "rings": request.query_params.get("rings") != "no",
        "findings": _about(visit, item),
    }
    return page(request, "face.html.j2", values)


def _about(visit: LiveVisit, item: FileObservation) -> list[object]:
    name = item.evidence.file
    found = visit.assessed.assessment.findings
    return [f for f in found if name in f.observations]


@shown()
def face_picture(request: Request) -> Response:
    """The picture with its zones and marks."""
    shelf, visit, item = file_of(request)
    if item.evidence.what != "endface" or bytes_of(visit, item) is None:
        raise HTTPException(404)
    zones = request.query_params.get("zones") != "no"
    try:
        data = shelf.pictures.face(visit, item, zones=zones)
    except EavelightError:
        data = b""
    if not data:
        raise HTTPException(404)
    return Response(data, media_type="image/png")


def _traces(visit: LiveVisit) -> Iterator[FileObservation]:
    for item in visit.assessed.observations.files:
        if isinstance(item.analysis, TraceAnalysis):
            yield item


@shown()
def trace_page(request: Request) -> Response:
    """The trace viewer: the drawn figure without script, a chart with it."""
    shelf, visit, item = file_of(request)
    if not isinstance(item.analysis, TraceAnalysis):
        raise HTTPException(404)
    asked = request.query_params.get("with", "")
    baseline = asked or visit.stored.visit.head.baseline
    earlier = shelf.visit(baseline) if baseline and baseline != visit.id else None
    values = {
        "visit": visit,
        "here": visit_base(shelf, visit),
        "item": item,
        "found": item.analysis,
        "others": [o for o in _traces(visit) if o is not item],
        "baseline": earlier,
        "baseline_here": visit_base(shelf, earlier) if earlier else "",
        "baseline_traces": list(_traces(earlier)) if earlier else [],
        "findings": _about(visit, item),
    }
    return page(request, "trace.html.j2", values)


@shown()
def trace_numbers(request: Request) -> Response:
    """A trace as numbers for the chart."""
    _, _, item = file_of(request)
    found = trace_points(item)
    if found is None:
        raise HTTPException(404)
    return JSONResponse(found)


@shown()
def trace_picture(request: Request) -> Response:
    """A trace as a figure."""
    shelf, visit, item = file_of(request)
    if not isinstance(item.analysis, TraceAnalysis):
        raise HTTPException(404)
    return _svg(shelf.pictures.trace(visit, item))
