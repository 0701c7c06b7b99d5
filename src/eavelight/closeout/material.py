"""What a document is made from, with what several of its parts derive once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from eavelight.assess.assessment import context_of
from eavelight.assess.context import Context
from eavelight.assess.expectation import Expectation, expectation_of
from eavelight.assess.feed_resistance import PathResistance, shown_resistance
from eavelight.model.finding import Assessment, Finding
from eavelight.model.message import Message
from eavelight.model.observation import Observations, Reading
from eavelight.model.plan import RESERVED_PLACES
from eavelight.model.visit import Visit
from eavelight.standards.profiles import Profile
from eavelight.wording import say


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundEvent:
    """An event that an analysis found in a trace.

    `position_m` counts as the analysis tells it, from the end of the lead where there
    is one; `drawn_m` counts from the instrument, as the trace is drawn.
    """

    position_m: float
    drawn_m: float
    kind: str
    position_u_m: float | None = None
    loss_db: float | None = None
    loss_u_db: float | None = None
    reflectance_db: float | None = None
    reflectance_u_db: float | None = None
    reflectance_is_bound: bool = False
    windows_m: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Somebody who answers for the visit, and what their seal says."""

    role: str
    who: str
    state: str


def as_it_is(message: Message) -> Message:
    """Words as the record has them."""
    return message


@dataclass(frozen=True, kw_only=True)
class Material:
    """A visit with everything that was made of it.

    `pictures` are the bytes of photos and end faces by file name; `found_events` are
    those of an analysis by file name and stand beside the stored ones. `spoken` gives
    a message with the words among its values in the document's language.
    """

    visit: Visit
    record: bytes
    observations: Observations
    profile: Profile
    assessment: Assessment
    version: str
    notes: tuple[str, ...] = ()
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    found_events: Mapping[str, tuple[FoundEvent, ...]] = field(default_factory=dict)
    signatures: tuple[Signature, ...] = ()
    language: str = "en"
    spoken: Callable[[Message], Message] = as_it_is

    @cached_property
    def context(self) -> Context:
        """The readings with the profile, as the assessment saw them."""
        return context_of(
            self.visit.head.id, self.visit.plan, self.observations, self.profile
        )

    @cached_property
    def expectation(self) -> Expectation:
        """Expected levels and losses, with the readings that moved them."""
        return expectation_of(self.context)

    @cached_property
    def resistance(self) -> PathResistance | None:
        """What the readings show of the copper; None where they show nothing."""
        feed = self.visit.plan.feed
        return None if feed is None else shown_resistance(self.context, feed)

    def say(self, id: str, /, **values: Any) -> str:
        """A sentence of the catalogue."""
        return self.told(Message(id, values))

    def told(self, message: Message) -> str:
        """The sentence of a message of the assessment."""
        return say(self.spoken(message), self.language)

    def word(self, text: str) -> str:
        """A word of the record, or several as in `plug: pass, adapter: fail`."""
        return str(self.spoken(Message("", {"word": text})).values["word"])

    def place(self, name: str) -> str:
        """A place as people read it; parts keep the name that the plan gave them."""
        parts = {part.name for part in self.visit.plan.plant.part}
        if name in RESERVED_PLACES and name not in parts:
            return self.say(f"place_name.{name}")
        return name

    def requirement(self, id: str) -> str:
        """A requirement as people read it."""
        return self.say(f"requirement_name.{id.replace('.', '_')}")

    def u_of(self, reading: Reading) -> float | None:
        """Uncertainty of a reading, from its tool class where it states none."""
        value = reading.value
        if isinstance(value, bool) or not isinstance(value, int | float):
            return None
        if reading.u is None and not self.profile.knows_u(reading.what):
            return None
        return self.context.u_of(reading)

    def findings_about(self, *starts: str) -> tuple[Finding, ...]:
        """Findings whose requirement begins with one of these, in order."""
        return tuple(
            item
            for item in self.assessment.findings
            if item.requirement.startswith(starts)
        )
