"""The same use cases for devices: JSON in, JSON out, described as OpenAPI."""

import json
import secrets
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from eavelight.app.assessment_json import assessment_json
from eavelight.app.desk import LiveVisit, QueueFilters
from eavelight.app.ladder import AnswerError, Question
from eavelight.web import words
from eavelight.web.context import Form, may, shelf_of, visit_of
from eavelight.web.openapi import FIELDS, document
from eavelight.web.pages.ladder import keep_answer, keep_file
from eavelight.web.render import site_of, words_of

MOST_ROWS = 200


def api_routes() -> list[Route]:
    """Every address of the interface."""
    start = "/api/1/{shelf}/visits"
    return [
        Route("/api/1/openapi.json", openapi),
        Route(start, visits),
        Route(start + "/{visit}", one_visit),
        Route(start + "/{visit}/questions", questions),
        Route(start + "/{visit}/answers", answers, methods=["POST"]),
        Route(start + "/{visit}/evidence", evidence, methods=["POST"]),
    ]


def openapi(request: Request) -> Response:  # noqa: ARG001
    """What can be asked here."""
    return JSONResponse(document())


def _whole(request: Request, name: str, default: int, most: int) -> int:
    text = request.query_params.get(name)
    if text is None:
        return default
    if not text.isascii() or not text.isdigit() or not 0 <= int(text[:12]) <= most:
        raise HTTPException(422, f"{name}: expected 0 to {most}")
    return int(text)


def visits(request: Request) -> Response:
    """Lines of the queue."""
    may(request, "read")
    shelf = shelf_of(request)
    shelf.look_ahead()
    state = request.query_params.get("state", "")
    if state not in {"", "ready", "not ready", "undecided", "none"}:
        raise HTTPException(422, "state: expected ready, not ready, undecided or none")
    limit = _whole(request, "limit", 50, MOST_ROWS)
    filters = QueueFilters(
        state=state, limit=limit, offset=_whole(request, "offset", 0, 10_000_000)
    )
    rows = [
        {
            "visit": line.visit,
            "site": line.site,
            "crew": line.crew,
            "purpose": line.purpose,
            "started": line.started,
            "state": line.state,
            "worst": line.worst,
            "decision": line.decision,
        }
        for line in shelf.summaries.queue(filters)
    ]
    return JSONResponse({"visits": rows})


def one_visit(request: Request) -> Response:
    """The assessment of a visit."""
    may(request, "read")
    _, visit = visit_of(request)
    assessed = visit.assessed
    return JSONResponse(assessment_json(assessed.assessment, notes=assessed.notes))


def questions(request: Request) -> Response:
    """The questions of a visit with how far they are."""
    may(request, "read")
    _, visit = visit_of(request)
    translate = words_of(request)._
    rows = [
        {
            "id": item.question.id,
            "stage": item.question.stage,
            "form": item.question.form,
            "title": words.title(item.question, translate),
            "unit": item.question.unit,
            "words": list(item.question.words),
            "wanted": item.question.wanted,
            "state": item.state,
        }
        for item in visit.progress.answers
    ]
    return JSONResponse({"questions": rows})


def _question(visit: LiveVisit, id: str) -> Question:
    index = visit.progress.index(id)
    if index is None:
        raise HTTPException(422, f"question: none has the id {id[:60]}")
    return visit.progress.answers[index].question


async def answers(request: Request) -> Response:
    """Take an answer."""
    may(request, "enter")
    if not request.headers.get("content-type", "").startswith("application/json"):
        raise HTTPException(415, "expected application/json")
    sent = _object(await request.body())
    return await run_in_threadpool(_answer, request, sent)


def _object(body: bytes) -> dict[str, str]:
    """The fields of a JSON object as text; anything else is refused."""
    try:
        sent = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise HTTPException(422, "expected a JSON object") from None
    if not isinstance(sent, dict):
        raise HTTPException(422, "expected a JSON object")
    unknown = sorted(set(sent) - set(FIELDS))
    if unknown:
        raise HTTPException(422, f"unknown field: {unknown[0][:60]}")
    return {name: _text(name, value) for name, value in sent.items()}


def _no_constant(name: str) -> float:
    raise ValueError(name)


def _text(name: str, value: object) -> str:
    if isinstance(value, bool) and name == "value":
        return "yes" if value else "no"
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise HTTPException(422, f"{name}: expected text or a number")
    if isinstance(value, str) and name not in {"value", "attempt", "strands"}:
        return value
    if not isinstance(value, str) and name not in {"value", "attempt", "strands"}:
        raise HTTPException(422, f"{name}: expected text")
    return value if isinstance(value, str) else repr(value)


def _answer(request: Request, sent: Mapping[str, str]) -> Response:
    shelf, visit = visit_of(request)
    asked = _question(visit, sent.get("question", ""))
    if asked.form == "read":
        raise HTTPException(422, "question: it is only read")
    form = Form(values={k: v for k, v in sent.items() if k != "question"})
    try:
        name, new = keep_answer(shelf, visit, asked, form)
    except AnswerError as error:
        told = words.problem(error, words_of(request)._)
        return JSONResponse({"error": told, "field": error.field}, status_code=422)
    return JSONResponse({"id": name, "new": new}, status_code=201 if new else 200)


async def evidence(request: Request) -> Response:
    """Take a file."""
    may(request, "enter")
    kind = request.headers.get("content-type", "").partition(";")[0].strip()
    if kind != "application/octet-stream":
        raise HTTPException(415, "expected application/octet-stream")
    data = await request.body()
    return await run_in_threadpool(_evidence, request, data)


def _evidence(request: Request, data: bytes) -> Response:
    shelf, visit = visit_of(request)
    asked_for = request.query_params
    asked = _question(visit, asked_for.get("question", ""))
    if not asked.is_evidence:
        raise HTTPException(422, "question: it takes no file")
    values = {
        name: asked_for[name][:60]
        for name in ("nonce", "entered_at", "lead_m", "tail_m", "cleaning")
        if name in asked_for
    }
    values.setdefault("nonce", secrets.token_hex(6))
    form = Form(values=values, data=data)
    try:
        name, new = keep_file(site_of(request), shelf, visit, asked, form=form)
    except AnswerError as error:
        told = words.problem(error, words_of(request)._)
        return JSONResponse({"error": told, "field": error.field}, status_code=422)
    answer: dict[str, Any] = {"id": name, "new": new}
    return JSONResponse(answer, status_code=201 if new else 200)
