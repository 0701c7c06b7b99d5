"""One visit: its head, its plan and what was listed as seen."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from annotated_types import MinLen

from eavelight.model.observation import Evidence, ExceptionNote, Reading
from eavelight.model.plan import STRICT, Plan

Text = Annotated[str, MinLen(1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitHead:
    """Who, when, where, against which profile."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    id: Text
    purpose: Literal["turn-up", "repair", "audit"]
    started: datetime
    ended: datetime | None = None
    crew: Text | None = None
    technician: Text | None = None
    profile: Text = "default"
    baseline: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A visit folder after reading; evidence is listed, not yet decoded."""

    head: VisitHead
    plan: Plan
    readings: tuple[Reading, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    exceptions: tuple[ExceptionNote, ...] = ()
