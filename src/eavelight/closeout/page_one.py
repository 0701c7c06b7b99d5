"""The first page: enough for somebody with twenty seconds."""

import hashlib
from collections.abc import Iterable

from eavelight.assess.assessment import accepted
from eavelight.assess.exceptions import weight
from eavelight.closeout.document import Facts, PageOne, Row, Table
from eavelight.closeout.level_story import level_figure
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import clip, column, finding_table
from eavelight.model.finding import Finding, Verdict
from eavelight.model.observation import ExceptionNote
from eavelight.model.requirements import STEPS
from eavelight.wording.numbers import clock

STATE_MARKS = {"ready": "✓", "not ready": "✕", "undecided": "?"}
MOST_OPEN, MOST_EXCEPTIONS, LONGEST_REASON = 4, 3, 150
LONGEST_SENTENCE, LONGEST_WORD, ANY = 320, 40, 10**9

# Failing findings in the order in which they explain the others: the wrong port makes
# the level wrong, a bend makes the loss high, a joint shows only at battery cut-off.
EXPLAINS = (
    "identity.port_in_use", "identity.port", "identity.registered", "identity.fibre",
    "feed.polarity", "identity.polish", "loss.slope", "splice", "endface.grade",
    "cleave", "loss.plausible", "loss.drop", "bend", "trace", "level.expected",
    "level.window", "feed.cutoff", "feed.loaded", "feed", "evidence.duplicate",
    "evidence.noise_copied", "evidence", "housing", "record",
)  # fmt: skip


def page_one(material: Material) -> PageOne:
    """Everything on the first page."""
    head, state = material.visit.head, material.assessment.state
    shown = blocking(material.assessment.findings)
    return PageOne(
        heading=material.say("closeout.heading", visit=clip(head.id, LONGEST_WORD)),
        state=state,
        state_mark=STATE_MARKS[state],
        state_word=material.say(f"state.{state.replace(' ', '_')}"),
        reason=clip(_reason(material, shown), LONGEST_SENTENCE),
        counts=_counts(material),
        next_step=clip(_next_step(material), LONGEST_SENTENCE),
        facts=_facts(material),
        open_findings=_open(material, shown),
        exceptions=_exceptions(material),
        no_exceptions=material.say("closeout.no_exceptions"),
        level_line=level_figure(material),
        no_level_line=material.say("closeout.no_level_line"),
        signatures=_signatures(material),
        record_label=material.say("closeout.record"),
        record_sha256=hashlib.sha256(material.record).hexdigest(),
    )


def blocking(findings: Iterable[Finding]) -> list[Finding]:
    """Findings that keep the visit from ready, those that explain others first."""
    fails, open_answers = [], []
    for item in findings:
        if accepted(item):
            continue
        if item.verdict is Verdict.FAIL and not item.advisory:
            fails.append(item)
        elif item.required and item.verdict in {
            Verdict.UNDECIDED,
            Verdict.NOT_MEASURED,
        }:
            open_answers.append(item)
    fails.sort(key=_explains)
    open_answers.sort(key=lambda item: item.verdict is Verdict.NOT_MEASURED)
    return fails + open_answers


def _explains(item: Finding) -> int:
    for rank, start in enumerate(EXPLAINS):
        if item.requirement.startswith(start):
            return rank
    return len(EXPLAINS)


def _reason(material: Material, shown: list[Finding]) -> str:
    state = material.assessment.state
    if state == "ready" or not shown:
        count = sum(accepted(item) for item in material.assessment.findings)
        name = "ready_exceptions" if count else "ready"
        return material.say(f"closeout.reason.{name}", count=count)
    because = material.told(shown[0].because)
    if state == "not ready":
        return because
    name = "undecided" if len(shown) > 1 else "undecided_one"
    return material.say(f"closeout.reason.{name}", count=len(shown), because=because)


def _counts(material: Material) -> str:
    findings = material.assessment.findings
    by = {
        verdict: [item for item in findings if item.verdict is verdict]
        for verdict in Verdict
    }
    missing = by[Verdict.NOT_MEASURED]
    return material.say(
        "closeout.counts",
        fail=len(by[Verdict.FAIL]),
        undecided=len(by[Verdict.UNDECIDED]),
        missing=len(missing),
        asked=sum(item.required for item in missing),
        **{"pass": len(by[Verdict.PASS])},
    )


def _next_step(material: Material) -> str:
    actions = material.assessment.next_actions
    if material.assessment.state == "ready" or not actions:
        return ""
    text = material.told(actions[0].text)
    return material.say("closeout.next", text=text, minutes=actions[0].minutes)


def _facts(material: Material) -> Facts:
    head, plan = material.visit.head, material.visit.plan
    assigned = plan.assignment
    port = [part for part in (assigned.hub, assigned.splitter, assigned.port) if part]
    crew = [part for part in (head.crew, head.technician) if part]
    started = clock(head.started)
    if head.ended is None:
        period = material.say("closeout.head.since", started=started)
    else:
        ended = clock(head.ended)
        period = material.say("closeout.head.period", started=started, ended=ended)
    pairs = (
        ("site", plan.site.key),
        ("purpose", material.word(head.purpose)),
        ("port", " / ".join(port)),
        ("terminal", assigned.terminal_serial),
        ("crew", " · ".join(crew)),
        ("time", period),
    )
    return Facts(
        pairs=tuple(
            (material.say(f"closeout.head.{name}"), clip(value, LONGEST_WORD))
            for name, value in pairs
            if value
        )
    )


def _open(material: Material, shown: list[Finding]) -> Table | None:
    if not shown:
        return None
    title = material.say("closeout.open.title")
    table = finding_table(material, shown[:MOST_OPEN], title=title, notes=False)
    rows = tuple(
        Row(cells=tuple(clip(cell, 90) for cell in row.cells), mark=row.mark)
        for row in table.rows
    )
    return Table(
        title=table.title,
        columns=table.columns,
        rows=rows + _more(material, len(shown) - MOST_OPEN, len(table.columns)),
    )


def _more(material: Material, count: int, columns: int) -> tuple[Row, ...]:
    if count <= 0:
        return ()
    text = material.say("closeout.more_rows", count=count)
    return (Row(cells=("",) * columns, notes=(text,)),)


def _exception_row(material: Material, note: ExceptionNote, *, whole: bool) -> Row:
    """An exception as it was written down, cut where the page has no room."""
    short, reason = (ANY, ANY) if whole else (LONGEST_WORD, LONGEST_REASON)
    if note.what in STEPS:
        name = material.say(f"step.{note.what.replace(' ', '_')}")
    else:
        name = material.requirement(note.what)
    accepted_by = note.accepted_by or material.say("closeout.exception.nobody")
    return Row(
        cells=(
            name,
            clip(material.place(note.at), short),
            clip(note.reason, reason),
            clip(accepted_by, short),
            note.due.isoformat() if note.due else "",
        ),
        mark="" if note.accepted_by else "undecided",
    )


def exception_table(material: Material, *, whole: bool) -> Table | None:
    """The exceptions, whole or as many as page one has room for; None without any."""
    every = [
        _exception_row(material, note, whole=whole)
        for note in sorted(
            material.visit.exceptions,
            key=lambda note: weight(note.what, material.assessment.findings),
        )
    ]
    rows = len(every) if whole else MOST_EXCEPTIONS
    if not every:
        return None
    return Table(
        title=material.say("closeout.exception.title"),
        columns=(
            column(material, "what", weight=1.6),
            column(material, "where", weight=1.0),
            column(material, "reason", weight=2.6),
            column(material, "accepted", weight=1.1),
            column(material, "due", weight=0.9),
        ),
        rows=(*every[:rows], *_more(material, len(every) - rows, 5)),
    )


def _exceptions(material: Material) -> Table | None:
    return exception_table(material, whole=False)


def _signatures(material: Material) -> Table:
    none = material.say("closeout.signature.none")
    if material.signatures:
        rows = [(item.role, item.who, item.state) for item in material.signatures]
    else:
        technician = material.visit.head.technician or ""
        rows = [
            (material.say("closeout.signature.technician"), technician, none),
            (material.say("closeout.signature.desk"), "", none),
        ]
    return Table(
        title=material.say("closeout.signature.title"),
        columns=(
            column(material, "role"),
            column(material, "who"),
            column(material, "signed"),
        ),
        rows=tuple(
            Row(cells=tuple(clip(cell, LONGEST_WORD) for cell in row)) for row in rows
        ),
    )
