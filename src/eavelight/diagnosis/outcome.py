"""What a diagnosis hands back: hypotheses, causes with their reasons, advice."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from eavelight.model.message import Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One cause at one place, with how large it would be."""

    cause: str
    at: str
    detail: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """Faults that hold together; none of them is "nothing wrong"."""

    faults: tuple[Fault, ...]
    probability: float
    other: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause with what speaks for and against it, and what would settle it."""

    cause: str
    at: str
    probability: float
    because: tuple[Message, ...] = ()
    against: tuple[Message, ...] = ()
    settle: Message | None = None
    detail: Mapping[str, object] = field(default_factory=dict)
    mended: bool = False
    modes: Mapping[str, float] = field(default_factory=dict)
    """Shares of the ways in which the cause shows, by the words of the model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to do, with the gain expected of it per minute."""

    action: str
    at: str
    why: Message
    minutes: float
    resolves: tuple[str, ...]
    gain_per_minute: float
    cautions: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """All of it for one visit."""

    hypotheses: tuple[Hypothesis, ...]
    causes: tuple[Cause, ...]
    advice: tuple[Advice, ...] = ()
    notes: tuple[Message, ...] = ()

    @property
    def nothing_wrong(self) -> float:
        """Probability that nothing is wrong."""
        return next((c.probability for c in self.causes if c.cause == "none"), 0.0)
