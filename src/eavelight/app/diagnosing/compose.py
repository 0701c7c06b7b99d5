"""The verdicts of a visit with the diagnosis beside them; it changes none."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from eavelight.app.diagnosing.case import case_of
from eavelight.assess.actions import nearby_first, street_last, verdict_of
from eavelight.assess.assessment import accepted, assess, context_of
from eavelight.diagnosis.diagnose import diagnose
from eavelight.diagnosis.outcome import Advice, Cause, Diagnosis, Fault
from eavelight.model.finding import Action, Assessment, Standing, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import Observations, OtherVisit
from eavelight.model.plan import Plan
from eavelight.standards.profiles import Profile

# What concerns another home stays in front of the diagnosis.
FIRST = {
    "restore-neighbour", "check-port", "prove-fibre", "call-desk-registration",
}  # fmt: skip
GENERIC = {"drop", "path", "box"}
MOST, LISTED, LEAST = 12, 8, 0.005
# How sure "nothing wrong" must be to keep quiet: where the findings say close; else.
READY_TO_CLOSE, STILL_OPEN = 0.5, 0.85


def assess_and_diagnose(
    visit: str,
    plan: Plan,
    observations: Observations,
    profile: Profile,
    others: Iterable[OtherVisit] = (),
) -> Assessment:
    """Assess one visit, then weigh its causes; every verdict stays as it was."""
    listed = tuple(others)
    assessment = assess(visit, plan, observations, profile, listed)
    context = context_of(visit, plan, observations, profile, listed)
    return with_diagnosis(assessment, diagnose(case_of(context, assessment.findings)))


def with_diagnosis(assessment: Assessment, diagnosis: Diagnosis) -> Assessment:
    """An assessment with causes, hypotheses and the actions of both."""
    return replace(
        assessment,
        hypotheses=tuple(
            {
                "faults": [_fault(fault) for fault in item.faults],
                "probability": item.probability,
                **({"other": True} if item.other else {}),
            }
            for item in diagnosis.hypotheses
        ),
        causes=tuple(_causes(diagnosis)),
        next_actions=actions_of(assessment, diagnosis),
    )


def _fault(fault: Fault) -> dict[str, Any]:
    return {"cause": fault.cause, "at": fault.at, "detail": dict(fault.detail)}


def _causes(diagnosis: Diagnosis) -> Iterator[dict[str, Any]]:
    for index, cause in enumerate(diagnosis.causes):
        shown = index < LISTED and cause.probability >= LEAST
        if shown or cause.cause == "none":
            yield cause_table(cause)


def cause_table(cause: Cause) -> dict[str, Any]:
    """One cause as the contract has it, sentences still unsaid."""
    return {
        "cause": cause.cause,
        "at": cause.at,
        "probability": cause.probability,
        "because": cause.because,
        "against": cause.against,
        "settle": cause.settle,
        "detail": dict(cause.detail),
    }


def actions_of(assessment: Assessment, diagnosis: Diagnosis) -> tuple[Action, ...]:
    """The classes of the findings first, then the diagnosis, then what is left.

    Danger, other homes and guards of steps to come stand whatever the cause is; only
    what is plain gives way to the diagnosis.
    """
    given = [a for a in assessment.next_actions if a.standing is Standing.PLAIN]
    closing = bool(given) and given[0].action == "close"
    advice = [_action(item) for item in _worth_saying(diagnosis, closing=closing)]
    front = [
        _with_cause(item, advice)
        for item in assessment.next_actions
        if item.standing is not Standing.PLAIN
    ]
    calm = diagnosis.nothing_wrong >= READY_TO_CLOSE
    failing = _failing(assessment) if calm else set()
    lead = []
    while given and (given[0].action in FIRST or failing & set(given[0].settles)):
        lead.append(given.pop(0))
    if closing and calm:
        lead.append(given.pop(0))
    kept_splices = {a.at for a in advice if a.why.id.startswith("diagnosis.keep")}
    nearby = {(a.action, a.at) for a in given if a.nearby}
    told: dict[tuple[str, str], Action] = {}
    for action in (*front, *lead, *advice, *given):
        if action.action == "re-splice" and kept_splices & {action.at, "drop"}:
            continue
        if not _already(action, told):
            near = (action.action, action.at) in nearby
            told[action.action, action.at] = replace(action, nearby=near)
    settles = {a.action: a.settles for a in assessment.next_actions}
    listed = [replace(a, settles=settles.get(a.action, ())) for a in told.values()]
    if verdict_of(assessment.findings, "identity.port") is Verdict.PASS:
        listed = street_last(listed)
    return tuple(nearby_first(listed))[:MOST]


def _failing(assessment: Assessment) -> set[str]:
    """What fails by itself, such as a time that cannot be, with nothing else wrong."""
    return {
        item.requirement
        for item in assessment.findings
        if item.verdict is Verdict.FAIL and not (item.advisory or accepted(item))
    }


def _already(action: Action, told: Mapping[tuple[str, str], Action]) -> bool:
    """Whether the same was told here or in general, or as a danger anywhere."""
    return any(
        other.action == action.action
        and (
            other.at == action.at
            or action.at in GENERIC
            or (Standing.DANGER is other.standing and other.standing != action.standing)
        )
        for other in told.values()
    )


def _with_cause(action: Action, advice: Sequence[Action]) -> Action:
    """A guard with the reason of the diagnosis, where that advises the same."""
    if action.standing is not Standing.GUARD:
        return action
    same = (a for a in advice if (a.action, a.at) == (action.action, action.at))
    found = next(same, None)
    return action if found is None else replace(action, why=found.why)


def _worth_saying(diagnosis: Diagnosis, *, closing: bool) -> Iterator[Advice]:
    """All advice where something may well be wrong, else only what needs no cause."""
    wrong = diagnosis.nothing_wrong < (READY_TO_CLOSE if closing else STILL_OPEN)
    for item in diagnosis.advice:
        if wrong or item.gain_per_minute == 0.0:
            yield item


def _action(item: Advice) -> Action:
    return Action(
        action=item.action,
        at=item.at,
        why=item.why,
        text=Message(f"action.{item.action}", {"at": item.at}),
        minutes=item.minutes,
        resolves=item.resolves,
        cautions=item.cautions,
    )
