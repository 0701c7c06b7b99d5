"""How far the work is: what answers each question, and which comes next."""

from dataclasses import dataclass, replace

from eavelight.app.ladder.questions import (
    FACE,
    PHOTO,
    POINT,
    READ,
    TRACE,
    Question,
    questions_of,
)
from eavelight.assess.endface import graded_as
from eavelight.model.finding import Assessment, Finding, Step
from eavelight.model.observation import (
    ExceptionNote,
    FileObservation,
    Observations,
    Reading,
)
from eavelight.model.plan import Plan
from eavelight.trace.results import TraceAnalysis

DONE, FAILING, EXCUSED, MISSING, OPEN = "done", "failing", "excused", "missing", "open"
OF_ATTEMPT = {"cleave_angle", "splice_estimate", "sleeve_seen"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A question with everything that the record holds for it."""

    question: Question
    readings: tuple[Reading, ...] = ()
    evidence: tuple[FileObservation, ...] = ()
    exception: ExceptionNote | None = None
    findings: tuple[Finding, ...] = ()
    step: Step | None = None

    @property
    def last(self) -> Reading | None:
        """The latest reading."""
        return max(self.readings, key=lambda item: item.time, default=None)

    @property
    def names(self) -> frozenset[str]:
        """Ids of its readings and names of its files."""
        files = (item.evidence.file for item in self.evidence)
        return frozenset([*(reading.id for reading in self.readings), *files])

    @property
    def breaks(self) -> bool:
        """Whether something fails because of this answer."""
        return any(self.names & set(item.breaking) for item in self.findings)

    @property
    def given(self) -> bool:
        """Whether anything answers it."""
        if self.question.form == POINT:
            return self.exception is not None or (
                self.step is not None and self.step.clear
            )
        shown = any(self.question.form != FACE or is_face(f) for f in self.evidence)
        return bool(self.readings or shown or self.exception)

    @property
    def state(self) -> str:
        """Done, failing, excused, missing, or open where nobody has to ask."""
        if self.given:
            if self.breaks:
                return FAILING
            excused = self.exception and not (self.readings or self.evidence)
            return EXCUSED if excused else DONE
        if self.question.form == READ:
            return OPEN
        return MISSING if self.question.wanted or self.question.is_step else OPEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """All questions with their answers."""

    answers: tuple[Answered, ...]

    @property
    def wanted(self) -> tuple[Answered, ...]:
        """Those that the record cannot do without."""
        return tuple(item for item in self.answers if item.question.wanted)

    @property
    def done(self) -> int:
        """How many of those are answered."""
        return sum(item.given for item in self.wanted)

    def index(self, id: str) -> int | None:
        """Where a question stands."""
        ids = [item.question.id for item in self.answers]
        return ids.index(id) if id in ids else None

    def following(self, id: str) -> Answered | None:
        """The next question that nothing answers yet, else the next of all."""
        here = self.index(id)
        if here is None:
            return None
        later = self.answers[here + 1 :]
        return next((item for item in later if not item.given), None)

    def attempt_for(self, id: str) -> int:
        """The attempt at a splice that an entry belongs to.

        The last one, so that a slip is put right within it; a new one only where the
        work of the last one went past this question already.
        """
        here = self.index(id)
        if here is None:
            return 1
        at = self.answers[here].question.at
        made = [
            (number, reading.attempt or 1)
            for number, item in enumerate(self.answers)
            for reading in item.readings
            if item.question.at == at and item.question.what in OF_ATTEMPT
        ]
        last = max((attempt for _, attempt in made), default=1)
        stood = {number for number, attempt in made if attempt == last}
        again = here in stood and any(number > here for number in stood)
        return last + 1 if again else last

    @property
    def first_open(self) -> Answered | None:
        """The first question that nothing answers yet."""
        return next(
            (
                item
                for item in self.answers
                if not item.given and item.question.form != READ
            ),
            None,
        )


def progress_of(
    plan: Plan, seen: Observations, assessment: Assessment | None = None
) -> Progress:
    """What a record answers of its plan's questions, and what was found of it."""
    found = [_answered(question, seen) for question in questions_of(plan)]
    if assessment is not None:
        found = [_judged(item, assessment) for item in found]
    return Progress(answers=tuple(found))


def _answered(question: Question, seen: Observations) -> Answered:
    return Answered(
        question=question,
        readings=tuple(r for r in seen.readings if answers(question, r)),
        evidence=tuple(item for item in seen.files if shows(question, item)),
        exception=next(
            (note for note in seen.exceptions if excuses(question, note)), None
        ),
    )


def _judged(item: Answered, assessment: Assessment) -> Answered:
    ids = item.names
    findings = tuple(f for f in assessment.findings if ids & set(f.observations))
    step = None
    if item.question.is_step:
        steps = {found.step: found for found in assessment.before}
        step = steps.get(item.question.what)
    return replace(item, findings=findings, step=step)


def answers(question: Question, reading: Reading) -> bool:
    """Whether a reading answers a question."""
    if question.form == "face":
        same = reading.what == "endface_stated" and reading.at == question.at
        return same and (reading.side or "plug") == question.fixed["side"]
    if reading.what != question.what or reading.at != question.at:
        return False
    for key, value in question.fixed.items():
        if key == "state":
            if not _states_fit(set(value), set(reading.state)):
                return False
        elif key not in {"load_w"} and getattr(reading, key) != value:
            return False
    return True


def _states_fit(wanted: set[str], stated: set[str]) -> bool:
    """The states asked for were stated; a reading without mains is another thing."""
    if "mains pulled" not in wanted and stated & {"mains pulled", "on battery"}:
        return False
    return wanted <= stated


def shows(question: Question, item: FileObservation) -> bool:
    """Whether a file answers a question."""
    listed = item.evidence
    if listed.what != question.what:
        return False
    if question.form == PHOTO:
        return bool(listed.view == question.fixed["view"])
    if listed.at != question.at:
        return False
    if question.form == TRACE:
        found = item.analysis
        nm = found.wavelength_nm if isinstance(found, TraceAnalysis) else 0.0
        return question.is_near(nm)
    return bool((listed.side or "plug") == question.fixed["side"])


def is_face(item: FileObservation) -> bool:
    """Whether a face was found in a picture; one that was refused answers nothing."""
    return graded_as(item) not in {"", "refused"}


def excuses(question: Question, note: ExceptionNote) -> bool:
    """Whether an exception says why a question has no answer."""
    if question.is_step:
        return note.what == question.what
    if note.what != question.requirement:
        return False
    return note.reason.startswith(f"{question.id}: ") or (
        note.at == place_of(question) and ": " not in note.reason
    )


def place_of(question: Question) -> str:
    """Where an exception of a question stands."""
    return question.at or "path"
