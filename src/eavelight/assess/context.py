"""What every assessment module looks at: plan, observations, profile, others."""

from dataclasses import dataclass
from functools import cached_property

from eavelight.assess.selection import Placed, Selection, select
from eavelight.model.observation import (
    FileObservation,
    Observations,
    OtherVisit,
    Reading,
)
from eavelight.model.plan import Plan
from eavelight.standards.profiles import Profile


@dataclass(frozen=True, kw_only=True)
class Context:
    """The inputs of `assess`, with what several modules derive from them once."""

    visit: str
    plan: Plan
    observations: Observations
    profile: Profile
    others: tuple[OtherVisit, ...] = ()

    @cached_property
    def selection(self) -> Selection:
        """The readings with their stages, and which of them count."""
        return select(self.observations.readings)

    @cached_property
    def has(self) -> tuple[str, ...]:
        """Optional parts of the plan that exist, as the profile names them."""
        found = []
        if self.plan.feed is not None:
            found.append("feed")
            if self.plan.feed.battery is not None:
                found.append("feed.battery")
        found.extend(name for name in ("housing", "tray") if getattr(self.plan, name))
        return tuple(found)

    def required(self, requirement: str) -> bool:
        """Whether this visit must show a requirement."""
        return self.profile.is_required(
            requirement, purpose=self.plan.purpose, has=self.has
        )

    def advisory(self, requirement: str) -> bool:
        """Whether failing a requirement leaves the visit ready."""
        return self.profile.is_advisory(requirement)

    def u_of(self, reading: Reading) -> float:
        """Standard uncertainty of a reading, from its tool class if it states none."""
        if reading.u is not None:
            return reading.u
        return self.profile.default_u(reading.what, value=reading.number)

    def files(self, what: str) -> tuple[FileObservation, ...]:
        """Evidence files of one kind, in the order of the record."""
        return tuple(
            item for item in self.observations.files if item.evidence.what == what
        )

    def current(self, what: str, at: str | None = None) -> tuple[Placed, ...]:
        """Readings that count, of one kind and optionally at one place."""
        return self.selection.of(what, at)
