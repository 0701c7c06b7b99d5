"""The description of the JSON interface, as OpenAPI 3.1."""

from typing import Any

from eavelight import __version__

TEXT: dict[str, Any] = {"type": "string"}
FIELDS: dict[str, dict[str, Any]] = {
    "question": {"type": "string", "maxLength": 120},
    "nonce": {"type": "string", "pattern": "^[0-9a-f]{8,32}$"},
    "entered_at": {"type": "string", "format": "date-time"},
    "value": {"type": ["string", "number", "boolean"]},
    "why_not": {"type": "string", "maxLength": 450},
    "tool": {"type": "string", "maxLength": 60},
    "below": {"type": "string", "enum": ["yes", "no"]},
    "attempt": {"type": ["string", "integer"]},
    "colour": {"type": "string", "maxLength": 60},
    "tracer": {"type": "string", "maxLength": 60},
    "strands": {"type": ["string", "integer"]},
}
"""Fields of an answer; what a question does not know plays no part."""

SHELF = {
    "name": "shelf",
    "in": "path",
    "required": True,
    "description": "own, or demo for the invented crew once it was opened",
    "schema": {"type": "string", "enum": ["own", "demo"]},
}
VISIT = {"name": "visit", "in": "path", "required": True, "schema": TEXT}


def _query(name: str, schema: dict[str, Any], *, required: bool = False) -> Any:
    return {"name": name, "in": "query", "required": required, "schema": schema}


def _object(*names: str, **properties: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "required": list(names),
        "properties": properties,
    }


def _answers(schema: dict[str, Any], *, created: bool = False) -> dict[str, Any]:
    good = {"description": "done", "content": {"application/json": {"schema": schema}}}
    refused = _object("error", error=TEXT, field=TEXT)
    found = {
        "200": good,
        **({"201": good} if created else {}),
    }
    for status, why in (
        ("400", "not to be read"),
        ("401", "not signed in"),
        ("403", "not allowed, or sent from another page"),
        ("404", "no such record or visit"),
        ("413", "too many bytes"),
        ("415", "another type of content is expected"),
        ("421", "another address"),
        ("422", "it cannot be taken, and why"),
    ):
        content = {"application/json": {"schema": refused}}
        plain = status in {"403", "413", "421"}
        found[status] = (
            {"description": why}
            if plain
            else {
                "description": why,
                "content": content,
            }
        )
    return found


def document() -> dict[str, Any]:
    """The whole description."""
    row = _object("visit", "state", visit=TEXT, state=TEXT)
    asked = _object("id", "form", "state", id=TEXT, form=TEXT, state=TEXT)
    kept = _object("id", "new", id=TEXT, new={"type": "boolean"})
    whole = {"type": "integer", "minimum": 0}
    start = "/api/1/{shelf}/visits"
    states = {"type": "string", "enum": ["ready", "not ready", "undecided", "none"]}
    return {
        "openapi": "3.1.0",
        "info": {"title": "Eavelight", "version": __version__},
        "paths": {
            start: {
                "get": {
                    "summary": "Lines of the queue, exceptions first",
                    "parameters": [
                        SHELF,
                        _query("state", states),
                        _query("limit", {**whole, "maximum": 200}),
                        _query("offset", {**whole, "maximum": 10_000_000}),
                    ],
                    "responses": _answers(
                        _object("visits", visits={"type": "array", "items": row})
                    ),
                }
            },
            start + "/{visit}": {
                "get": {
                    "summary": "The assessment of a visit",
                    "parameters": [SHELF, VISIT],
                    "responses": _answers(_object("schema", "state", state=TEXT)),
                }
            },
            start + "/{visit}/questions": {
                "get": {
                    "summary": "Questions of the work, with how far they are",
                    "parameters": [SHELF, VISIT],
                    "responses": _answers(
                        _object(
                            "questions", questions={"type": "array", "items": asked}
                        )
                    ),
                }
            },
            start + "/{visit}/answers": {"post": _post_answer(kept)},
            start + "/{visit}/evidence": {"post": _post_evidence(kept)},
        },
    }


def _post_answer(kept: dict[str, Any]) -> dict[str, Any]:
    body = _object("question", **FIELDS)
    body["additionalProperties"] = False
    return {
        "summary": "Record an answer; the same again is harmless",
        "parameters": [SHELF, VISIT],
        "requestBody": {
            "required": True,
            "content": {"application/json": {"schema": body}},
        },
        "responses": _answers(kept, created=True),
    }


def _post_evidence(kept: dict[str, Any]) -> dict[str, Any]:
    return {
        "summary": "Record a file that answers a question",
        "parameters": [
            SHELF,
            VISIT,
            _query("question", TEXT, required=True),
            _query("nonce", FIELDS["nonce"]),
            _query("lead_m", TEXT),
            _query("tail_m", TEXT),
            _query("cleaning", {"type": "string", "enum": ["dry", "wet", "wet dry"]}),
        ],
        "requestBody": {
            "required": True,
            "content": {
                "application/octet-stream": {
                    "schema": {"type": "string", "format": "binary"}
                }
            },
        },
        "responses": _answers(kept, created=True),
    }
