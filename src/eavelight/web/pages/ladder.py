"""The ladder: where the work stands, and one question per screen."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from eavelight.app.desk import LiveVisit
from eavelight.app.intake import CONTENT, LimitedDecoder, TooMuchError, content_of
from eavelight.app.ladder import AnswerError, Question, Sent, answer, upload
from eavelight.app.ladder.progress import Answered, excuses
from eavelight.app.record_stored import sha256_of
from eavelight.model.finding import Action, Finding, Standing, Verdict
from eavelight.model.observation import ExceptionNote
from eavelight.web import words
from eavelight.web.context import Form, posted, shown, visit_of, wants_json
from eavelight.web.pages.plan import plan_facts
from eavelight.web.render import page, site_of, visit_base, words_of
from eavelight.web.site import Shelf, Site

OFFLINE_FOR = timedelta(days=14)
HEX = set("0123456789abcdef")


@shown("enter")
def ladder(request: Request) -> Response:
    """State, first action, what is missing, and all steps."""
    shelf, visit = visit_of(request)
    progress = visit.progress
    stages: dict[str, list[Answered]] = {}
    for item in progress.answers:
        stages.setdefault(item.question.stage, []).append(item)
    assessment = visit.assessed.assessment
    values = {
        "visit": visit,
        "here": visit_base(shelf, visit),
        "state": assessment.state,
        "action": _action(visit),
        "dangers": _dangers(visit),
        "stages": stages,
        "progress": progress,
        "first": progress.first_open,
        "missing": [i for i in progress.wanted if not i.given],
        "failing": [i for i in progress.answers if i.state == "failing"],
        "begun": bool(visit.stored.visit.readings or visit.stored.visit.evidence),
        "ended": visit.stored.visit.head.ended,
        **_echo(request, visit),
    }
    return page(request, "ladder.html.j2", values)


@shown("enter")
def next_question(request: Request) -> Response:
    """Go to the first question that nothing answers yet."""
    shelf, visit = visit_of(request)
    first = visit.progress.first_open
    here = visit_base(shelf, visit)
    target = f"{here}/ladder/{first.question.id}" if first else f"{here}/ladder"
    return RedirectResponse(target, status_code=303)


def _asked(request: Request) -> tuple[Shelf, LiveVisit, Answered]:
    shelf, visit = visit_of(request)
    index = visit.progress.index(request.path_params["question"])
    if index is None:
        raise HTTPException(404)
    return shelf, visit, visit.progress.answers[index]


# what an entry does not break: open questions first, what another one breaks last
CALM = (Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.PASS, Verdict.FAIL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the page says about the entry before: its answer, with what to do."""

    item: Answered
    name: str
    kind: str

    @property
    def about(self) -> list[Finding]:
        """Findings that rest on the entry, those that it breaks first."""
        found = [
            f
            for f in self.item.findings
            if self.name in f.observations
            and (f.verdict is not Verdict.NOT_MEASURED or self.kind == "evidence")
        ]
        return sorted(found, key=self._urgency)

    def _urgency(self, item: Finding) -> int:
        """What this entry breaks first, what another one breaks last."""
        if self.name in item.breaking:
            return 0
        return 2 * CALM.index(item.verdict) + (2 if self.tells(item) else 3)

    def tells(self, item: Finding) -> bool:
        """Whether a finding is on the very number that was entered."""
        value = None if item.measured is None else item.measured.value
        entered = (r.value for r in self.item.readings if r.id == self.name)
        return self.kind == "evidence" or any(value == mine for mine in entered)

    @property
    def loud(self) -> list[Finding]:
        """What is told at once: what it breaks, else the first."""
        found = self.about
        return [f for f in found if self.name in f.breaking] or found[:1]

    @property
    def fails(self) -> bool:
        """Whether something fails because of it."""
        return any(self.name in f.breaking for f in self.loud)

    @property
    def calm(self) -> list[Finding]:
        """What is one touch away."""
        return self.about[len(self.loud) :]


@shown("enter")
def question(request: Request) -> Response:
    """One question."""
    return _question(request, problem=None, typed={})


def _question(
    request: Request, *, problem: AnswerError | None, typed: dict[str, str]
) -> Response:
    shelf, visit, item = _asked(request)
    answers = visit.progress.answers
    here = answers.index(item)
    said = words_of(request)
    base = visit_base(shelf, visit)
    following = visit.progress.following(item.question.id)
    values = {
        "visit": visit,
        "here": base,
        "next_here": f"{base}/ladder"
        + (f"/{following.question.id}" if following else ""),
        "state": visit.assessed.assessment.state,
        "action": _action(visit),
        "dangers": _dangers(visit),
        "item": item,
        "question": item.question,
        "progress": visit.progress,
        "number": here + 1,
        "previous": answers[here - 1].question if here else None,
        "skip": answers[here + 1].question if here + 1 < len(answers) else None,
        "nonce": secrets.token_hex(6),
        "problem": words.problem(problem, said._) if problem else "",
        "field": problem.field if problem else "",
        "typed": typed,
        **_echo(request, visit),
        "tool": _tool(visit, item.question),
        "facts": plan_facts(visit, item.question.id),
        "accepts": _accepts(item.question),
        "lead_m": _lead(visit),
        "excuses": _excuses(visit, item.question),
        "attempt": visit.progress.attempt_for(item.question.id),
    }
    return page(request, "question.html.j2", values, status=422 if problem else 200)


def _action(visit: LiveVisit) -> Action | None:
    """What to do first; nothing more at the wall once all is there."""
    assessment = visit.assessed.assessment
    first = next(iter(assessment.next_actions), None)
    done = assessment.state == "ready" and all(i.given for i in visit.progress.wanted)
    return None if done and first is not None and first.action == "close" else first


def _dangers(visit: LiveVisit) -> list[Action]:
    """What can hurt somebody: told on every page until it is settled."""
    actions = visit.assessed.assessment.next_actions
    return [item for item in actions if item.standing is Standing.DANGER]


def _echo(request: Request, visit: LiveVisit) -> dict[str, object]:
    """The entry just made, and what mends it where it fails."""
    told = _told(request, visit)
    failing = {f.requirement for f in told.loud} if told is not None else set()
    actions = visit.assessed.assessment.next_actions
    mends = (
        a
        for a in actions
        if failing & set(a.settles) and a.standing is not Standing.DANGER
    )
    return {"told": told, "told_action": next(mends, None)}


def _told(request: Request, visit: LiveVisit) -> Told | None:
    """The entry that was just made, if the address names one that stands."""
    before = request.query_params.get("after", "")
    name = request.query_params.get("entry", "")
    index = visit.progress.index(before)
    if index is None:
        return None
    found = visit.progress.answers[index]
    for reading in found.readings:
        if reading.id == name:
            return Told(item=found, name=name, kind="reading")
    for file in found.evidence:
        if file.evidence.file == name:
            return Told(item=found, name=name, kind="evidence")
    if found.exception is not None:
        for note in visit.stored.view.of("exception"):
            if note.recorded.id == name:
                return Told(item=found, name=name, kind="exception")
    return None


def _excuses(visit: LiveVisit, asked: Question) -> list[tuple[str, str]]:
    """Reasons given for a question, each with the name it is taken back by."""
    found = []
    for note in visit.stored.view.of("exception"):
        what, at, reason = (
            str(note.item.get(key, "")) for key in ("what", "at", "reason")
        )
        told = ExceptionNote(what=what, at=at, reason=reason)
        if excuses(asked, told):
            found.append((note.recorded.id, reason.removeprefix(f"{asked.id}: ")))
    return found


def _tool(visit: LiveVisit, question: Question) -> str:
    """The tool that such a reading was last taken with."""
    found = [
        r for r in visit.stored.visit.readings if r.what == question.what and r.tool
    ]
    last = max(found, key=lambda r: r.time, default=None)
    return last.tool or "" if last else ""


def _lead(visit: LiveVisit) -> str:
    found = [e.lead_m for e in visit.stored.visit.evidence if e.lead_m]
    return f"{found[-1]:g}" if found else ""


def _accepts(question: Question) -> str:
    return {
        "trace": ".sor,.SOR,application/octet-stream",
        "face": "image/png,image/jpeg,image/webp,image/bmp,image/tiff",
        "photo": "image/png,image/jpeg,image/webp",
    }.get(question.form, "")


@posted("enter")
def enter(request: Request, form: Form) -> Response:
    """Take an answer; it is in the record before this answers."""
    shelf, visit, item = _asked(request)
    asked = item.question
    try:
        if asked.is_evidence and form.data is not None:
            name, _ = keep_file(site_of(request), shelf, visit, asked, form=form)
        else:
            name, _ = keep_answer(shelf, visit, asked, form)
    except AnswerError as error:
        if wants_json(request):
            told = words.problem(error, words_of(request)._)
            return JSONResponse(
                {"ok": False, "field": error.field, "problem": told}, status_code=422
            )
        return _question(request, problem=error, typed=dict(form.values))
    target = _after(shelf, visit.id, asked, name)
    if wants_json(request):
        return JSONResponse({"ok": True, "next": target})
    return RedirectResponse(target, status_code=303)


def keep_answer(
    shelf: Shelf, visit: LiveVisit, asked: Question, form: Form
) -> tuple[str, bool]:
    """Record an answer: its id, and whether it is new."""
    sent = _sent(shelf, visit, form)
    if asked.form in {"trace", "photo"} and not sent.text("why_not"):
        raise AnswerError("file", "missing")
    entry = answer(asked, sent, visit.stored.visit.plan)
    new = shelf.live.add(visit.id, entry)
    return str(entry.item.get("id", "")), new


def _after(shelf: Shelf, id: str, asked: Question, name: str) -> str:
    """The next open question, told about the entry that was just made."""
    visit = shelf.visit(id)
    if visit is None:
        raise HTTPException(404)
    if not name:
        notes = visit.stored.view.of("exception")
        last = max(notes, key=lambda n: n.recorded.number, default=None)
        name = last.recorded.id if last else ""
    where = urlencode({"after": asked.id, "entry": name})
    here = visit_base(shelf, visit)
    following = visit.progress.following(asked.id)
    if following is None:
        return f"{here}/ladder?{where}"
    return f"{here}/ladder/{following.question.id}?{where}"


def _sent(shelf: Shelf, visit: LiveVisit, form: Form) -> Sent:
    """The entry with its time: that of the page where it had to wait for the server."""
    now = shelf.live.moment(visit)
    at = now
    stated = form.text("entered_at")
    if stated:
        try:
            then = datetime.fromisoformat(stated)
        except ValueError:
            then = now
        if then.tzinfo is not None and now - OFFLINE_FOR < then < now:
            at = then.astimezone(now.tzinfo)
    nonce = form.text("nonce")
    if not 8 <= len(nonce) <= 32 or not set(nonce) <= HEX:
        nonce = secrets.token_hex(6)
    # to the millisecond, so that of two answers within a second the later one counts
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    return Sent(nonce=nonce, at=at, values=form.values)


def keep_file(
    site: Site, shelf: Shelf, visit: LiveVisit, asked: Question, *, form: Form
) -> tuple[str, bool]:
    """Record a file, told by its content and decoded in the limited process first."""
    sent, data = _sent(shelf, visit, form), form.data or b""
    content = content_of(data)
    if content is None or asked.what not in content.whats:
        kinds = [k for k, c in CONTENT.items() if asked.what in c.whats]
        raise AnswerError("file", "kind", ", ".join(kinds))
    if len(data) > content.most_bytes:
        raise AnswerError("file", "large")
    digest = sha256_of(data)
    plan = visit.stored.visit.plan
    entry = upload(asked, sent, plan, sha256=digest, ending=content.ending)
    _tried(site.decoder, data, entry.item, asked)
    new = shelf.live.add(visit.id, entry, data=data)
    return str(entry.item["file"]), new


def _tried(
    decoder: LimitedDecoder, data: bytes, item: dict[str, object], asked: Question
) -> None:
    """Refuse what cannot be read, or was taken at another wavelength than asked for.

    A face that cannot be trusted is kept: its finding says what to do.
    """
    keys = ("what", "at", "lead_m", "tail_m", "polish")
    about = {key: item[key] for key in keys if key in item}
    try:
        looked = decoder.look(data, about)
    except TooMuchError:
        raise AnswerError("file", "unsafe") from None
    if looked.error is not None and item["what"] != "endface":
        raise AnswerError("file", "unreadable", looked.error)
    taken_nm = looked.summary.get("wavelength_nm")
    if taken_nm is not None and not asked.is_near(float(taken_nm)):
        raise AnswerError("file", "wavelength", f"{float(taken_nm):.0f} nm")


@posted("enter")
def undo(request: Request, form: Form) -> Response:
    """Take one entry back."""
    shelf, visit, item = _asked(request)
    kind = form.text("kind")
    if kind not in {"reading", "evidence", "exception"}:
        raise HTTPException(422)
    shelf.live.withdraw(visit.id, kind, form.text("name"), reason="undone")
    target = f"{visit_base(shelf, visit)}/ladder/{item.question.id}"
    return RedirectResponse(target, status_code=303)
