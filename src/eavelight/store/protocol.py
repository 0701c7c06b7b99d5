"""What every store promises; one suite of tests holds each of them to it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from eavelight.model.recorded import (
    Batch,
    Copy,
    EvidenceRow,
    PersonalValue,
    Recorded,
    Seal,
    VisitLine,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """What a list of visits is narrowed by; an empty text narrows nothing."""

    site: str = ""
    crew: str = ""
    purpose: str = ""
    since: str = ""
    until: str = ""
    limit: int = 100
    offset: int = 0
    newest_first: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What of a batch was new."""

    observations: int = 0
    seals: int = 0
    evidence: int = 0
    personal: int = 0

    @property
    def anything(self) -> bool:
        """Whether the store changed at all."""
        return bool(self.observations or self.seals or self.evidence or self.personal)


NOTHING = Batch()


class Store(Protocol):
    """Append-only record with its evidence."""

    @property
    def place(self) -> str:
        """Where the store is, without secrets."""
        ...

    @property
    def id(self) -> str:
        """Name of this store: a restored copy has another one."""
        ...

    def append(self, items: Sequence[Recorded], rest: Batch = NOTHING) -> None:
        """Record new observations, all or none; a clash is `AlreadyRecorded`.

        What belongs to them is merged in the same transaction.
        """
        ...

    def merge(self, batch: Batch) -> Added:
        """Add what is not there yet, all or nothing; what is there stays."""
        ...

    def observations(self, visit: str) -> tuple[Recorded, ...]:
        """The observations of a visit, by device and number."""
        ...

    def find(self, ids: Iterable[str]) -> Mapping[str, Recorded]:
        """Observations by id; those unknown are absent."""
        ...

    def seals(self, visit: str) -> tuple[Seal, ...]:
        """The seals of a visit in the order of their times."""
        ...

    def visits(self, filters: Filters) -> tuple[VisitLine, ...]:
        """Lines of the list of visits."""
        ...

    def count(self) -> int:
        """How many lines that list has."""
        ...

    def line(self, visit: str) -> VisitLine | None:
        """One line of that list."""
        ...

    def put_bytes(self, sha256: str, data: bytes) -> None:
        """Keep evidence bytes; they are durable when this returns."""
        ...

    def evidence(self, digests: Iterable[str]) -> Mapping[str, EvidenceRow]:
        """What is known of evidence, bytes kept or not."""
        ...

    def read_bytes(self, sha256: str) -> bytes | None:
        """Evidence bytes as kept, unchecked; None where there are none."""
        ...

    def forget_bytes(self, sha256: str) -> None:
        """Delete evidence bytes; their row stays."""
        ...

    def copies(self, originals: Iterable[str]) -> tuple[Copy, ...]:
        """Other bytes that stand for evidence."""
        ...

    def used_by(self, digests: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
        """Visits that rest on evidence with these file or sample digests."""
        ...

    def personal(self, visit: str) -> Mapping[str, PersonalValue]:
        """Personal values of a visit by their salted hash."""
        ...

    def forget_personal(self, hashes: Iterable[str]) -> int:
        """Delete personal values; tells how many there were."""
        ...

    def devices(self) -> Mapping[str, str]:
        """Names of the devices that this store knows, by public key."""
        ...

    def know_device(self, device: str, name: str, at: str) -> None:
        """Write down a device that may add to this store."""
        ...

    def missing_guards(self) -> frozenset[str]:
        """Guards of the database that are not there."""
        ...

    def close(self) -> None:
        """Let go of connections."""
        ...
