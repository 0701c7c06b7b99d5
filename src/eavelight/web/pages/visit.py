"""One visit at the desk: level line, findings by part, evidence, decision."""

from collections.abc import Iterable
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from eavelight.app.clock import now
from eavelight.app.desk import LiveVisit, decide, decision_of
from eavelight.app.desk.decide import (
    Decision,
    DecisionError,
    accept_exception,
    end_visit,
    reopen_visit,
    start_visit,
)
from eavelight.app.seal_visit import countersign
from eavelight.errors import EavelightError
from eavelight.model.finding import Finding, Verdict
from eavelight.model.observation import FileObservation, Reading
from eavelight.web.context import Form, posted, shown, visit_of
from eavelight.web.pages.beside import beside, query_of
from eavelight.web.render import page, person_of, visit_base
from eavelight.web.site import Shelf

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


@shown()
def visit_page(request: Request) -> Response:
    """Everything about one visit."""
    return _page(request, problem="")


def _page(request: Request, *, problem: str) -> Response:
    shelf, visit = visit_of(request)
    assessment = visit.assessed.assessment
    everything = request.query_params.get("all") == "yes"
    queued = beside(request, shelf, visit.id)
    groups = list(_groups(visit, everything=everything))
    passes = sum(f.verdict is Verdict.PASS for f in assessment.findings)
    values = {
        "visit": visit,
        "head": visit.stored.visit.head,
        "site": visit.stored.visit.plan.site,
        "here": visit_base(shelf, visit),
        "state": assessment.state,
        "actions": assessment.next_actions[:3],
        "groups": groups,
        "passes": passes,
        "everything": everything,
        "files": visit.assessed.observations.files,
        "exceptions": visit.stored.view.of("exception"),
        "superseded": len(visit.stored.view.superseded),
        "notes": visit.assessed.notes,
        "causes": [c for c in assessment.causes if c.get("cause") != "none"][:3],
        "decision": decision_of(shelf.live.record.store, visit.id),
        "seals": shelf.live.record.store.seals(visit.id),
        "level_words": shelf.pictures.level_words(visit),
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


def _groups(visit: LiveVisit, *, everything: bool) -> Iterable[tuple[str, list[Shown]]]:
    """Findings by part, in the order of the path; what passes only on request."""
    seen = visit.assessed.observations
    readings = {item.id: item for item in seen.readings}
    files = {item.evidence.file: item for item in seen.files}
    parts = [part.name for part in visit.stored.visit.plan.plant.part]
    order = [*parts, *RESERVED]
    by_part: dict[str, list[Shown]] = {}
    for item in visit.assessed.assessment.findings:
        hidden = item.verdict is Verdict.PASS or (
            item.verdict is Verdict.NOT_MEASURED and not item.required
        )
        if hidden and not everything:
            continue
        rests = item.observations
        by_part.setdefault(item.subject, []).append(
            Shown(
                finding=item,
                readings=tuple(readings[id] for id in rests if id in readings),
                files=tuple(files[id] for id in rests if id in files),
            )
        )
    places = {name: n for n, name in enumerate(order)}
    for name in sorted(by_part, key=lambda n: (places.get(n, 99), n)):
        found = by_part[name]
        found.sort(key=lambda item: ORDER.index(item.finding.verdict))
        yield name, found


def _back(request: Request) -> Response:
    shelf, visit = visit_of(request)
    target = visit_base(shelf, visit) + query_of(request.query_params)
    return RedirectResponse(target, status_code=303)


@posted("decide")
def decide_visit(request: Request, form: Form) -> Response:
    """Accept, hold or send back; then the next visit of the queue."""
    shelf, visit = visit_of(request)
    following = beside(request, shelf, visit.id).after
    person = person_of(request)
    by = person.name if person else ""
    try:
        made = decide(
            shelf.live,
            visit,
            answer=form.text("answer"),
            reason=form.text("reason"),
            by=by,
        )
    except DecisionError as error:
        return _page(request, problem=str(error))
    if made.answer == "accept" and shelf.live.record.store.seals(visit.id):
        countersign(shelf.live.record, visit.id, by=by)
    shelf.visit(visit.id)
    if following is None:
        return _back(request)
    more = query_of(request.query_params, decided=visit.id)
    target = visit_base(shelf, following.visit)
    return RedirectResponse(f"{target}{more}", status_code=303)


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
    return _back(request)


@posted("enter")
def begin(request: Request, form: Form) -> Response:  # noqa: ARG001
    """The work begins now."""
    shelf, visit = visit_of(request)
    if not visit.stored.visit.readings:
        start_visit(shelf.live, visit)
    return RedirectResponse(f"{visit_base(shelf, visit)}/ladder/next", status_code=303)


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
