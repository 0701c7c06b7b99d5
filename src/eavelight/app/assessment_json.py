"""The assessment in the JSON of the contract: add, never rename."""

import math
from collections.abc import Mapping
from typing import Any

from eavelight.model.finding import Action, Assessment, Finding, Limit, Quantity, Step
from eavelight.model.message import Message
from eavelight.model.observation import ExceptionNote
from eavelight.wording import say

SCHEMA = "eavelight.assessment/1"


def assessment_json(assessment: Assessment, *, notes: tuple[str, ...] = ()) -> Any:
    """The assessment as plain data."""
    return {
        "schema": SCHEMA,
        "visit": assessment.visit,
        "profile": assessment.profile,
        "state": assessment.state,
        "findings": [finding_json(item) for item in assessment.findings],
        "before": [step_json(item) for item in assessment.before],
        "hypotheses": [dict(item) for item in assessment.hypotheses],
        "causes": [cause_json(item) for item in assessment.causes],
        "next_actions": [action_json(item) for item in assessment.next_actions],
        "cautions": [say(item) for item in assessment.cautions],
        "advice": [say(item) for item in assessment.advice],
        "notes": list(notes),
    }


def cause_json(item: Mapping[str, Any]) -> dict[str, Any]:
    """One cause with its reasons in words."""
    return {
        **item,
        "because": [say(reason) for reason in item["because"]],
        "against": [say(reason) for reason in item["against"]],
        "settle": sentence(item.get("settle")),
    }


def finding_json(item: Finding) -> dict[str, Any]:
    """One finding; absent numbers are null."""
    data: dict[str, Any] = {
        "requirement": item.requirement,
        "subject": item.subject,
        "wavelength_nm": item.wavelength_nm,
        "verdict": item.verdict.value,
        "required": item.required,
        "advisory": item.advisory,
        "measured": quantity_json(item.measured),
        "expected": quantity_json(item.expected),
        "limit": limit_json(item.limit),
        "probability": number(item.probability),
        "because": say(item.because),
        "because_id": item.because.id,
        "decide_by": sentence(item.decide_by),
        "observations": list(item.observations),
        "broken_by": list(item.breaking),
    }
    side = item.because.values.get("side")
    if side is not None:
        data["side"] = side
    if item.exception is not None:
        data["exception"] = exception_json(item.exception)
    return data


def sentence(message: Message | None) -> str | None:
    """A sentence, or null."""
    return None if message is None else say(message)


def number(value: float | None) -> float | None:
    """A plain number; what is not finite is absent."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def quantity_json(quantity: Quantity | None) -> dict[str, Any] | None:
    """A value with unit and standard uncertainty."""
    if quantity is None:
        return None
    value = quantity.value
    return {
        "value": value if isinstance(value, str) else number(value),
        "unit": quantity.unit,
        "u": number(quantity.u),
    }


def limit_json(limit: Limit | None) -> dict[str, Any] | None:
    """A limit with its clause, edition and confidence."""
    if limit is None:
        return None
    return {
        "low": number(limit.low),
        "high": number(limit.high),
        "unit": limit.unit,
        "clause": limit.clause,
        "edition": limit.edition,
        "confidence": limit.confidence,
    }


def exception_json(note: ExceptionNote) -> dict[str, Any]:
    """An exception as it was written down."""
    return {
        "what": note.what,
        "at": note.at,
        "reason": note.reason,
        "accepted_by": note.accepted_by,
        "due": note.due.isoformat() if note.due else None,
    }


def step_json(step: Step) -> dict[str, Any]:
    """One point of no return."""
    data: dict[str, Any] = {
        "step": step.step,
        "clear": step.clear,
        "passed": step.passed,
        "missing": [say(item) for item in step.missing],
        "against": [say(item) for item in step.against],
    }
    if step.exception is not None:
        data["exception"] = exception_json(step.exception)
    return data


def action_json(action: Action) -> dict[str, Any]:
    """One next action."""
    return {
        "action": action.action,
        "at": action.at,
        "why": say(action.why),
        "text": say(action.text),
        "minutes": action.minutes,
        "resolves": list(action.resolves),
        "settles": list(action.settles),
        "standing": action.standing.value,
        "guards": action.guards,
        "cautions": [say(item) for item in action.cautions],
    }
