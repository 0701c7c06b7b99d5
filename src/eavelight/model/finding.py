"""Verdicts: one finding per requirement and subject, and what follows from them."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from eavelight.model.message import Message
from eavelight.model.observation import ExceptionNote


class Verdict(StrEnum):
    """The four answers; the last two are answers, not errors."""

    PASS = "pass"
    FAIL = "fail"
    UNDECIDED = "undecided"
    NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A value with its unit and standard uncertainty; text for words seen."""

    value: float | str
    unit: str
    u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The limit a value was held against, with where it comes from."""

    low: float | None = None
    high: float | None = None
    unit: str = ""
    clause: str = ""
    edition: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The verdict on one requirement for one subject.

    `broken_by` names those of the observations that make it fail, where not all do.
    """

    requirement: str
    subject: str
    verdict: Verdict
    because: Message
    wavelength_nm: int | None = None
    required: bool = False
    advisory: bool = False
    measured: Quantity | None = None
    expected: Quantity | None = None
    limit: Limit | None = None
    probability: float | None = None
    decide_by: Message | None = None
    observations: tuple[str, ...] = ()
    broken_by: tuple[str, ...] = ()
    exception: ExceptionNote | None = None

    @property
    def breaking(self) -> tuple[str, ...]:
        """The observations that make it fail; none unless it fails."""
        if self.verdict is not Verdict.FAIL:
            return ()
        return self.broken_by or self.observations


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One of the five points of no return.

    `passed` is true where the record shows that it lies behind; `open` names the
    findings, requirement and subject, that it still waits for.
    """

    step: str
    missing: tuple[Message, ...] = ()
    against: tuple[Message, ...] = ()
    exception: ExceptionNote | None = None
    passed: bool = False
    open: frozenset[tuple[str, str]] = frozenset()

    @property
    def clear(self) -> bool:
        """Nothing missing and nothing against it."""
        return not self.missing and not self.against


class Standing(StrEnum):
    """The class of a next action, in the order in which the classes are told."""

    DANGER = "danger"
    OTHER_HOME = "another home"
    GUARD = "guard"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """What to do next, best first.

    `guards` is the point of no return that waits for it, where it is not passed yet.
    `nearby` is a cheap look that comes before anything that sends the crew away.
    `resolves` names causes that it mends, `settles` requirements that ask for it.
    """

    action: str
    at: str
    why: Message
    text: Message
    minutes: float
    resolves: tuple[str, ...] = ()
    standing: Standing = Standing.PLAIN
    guards: str | None = None
    cautions: tuple[Message, ...] = ()
    nearby: bool = False
    settles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Everything the record says about one visit."""

    visit: str
    profile: str
    state: str
    findings: tuple[Finding, ...]
    before: tuple[Step, ...] = ()
    hypotheses: tuple[dict[str, Any], ...] = ()
    causes: tuple[dict[str, Any], ...] = ()
    next_actions: tuple[Action, ...] = ()
    cautions: tuple[Message, ...] = ()
    advice: tuple[Message, ...] = ()
