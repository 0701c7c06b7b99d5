"""An answer as it was typed or sent, turned into what the record takes."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import Any

from eavelight.app.ladder.questions import (
    CHOICE,
    FACE,
    FLAG,
    NUMBER,
    TIME,
    TRACE,
    Question,
)
from eavelight.app.record_bodies import EVIDENCE, EXCEPTION, READING, Entry, plain
from eavelight.app.visit_folder import sense
from eavelight.app.visit_folder.mistakes import Mistakes
from eavelight.app.visit_folder.shape import shaped
from eavelight.errors import EavelightError
from eavelight.model.kinds import KINDS
from eavelight.model.observation import Evidence, ExceptionNote, Reading
from eavelight.model.plan import Plan
from eavelight.model.requirements import REQUIREMENTS, STEPS
from eavelight.seal import canonical
from eavelight.wording.numbers import unit_name

LONGEST_TEXT = 500
NOT_CONTENT = {"token", "nonce", "entered_at"}
CLEANED = {"dry": ("dry",), "wet": ("wet",), "wet dry": ("wet", "dry")}
# tube and fibre by number, or the fibre alone where there is one tube
STRAND = re.compile(r"\d{1,3}(\s*/\s*\d{1,3})?")
EXTRA = {"fibre_seen": ("colour", "tracer", "strands"), "level": ("below",)}


class AnswerError(EavelightError):
    """An answer that cannot be taken, with the field and a word for what is wrong."""

    def __init__(self, field: str, problem: str, detail: str = "") -> None:
        self.field = field
        self.problem = problem
        self.detail = detail
        super().__init__(f"{field}: {problem}{': ' if detail else ''}{detail}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What a form sent: its fields, when it was entered, and a mark of its own.

    `nonce` makes sending the same entry twice harmless.
    """

    nonce: str
    at: datetime
    values: Mapping[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """A field without blanks around it."""
        return self.values.get(name, "").strip()

    @property
    def mark(self) -> str:
        """The mark of this entry: the same again for the same content only."""
        told = {k: v.strip() for k, v in self.values.items() if k not in NOT_CONTENT}
        return sha256(self.nonce.encode() + canonical(told)).hexdigest()[:10]


def answer(question: Question, sent: Sent, plan: Plan) -> Entry:
    """The entry that an answer becomes: a reading, or an exception with its reason.

    Raises
    ------
    AnswerError
        If it cannot be taken as it is.
    """
    if sent.text("why_not"):
        return _exception(question, sent, plan)
    if question.is_step:
        raise AnswerError("why_not", "missing")
    raw: dict[str, Any] = {
        "id": f"{question.id}.{sent.mark}",
        "what": "endface_stated" if question.form == FACE else question.what,
        "at": question.at,
        "value": _value(question, sent),
        "time": sent.at,
    }
    if question.unit:
        raw["unit"] = question.unit
    raw |= dict(question.fixed)
    raw |= _extra(question, sent)
    return _checked_reading(raw, plan)


def _value(question: Question, sent: Sent) -> Any:
    text = sent.text("value")
    if not text:
        raise AnswerError("value", "missing")
    if question.form == NUMBER:
        return number(text, question.unit)
    if question.form in {CHOICE, FACE}:
        if text not in question.words:
            raise AnswerError("value", "choice", ", ".join(question.words))
        return text
    if question.form == FLAG:
        if text not in {"yes", "no"}:
            raise AnswerError("value", "choice", "yes, no")
        return text == "yes"
    if question.form == TIME:
        return _time(text, sent.at)
    if len(text) > LONGEST_TEXT:
        raise AnswerError("value", "long", str(LONGEST_TEXT))
    if question.what == "fibre_seen" and not STRAND.fullmatch(text):
        raise AnswerError("value", "strand", text[:40])
    return text


def number(text: str, unit: str = "") -> float:
    """A number as people type it: a comma or point, any minus sign, its own unit.

    >>> number("−18,7 dBm", "dBm")
    -18.7
    """
    plain_text = text.replace("−", "-").replace(",", ".").replace(" ", "")
    for name in filter(None, (unit, unit_name(unit))):
        plain_text = plain_text.removesuffix(name)
    try:
        value = float(plain_text)
    except ValueError:
        raise AnswerError("value", "number", text[:40]) from None
    if not math.isfinite(value):
        raise AnswerError("value", "number", text[:40])
    return value


def _time(text: str, now: datetime) -> datetime:
    """A time of this day as `10:05`, or a whole time; the offset is that of now."""
    try:
        if len(text) <= 5 and ":" in text:
            hour, minute = (int(part) for part in text.split(":"))
            return now.replace(hour=hour, minute=minute, second=0, microsecond=0)
        value = datetime.fromisoformat(text)
    except ValueError:
        raise AnswerError("value", "time", text[:40]) from None
    return value if value.tzinfo else value.replace(tzinfo=now.tzinfo)


def _extra(question: Question, sent: Sent) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if question.form == NUMBER and sent.text("tool"):
        found["tool"] = sent.text("tool")[:60]
    if question.form == FACE:
        found["state"] = ("after cleaning both sides",)
    for key in EXTRA.get(question.what, ()):
        text = sent.text(key)
        if not text:
            continue
        if key == "strands":
            found[key] = int(number(text))
        elif key == "below":
            found[key] = text == "yes"
        else:
            found[key] = text[:60]
    if question.what in {"splice_estimate", "cleave_angle", "sleeve_seen"}:
        found["attempt"] = int(number(sent.text("attempt") or "1"))
    return found


def _checked_reading(raw: dict[str, Any], plan: Plan) -> Entry:
    mistakes = Mistakes("answer")
    parts = {part.name: part for part in plan.plant.part}
    sense.check_reading_keys(raw, READING, mistakes)
    reading = None
    if not mistakes.found:
        reading = shaped(Reading, raw, place=READING, mistakes=mistakes)
    if reading is not None:
        sense.check_reading(reading, parts, READING, mistakes)
    if mistakes.found:
        kind = KINDS[raw["what"]]
        if kind.low is not None and not kind.low <= raw["value"] <= (kind.high or 0):
            span = f"{kind.low:g} … {kind.high:g} {kind.unit}"
            raise AnswerError("value", "range", span)
        raise AnswerError("value", "refused", str(mistakes.found[0]))
    return Entry(kind=READING, key=(READING, raw["id"]), item=plain(raw))


def _exception(question: Question, sent: Sent, plan: Plan) -> Entry:
    reason = sent.text("why_not")
    if len(reason) > LONGEST_TEXT:
        raise AnswerError("why_not", "long", str(LONGEST_TEXT))
    told = reason if question.is_step else f"{question.id}: {reason}"
    at = question.at or "path"
    raw: dict[str, Any] = {"what": question.requirement, "at": at, "reason": told}
    mistakes = Mistakes("answer")
    note = shaped(ExceptionNote, raw, place=EXCEPTION, mistakes=mistakes)
    if note is not None:
        parts = {part.name: part for part in plan.plant.part}
        known = [*REQUIREMENTS, *STEPS]
        sense.check_exception(note, parts, known, EXCEPTION, mistakes)
    if mistakes.found:
        raise AnswerError("why_not", "refused", str(mistakes.found[0]))
    return Entry(kind=EXCEPTION, key=(EXCEPTION, question.requirement, at), item=raw)


def upload(
    question: Question, sent: Sent, plan: Plan, *, sha256: str, ending: str
) -> Entry:
    """The entry of an evidence file, named by what it is and by its digest.

    The name that the file had on the device plays no part.
    """
    name = f"evidence/{question.id}-{sha256[:12]}.{ending}"
    raw: dict[str, Any] = {"file": name, "what": question.what, "time": sent.at}
    if question.at:
        raw["at"] = question.at
    fixed = {k: v for k, v in question.fixed.items() if k != "wavelength_nm"}
    raw |= fixed
    if question.form == TRACE:
        for key in ("lead_m", "tail_m"):
            if sent.text(key):
                raw[key] = _length(key, sent.text(key))
    if question.form == FACE:
        part = plan.plant.part_named(question.at)
        raw["polish"] = (part.polish if part else None) or "apc"
        rounds = CLEANED.get(sent.text("cleaning"), ())
        raw |= {"cleaning": rounds, "cleaned": bool(rounds)}
    mistakes = Mistakes("answer")
    sense.check_evidence_keys(raw, EVIDENCE, mistakes)
    item = shaped(Evidence, raw, place=EVIDENCE, mistakes=mistakes)
    if item is None or mistakes.found:
        raise AnswerError("file", "refused", str(mistakes.found[0]))
    return Entry(kind=EVIDENCE, key=(EVIDENCE, name), item=plain(raw))


def _length(key: str, text: str) -> float:
    try:
        return number(text)
    except AnswerError as error:
        raise AnswerError(key, error.problem, error.detail) from None
