"""An assessment as a page of text: short lines, numbers with units, no decoration."""

import textwrap
from collections.abc import Iterable, Iterator

from eavelight.app.assess_visit import AssessedVisit
from eavelight.model.finding import (
    Action,
    Assessment,
    Finding,
    Quantity,
    Standing,
    Step,
    Verdict,
)
from eavelight.model.message import Message
from eavelight.wording import quantity, say, with_uncertainty

WIDTH = 78
# Causes below this are not shown; above the last one nothing more need be settled.
LIKELY, MOST_CAUSES, SETTLED = 0.1, 3, 0.95
MARKS = {
    Verdict.PASS: "✓",
    Verdict.FAIL: "✕",
    Verdict.UNDECIDED: "?",
    Verdict.NOT_MEASURED: "·",
}


def assessment_text(assessed: AssessedVisit, *, everything: bool = False) -> str:
    """The whole page."""
    lines = [*_head(assessed), ""]
    lines += _actions(assessed.assessment)
    lines += _causes(assessed.assessment)
    lines += _groups(assessed.assessment, everything=everything)
    if everything:
        lines += _points(assessed.assessment.before)
    lines += [f"  Note  {note}" for note in assessed.notes]
    for advice in assessed.assessment.advice:
        lines += _wrapped(say(advice), first="  Today ", rest="        ")
    lines += ["", *_cautions(assessed.assessment)]
    return "\n".join(line.rstrip() for line in lines)


def _head(assessed: AssessedVisit) -> list[str]:
    head = assessed.opened.visit.head
    site = assessed.opened.visit.plan.site.key
    words = [head.id, head.purpose, site, *([head.crew] if head.crew else [])]
    left = " · ".join(words)
    state = say(Message(f"state.{assessed.assessment.state.replace(' ', '_')}"))
    return [f"{left}{state:>{max(len(state) + 2, WIDTH - len(left))}}"]


def _wrapped(text: str, *, first: str, rest: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest) or [
        first.rstrip()
    ]


def _actions(assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for number, action in enumerate(assessment.next_actions[:5], start=1):
        lines += _action(number, action)
    return lines


def _action(number: int, action: Action) -> list[str]:
    """One action with its reason; what is dangerous carries its cautions."""
    danger = action.standing is Standing.DANGER
    head = "Danger" if danger else "Do now" if number == 1 else "Then"
    minutes = f"about {action.minutes:g} min"
    text = f"{say(action.text)} ({minutes})"
    lines = _wrapped(text, first=f"  {number}  {head:<7}", rest=" " * 12)
    lines += _wrapped(say(action.why), first=" " * 12 + "because ", rest=" " * 20)
    if action.guards is not None:
        step = say(Message(f"step.{action.guards.replace(' ', '_')}"))
        lines += _wrapped(step, first=" " * 12 + "before  ", rest=" " * 20)
    for caution in action.cautions if danger else ():
        lines += _wrapped(say(caution), first=" " * 12 + "care    ", rest=" " * 20)
    return [*lines, ""]


def _causes(assessment: Assessment) -> Iterator[str]:
    """The likely causes with what speaks for and against each."""
    likely = [c for c in assessment.causes if c["probability"] >= LIKELY][:MOST_CAUSES]
    if not likely:
        return
    yield "  Likely causes"
    for cause in likely:
        name = say(Message(f"diagnosis.cause.{cause['cause']}", {"at": cause["at"]}))
        percent = min(cause["probability"], 0.99) * 100.0
        more = "> " if cause["probability"] > 0.99 else ""
        yield f"    {more}{quantity(percent, '%')}  {name}"
        for reason in cause["because"]:
            yield from _wrapped(say(reason), first=" " * 8 + "for      ", rest=" " * 17)
        for reason in cause["against"]:
            yield from _wrapped(say(reason), first=" " * 8 + "against  ", rest=" " * 17)
        if cause["settle"] is not None and cause["probability"] < SETTLED:
            text = say(cause["settle"])
            yield from _wrapped(text, first=" " * 8 + "settle   ", rest=" " * 17)
    yield ""


def _groups(assessment: Assessment, *, everything: bool) -> Iterator[str]:
    by_verdict: dict[Verdict, list[Finding]] = {verdict: [] for verdict in Verdict}
    for item in assessment.findings:
        by_verdict[item.verdict].append(item)
    for title, verdict in (
        ("Fails", Verdict.FAIL),
        ("Cannot tell", Verdict.UNDECIDED),
        ("Not measured", Verdict.NOT_MEASURED),
    ):
        listed = by_verdict[verdict]
        if verdict is Verdict.NOT_MEASURED and not everything:
            optional = [item for item in listed if not item.required]
            listed = [item for item in listed if item.required]
        else:
            optional = []
        yield from _group(title, listed)
        if optional:
            yield f"  Not measured and not asked for  {len(optional)} · show with --all"
    passes = by_verdict[Verdict.PASS]
    if everything:
        yield from _group("Passes", passes)
    else:
        yield f"  Passes  {len(passes)} · show with --all"


def _group(title: str, findings: Iterable[Finding]) -> Iterator[str]:
    listed = list(findings)
    if not listed:
        return
    yield f"  {title}"
    for item in listed:
        yield f"    {MARKS[item.verdict]} {_headline(item)}"
        yield from _wrapped(say(item.because), first=" " * 8, rest=" " * 8)
        if item.decide_by is not None and item.verdict is not Verdict.PASS:
            yield from _wrapped(
                say(item.decide_by), first=" " * 8 + "→ ", rest=" " * 10
            )
        if item.exception is not None:
            who = item.exception.accepted_by or "nobody yet"
            text = f"going on anyway: {item.exception.reason} (accepted by {who})"
            yield from _wrapped(text, first=" " * 8, rest=" " * 8)
    yield ""


def _headline(item: Finding) -> str:
    parts = [item.requirement, item.subject]
    if item.wavelength_nm is not None:
        parts.append(f"{item.wavelength_nm} nm")
    if item.measured is not None and not isinstance(item.measured.value, str):
        parts.append(_number(item.measured))
    if item.limit is not None:
        parts.append(_limit(item))
    if item.advisory and item.verdict is Verdict.FAIL:
        parts.append("advice only")
    return " · ".join(part for part in parts if part)


def _number(value: Quantity) -> str:
    if isinstance(value.value, str):
        return value.value
    return with_uncertainty(value.value, value.u, value.unit)


def _limit(item: Finding) -> str:
    limit = item.limit
    if limit is None or limit.unit == "1":
        return ""
    if limit.low is not None and limit.high is not None:
        text = (
            f"{quantity(limit.low, limit.unit)} to {quantity(limit.high, limit.unit)}"
        )
    elif limit.high is not None:
        text = f"at most {quantity(limit.high, limit.unit)}"
    elif limit.low is not None:
        text = f"at least {quantity(limit.low, limit.unit)}"
    else:
        return ""
    if limit.confidence not in {"seen", "stated", "computed"}:
        text += " (provisional limit)"
    return text


def _points(steps: Iterable[Step]) -> Iterator[str]:
    yield "  Before the step that cannot be undone"
    for step in steps:
        name = say(Message(f"step.{step.step.replace(' ', '_')}"))
        mark = "✓ clear" if step.clear else "✕ not yet" if step.against else "? missing"
        yield f"    {name}: {mark}"
        for sentence in (*step.against, *step.missing):
            yield from _wrapped(say(sentence), first=" " * 8, rest=" " * 8)
        if step.exception is not None:
            yield f"        going on anyway: {step.exception.reason}"
    yield ""


def _cautions(assessment: Assessment) -> Iterator[str]:
    yield "  Cautions"
    for caution in assessment.cautions:
        yield from _wrapped(say(caution), first="    · ", rest="      ")
