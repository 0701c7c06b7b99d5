"""What was seen: readings, evidence files with what they decode to, exceptions."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any, ClassVar, Literal

from annotated_types import Ge, Gt, Le, MinLen

from eavelight.model.plan import STRICT, WavelengthNm

Text = Annotated[str, MinLen(1)]

STATES = (
    "lid open",
    "lid closed",
    "before cleaning",
    "after cleaning one side",
    "after cleaning both sides",
    "before shrink",
    "after shrink",
    "no load",
    "loaded",
    "on battery",
    "tray covered",
    "disconnected",
    "mains pulled",
    "battery lead off",
    "restored",
    "reopened",
)
State = Literal[
    "lid open",
    "lid closed",
    "before cleaning",
    "after cleaning one side",
    "after cleaning both sides",
    "before shrink",
    "after shrink",
    "no load",
    "loaded",
    "on battery",
    "tray covered",
    "disconnected",
    "mains pulled",
    "battery lead off",
    "restored",
    "reopened",
]
View = Literal[
    "house",
    "open",
    "closed",
    "label-port",
    "label-house",
    "supply",
    "entry",
    "tray",
    "other",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value with unit, uncertainty, subject, time and method.

    Which of the later keys may stand depends on `what`; the table of kinds is
    `eavelight.model.kinds`.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    what: Text
    at: Text
    value: float | bool | str | datetime
    time: datetime
    id: Text = ""
    unit: str | None = None
    u: Annotated[float, Gt(0)] | None = None
    tool: str | None = None
    state: tuple[State, ...] = ()
    wavelength_nm: WavelengthNm | None = None
    below: bool = False
    attempt: Annotated[int, Ge(1), Le(100)] | None = None
    direction: Literal["toward port", "toward terminal"] | None = None
    end: Literal["cable", "pigtail"] | None = None
    side: Literal["plug", "adapter", "equipment plug"] | None = None
    load_w: Annotated[float, Ge(0), Le(500)] | None = None
    colour: str | None = None
    tracer: str | None = None
    strands: Annotated[int, Ge(1), Le(1000)] | None = None
    kind: Literal["ac", "dc"] | None = None
    line: str | None = None
    lamp: str | None = None
    entry: str | None = None

    @property
    def number(self) -> float:
        """The value of a numeric reading."""
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            raise ValueError(f"reading {self.id} holds no number: {self.value!r}")
        return float(self.value)

    @property
    def text(self) -> str:
        """The value of a reading in words."""
        return str(self.value).strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A file as the visit lists it."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    file: Text
    what: Literal["trace", "endface", "photo"]
    at: Text | None = None
    toward: Text | None = None
    lead_m: Annotated[float, Ge(0), Le(50_000)] | None = None
    lead_fibre: str | None = None
    tail_m: Annotated[float, Ge(0), Le(50_000)] | None = None
    time: datetime | None = None
    side: Literal["plug", "adapter", "equipment plug"] | None = None
    cleaning: tuple[Literal["dry", "wet", "abrasive"], ...] = ()
    polish: Literal["apc", "pc", "pc26", "mm"] | None = None
    um_per_px: Annotated[float, Gt(0), Le(100)] | None = None
    cleaned: bool | None = None
    view: View | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExceptionNote:
    """Going on anyway, could not measure, or accepted as it is."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    what: Text
    at: Text
    reason: Text
    accepted_by: Text | None = None
    due: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FileObservation:
    """One evidence file after decoding: identity always, content where it decodes.

    `content` is the decoded file, `analysis` what the room of its kind measured in it;
    None where there is none, and `error` says why not.
    """

    evidence: Evidence
    sha256: str
    size_bytes: int
    samples_sha256: str | None = None
    content: Any = None
    analysis: Any = None
    error: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Observations:
    """All that was seen on one visit, in the order of the record."""

    started: datetime
    ended: datetime | None = None
    readings: tuple[Reading, ...] = ()
    files: tuple[FileObservation, ...] = ()
    exceptions: tuple[ExceptionNote, ...] = ()
    crew: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherVisit:
    """Digest of another visit, for comparing evidence and baseline."""

    visit: str
    site: str
    started: datetime
    files: tuple[FileObservation, ...] = ()
    readings: tuple[Reading, ...] = ()
    is_baseline: bool = False
    crew: str | None = None
