"""One visit at the desk: level line, findings by part, evidence, decision."""

from collections import Counter
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from eavelight.app.clock import now
from eavelight.app.desk import LiveVisit, decide, decision_of
from eavelight.app.desk.decide import (
    ACCEPT,
    Decision,
    DecisionError,
    accept_exception,
    end_visit,
    reopen_visit,
    start_visit,
)
from eavelight.app.desk.summaries import worst_finding
from eavelight.app.record_view import Standing
from eavelight.app.seal_visit import countersign
from eavelight.assess.exceptions import UNASKED, weight
from eavelight.errors import EavelightError
from eavelight.model.finding import Action, Assessment, Finding, Verdict
from eavelight.model.observation import FileObservation, Reading
from eavelight.web.context import Form, posted, shown, visit_of
from eavelight.web.pages.beside import beside, query_of
from eavelight.web.pages.compare import other_of
from eavelight.web.render import look_of, page, person_of, visit_base
from eavelight.web.site import Shelf
from eavelight.wording import say

ORDER = (Verdict.FAIL, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.PASS)
RESERVED = (
    "hub", "path", "drop", "tray", "box", "supply", "battery", "outside",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A finding with the readings and files that it rests on."""

    finding: Finding
    readings: tuple[Reading, ...]
    files: tuple[FileObservation, ...]
    beside: str = ""


@shown()
def visit_page(request: Request) -> Response:
    """Everything about one visit."""
    return _page(request, problem="")


def _page(request: Request, *, problem: str) -> Response:
    shelf, visit = visit_of(request)
    assessment = visit.assessed.assessment
    state = assessment.state
    everything = request.query_params.get("all") == "yes"
    queued = beside(request, shelf, visit.id)
    open_ones = _shown(visit, everything=everything)
    advice = [item for item in open_ones if item.finding.advisory]
    passes = sum(f.verdict is Verdict.PASS for f in assessment.findings)
    values = {
        "visit": visit,
        "head": visit.stored.visit.head,
        "site": visit.stored.visit.plan.site,
        "here": visit_base(shelf, visit),
        "state": state,
        "reason": worst_finding(assessment.findings) if state != "ready" else None,
        "sides": Counter(filter(None, map(other_of, assessment.findings))),
        "actions": _actions(assessment, ended=bool(visit.line.ended))[:3],
        "groups": _groups(visit, [i for i in open_ones if not i.finding.advisory]),
        "advice": advice,
        "passes": passes,
        "everything": everything,
        "files": visit.assessed.observations.files,
        **_exceptions(visit),
        "superseded": len(visit.stored.view.superseded),
        "notes": visit.assessed.notes,
        "causes": [c for c in assessment.causes if c.get("cause") != "none"][:3],
        "decision": decision_of(shelf.live.record.store, visit.id),
        "seals": shelf.live.record.store.seals(visit.id),
        "level_words": shelf.pictures.level_words(visit, look_of(request)),
        "feed": visit.stored.visit.plan.feed,
        "baseline": visit.stored.visit.head.baseline,
        "problem": problem,
        "queued": queued,
        "just": _just(request, shelf),
        "now": now(),
    }
    return page(request, "visit.html.j2", values, status=422 if problem else 200)


def _just(request: Request, shelf: Shelf) -> tuple[str, Decision] | None:
    """The decision on the visit before, told once on the page of the next."""
    before = request.query_params.get("decided", "")
    made = decision_of(shelf.live.record.store, before) if before else None
    return (before, made) if made else None


def _shown(visit: LiveVisit, *, everything: bool) -> list[Shown]:
    """Findings that need a look; what passes only on request."""
    seen = visit.assessed.observations
    readings = {item.id: item for item in seen.readings}
    files = {item.evidence.file: item for item in seen.files}
    found = []
    for item in visit.assessed.assessment.findings:
        hidden = item.verdict is Verdict.PASS or (
            item.verdict is Verdict.NOT_MEASURED and not item.required
        )
        if hidden and not everything:
            continue
        rests = item.observations
        found.append(
            Shown(
                finding=item,
                readings=tuple(readings[id] for id in rests if id in readings),
                files=tuple(files[id] for id in rests if id in files),
                beside=other_of(item),
            )
        )
    return found


def _groups(visit: LiveVisit, shown: list[Shown]) -> list[tuple[str, list[Shown]]]:
    """Findings by part: parts where something fails first, then along the path."""
    parts = [part.name for part in visit.stored.visit.plan.plant.part]
    places = {name: n for n, name in enumerate([*parts, *RESERVED])}
    by_part: dict[str, list[Shown]] = {}
    for item in shown:
        by_part.setdefault(item.finding.subject, []).append(item)
    for found in by_part.values():
        found.sort(key=lambda item: ORDER.index(item.finding.verdict))
    return sorted(
        by_part.items(),
        key=lambda item: (
            item[1][0].finding.verdict is not Verdict.FAIL,
            places.get(item[0], 99),
            item[0],
        ),
    )


def _exceptions(visit: LiveVisit) -> dict[str, list[Standing]]:
    """Exceptions to decide on, points of no return first; and the others."""
    findings = visit.assessed.assessment.findings
    weighed = [
        (weight(str(note.item.get("what", "")), findings), note)
        for note in visit.stored.view.of("exception")
    ]
    weighed.sort(key=lambda item: item[0])
    return {
        "exceptions": [note for heavy, note in weighed if heavy < UNASKED],
        "unasked": [note for heavy, note in weighed if heavy == UNASKED],
    }


def _actions(assessment: Assessment, *, ended: bool) -> list[Action]:
    """What the crew does next: each sentence once, mere advice after the rest.

    Nobody is told to close a box after the end of the visit.
    """
    advisory = {
        f.requirement
        for f in assessment.findings
        if f.advisory and f.verdict is not Verdict.PASS
    }
    once: dict[str, Action] = {}
    for action in assessment.next_actions:
        if ended and action.action == "close":
            continue
        once.setdefault(say(action.text), action)
    return sorted(
        once.values(),
        key=lambda action: bool(action.settles) and set(action.settles) <= advisory,
    )


def _back(request: Request, *, at: str = "") -> Response:
    shelf, visit = visit_of(request)
    target = visit_base(shelf, visit) + query_of(request.query_params)
    return RedirectResponse(target + at, status_code=303)


@posted("decide")
def decide_visit(request: Request, form: Form) -> Response:
    """Accept, hold or send back; then the next visit of the queue."""
    shelf, visit = visit_of(request)
    following = beside(request, shelf, visit.id).after
    person = person_of(request)
    by = person.name if person else ""
    answer, reason = form.text("answer"), form.text("reason")
    try:
        write_decision(shelf, visit, answer=answer, reason=reason, by=by)
    except DecisionError as error:
        return _page(request, problem=str(error))
    if following is None:
        return _back(request)
    more = query_of(request.query_params, decided=visit.id)
    target = visit_base(shelf, following.visit)
    return RedirectResponse(f"{target}{more}", status_code=303)


def write_decision(
    shelf: Shelf, visit: LiveVisit, *, answer: str, reason: str, by: str
) -> None:
    """Record a decision, countersign a seal that is accepted, renew the queue's line.

    Raises
    ------
    DecisionError
        If the answer is none, or lacks its reason.
    """
    made = decide(shelf.live, visit, answer=answer, reason=reason, by=by)
    if made.answer == ACCEPT and shelf.live.record.store.seals(visit.id):
        countersign(shelf.live.record, visit.id, by=by)
    shelf.visit(visit.id)


@posted("decide")
def accept_one(request: Request, form: Form) -> Response:
    """Accept one exception as it is."""
    shelf, visit = visit_of(request)
    person = person_of(request)
    done = accept_exception(
        shelf.live,
        visit,
        recorded=form.text("recorded"),
        by=person.name if person else "",
    )
    if not done:
        raise HTTPException(404)
    return _back(request, at="#exceptions")


@posted("enter")
def begin(request: Request, form: Form) -> Response:  # noqa: ARG001
    """The work begins now."""
    shelf, visit = visit_of(request)
    if not visit.stored.visit.readings:
        start_visit(shelf.live, visit)
    first = visit.progress.answers[0].question.id
    here = visit_base(shelf, visit)
    return RedirectResponse(f"{here}/ladder/{first}", status_code=303)


@posted("enter")
def go_on(request: Request, form: Form) -> Response:  # noqa: ARG001
    """The work goes on after an end."""
    shelf, visit = visit_of(request)
    if visit.stored.visit.head.ended is not None:
        reopen_visit(shelf.live, visit)
    return RedirectResponse(f"{visit_base(shelf, visit)}/ladder", status_code=303)


@posted("enter")
def finish(request: Request, form: Form) -> Response:  # noqa: ARG001
    """The work ends now."""
    shelf, visit = visit_of(request)
    end_visit(shelf.live, visit)
    return RedirectResponse(f"{visit_base(shelf, visit)}/handover", status_code=303)


@posted("enter")
def seal(request: Request, form: Form) -> Response:  # noqa: ARG001
    """Seal the visit with its closeout."""
    from eavelight.app.record import evidence_row
    from eavelight.app.seal_visit import seal_closeout

    shelf, visit = visit_of(request)
    try:
        document = shelf.pictures.document(visit, "closeout.pdf")
        seal_closeout(
            shelf.live.record,
            visit.id,
            document=document,
            row=evidence_row(document),
            state=visit.assessed.assessment.state,
        )
    except EavelightError as error:
        raise HTTPException(422, str(error)) from None
    return RedirectResponse(f"{visit_base(shelf, visit)}/handover", status_code=303)
