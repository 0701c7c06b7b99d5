"""A store that forgets: for tests, and for one look at a bundle."""

import secrets
from collections.abc import Iterable, Mapping, Sequence

from eavelight.model.recorded import (
    Batch,
    Copy,
    EvidenceRow,
    PersonalValue,
    Recorded,
    Seal,
    VisitLine,
)
from eavelight.store.bytes import MemoryBytes
from eavelight.store.errors import AlreadyRecorded
from eavelight.store.protocol import NOTHING, Added, Filters


class MemoryStore:
    """Keeps the promises of a store in dictionaries."""

    def __init__(self) -> None:
        self.place = "memory"
        self.id = secrets.token_hex(16)
        self._bytes = MemoryBytes()
        self._by_id: dict[str, Recorded] = {}
        self._by_place: dict[tuple[str, str, int], str] = {}
        self._by_visit: dict[str, list[str]] = {}
        self._seals: dict[str, Seal] = {}
        self._evidence: dict[str, EvidenceRow] = {}
        self._copies: dict[tuple[str, str], Copy] = {}
        self._uses: dict[str, dict[str, None]] = {}
        self._personal: dict[str, PersonalValue] = {}
        self._lines: dict[str, VisitLine] = {}
        self._devices: dict[str, tuple[str, str]] = {}

    def append(self, items: Sequence[Recorded], rest: Batch = NOTHING) -> None:
        self._check(items)
        seen: set[str] = set()
        for item in items:
            if item.id in self._by_id or item.id in seen:
                raise AlreadyRecorded(item.visit, item.device, item.number)
            seen.add(item.id)
        self._keep(items)
        self.merge(rest)

    def merge(self, batch: Batch) -> Added:
        fresh = tuple(
            {i.id: i for i in batch.observations if i.id not in self._by_id}.values()
        )
        self._check(fresh)
        self._keep(fresh)
        seals = {s.id: s for s in batch.seals if s.id not in self._seals}
        evidence = {
            e.sha256: e for e in batch.evidence if e.sha256 not in self._evidence
        }
        personal = {
            p.sha256: p for p in batch.personal if p.sha256 not in self._personal
        }
        self._seals |= seals
        self._evidence |= evidence
        self._personal |= personal
        for copy in batch.copies:
            self._copies.setdefault((copy.original, copy.sha256), copy)
        for visit, digests in batch.uses.items():
            self._uses.setdefault(visit, {}).update(dict.fromkeys(digests))
        self._lines |= {line.visit: line for line in batch.lines}
        return Added(
            observations=len(fresh),
            seals=len(seals),
            evidence=len(evidence),
            personal=len(personal),
        )

    def _check(self, items: Sequence[Recorded]) -> None:
        places: dict[tuple[str, str, int], str] = {}
        for item in items:
            place = (item.visit, item.device, item.number)
            known = self._by_place.get(place, places.get(place))
            if known is not None:
                raise AlreadyRecorded(*place)
            places[place] = item.id

    def _keep(self, items: Sequence[Recorded]) -> None:
        for item in items:
            self._by_id[item.id] = item
            self._by_place[item.visit, item.device, item.number] = item.id
            self._by_visit.setdefault(item.visit, []).append(item.id)

    def observations(self, visit: str) -> tuple[Recorded, ...]:
        found = (self._by_id[id] for id in self._by_visit.get(visit, ()))
        return tuple(sorted(found, key=lambda item: (item.device, item.number)))

    def find(self, ids: Iterable[str]) -> Mapping[str, Recorded]:
        return {id: self._by_id[id] for id in ids if id in self._by_id}

    def seals(self, visit: str) -> tuple[Seal, ...]:
        found = [seal for seal in self._seals.values() if seal.visit == visit]
        return tuple(sorted(found, key=lambda seal: (seal.sealed_at, seal.id)))

    def visits(self, filters: Filters) -> tuple[VisitLine, ...]:
        found = [
            line
            for line in self._lines.values()
            if (not filters.site or line.site == filters.site)
            and (not filters.crew or line.crew == filters.crew)
            and (not filters.purpose or line.purpose == filters.purpose)
            and (not filters.since or line.started >= filters.since)
            and (not filters.until or line.started <= filters.until)
        ]
        found.sort(key=lambda line: (line.started, line.visit))
        if filters.newest_first:
            found.reverse()
        return tuple(found[filters.offset : filters.offset + filters.limit])

    def count(self) -> int:
        return len(self._lines)

    def line(self, visit: str) -> VisitLine | None:
        return self._lines.get(visit)

    def put_bytes(self, sha256: str, data: bytes) -> None:
        self._bytes.put(sha256, data)

    def evidence(self, digests: Iterable[str]) -> Mapping[str, EvidenceRow]:
        return {d: self._evidence[d] for d in digests if d in self._evidence}

    def read_bytes(self, sha256: str) -> bytes | None:
        return self._bytes.get(sha256)

    def forget_bytes(self, sha256: str) -> None:
        self._bytes.forget(sha256)

    def copies(self, originals: Iterable[str]) -> tuple[Copy, ...]:
        wanted = set(originals)
        found = [copy for key, copy in self._copies.items() if key[0] in wanted]
        return tuple(sorted(found, key=lambda copy: (copy.original, copy.sha256)))

    def used_by(self, digests: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
        wanted, found = set(digests), {}
        for visit, used in sorted(self._uses.items()):
            both = [
                digest
                for digest in used
                if digest in wanted
                or (
                    digest in self._evidence
                    and self._evidence[digest].samples_sha256 in wanted
                )
            ]
            if both:
                found[visit] = tuple(sorted(both))
        return found

    def personal(self, visit: str) -> Mapping[str, PersonalValue]:
        return {k: v for k, v in self._personal.items() if v.visit == visit}

    def forget_personal(self, hashes: Iterable[str]) -> int:
        return sum(self._personal.pop(h, None) is not None for h in hashes)

    def devices(self) -> Mapping[str, str]:
        return {key: name for key, (name, _) in self._devices.items()}

    def know_device(self, device: str, name: str, at: str) -> None:
        self._devices.setdefault(device, (name, at))

    def missing_guards(self) -> frozenset[str]:
        return frozenset()

    def close(self) -> None:
        """Nothing to let go of."""
