"""What a diagnosis looks at: readings with their stage, marks, and what was planned.

Plain values, made at the door from the same record that the verdicts are made from;
this room neither reads files nor asks for a limit.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from eavelight.light.path import Path
from eavelight.model.message import Message
from eavelight.model.observation import Reading
from eavelight.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A reading in numbers: standard uncertainty, lid stage, whether it still counts.

    `lid` is 0 unknown, 1 open, 2 tray covered, 3 closed.
    """

    reading: Reading
    u: float
    lid: int = 0
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something looked at that is good or bad, by a kind of the signatures.

    `probability` is that of bad, where who looked could not be sure.
    """

    kind: str
    at: str
    bad: bool
    ids: tuple[str, ...] = ()
    side: str | None = None
    why: Message | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One event of a trace that was taken apart; position counts from the terminal."""

    position_m: float
    position_u_m: float
    nm: int
    loss_db: float | None = None
    loss_u_db: float = 0.1
    kind: str = "unknown"
    reflectance_db: float | None = None
    start_m: float | None = None
    end_m: float | None = None
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """One estimate of the resistance between supply and terminal."""

    kind: str
    ohm: float
    u_ohm: float
    ids: tuple[str, ...]
    on_battery: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedCase:
    """The feed in numbers: the planned loop and what readings show of it."""

    loop_ohm: float
    loop_u_ohm: float
    float_v: float
    cutoff_v: float
    estimates: tuple[Resistance, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One visit as a diagnosis takes it."""

    visit: str
    plan: Plan
    path: Path
    launch: tuple[float, float] | None
    terminal_launch: tuple[float, float] | None
    down_nm: int
    up_nm: int
    seen: tuple[Seen, ...] = ()
    baseline: tuple[Seen, ...] = ()
    marks: tuple[Mark, ...] = ()
    events: tuple[Event, ...] = ()
    feed: FeedCase | None = None
    circumstances: frozenset[str] = frozenset()
    done: frozenset[str] = field(default_factory=frozenset)
    """What was already measured or looked at, by the words of the action catalogue."""
    cleaned: Mapping[str, datetime] = field(default_factory=dict)
    """When pictures first showed both sides of a connector clean after cleaning."""

    @property
    def drop_names(self) -> tuple[str, ...]:
        """Names of the parts from port to terminal."""
        return tuple(part.name for part in self.plan.plant.drop)

    def parts_of(self, kind: str) -> tuple[str, ...]:
        """Names of the drop's parts of one kind, in order from the port."""
        return tuple(p.name for p in self.plan.plant.drop if p.kind == kind)


Detail = Mapping[str, object]
