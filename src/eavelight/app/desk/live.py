"""The record kept open for a door that serves many requests."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from threading import RLock

from eavelight.app.assess_visit import AssessedVisit
from eavelight.app.clock import now
from eavelight.app.company import first_line
from eavelight.app.desk.keep import Kept
from eavelight.app.diagnosing import assess_and_diagnose
from eavelight.app.evidence_files import observe_file
from eavelight.app.ladder import Progress, progress_of
from eavelight.app.record import Change, ToRecord, entry_to_record, evidence_row, record
from eavelight.app.record_bodies import (
    EVIDENCE,
    EXCEPTION,
    HEAD,
    READING,
    Body,
    Entry,
)
from eavelight.app.record_place import OpenRecord, open_record
from eavelight.app.record_stored import StoredVisit, open_stored
from eavelight.app.record_view import Standing, View
from eavelight.errors import EavelightError
from eavelight.model.observation import (
    Evidence,
    FileObservation,
    Observations,
    OtherVisit,
)
from eavelight.model.recorded import VisitLine
from eavelight.seal.bodies import SCHEMA
from eavelight.standards.profiles import load_profile
from eavelight.store import Filters

WITHDRAWN = "withdrawal"
# what makes an entry the same matter as an earlier one; a file's name holds its digest
TOLD_ANEW = {HEAD: (), EXCEPTION: ("what", "at", "reason"), EVIDENCE: ("file",)}
NEAREST = 40
ALL = 10_000_000
FILES, VISITS, DIGESTS = 400, 120, 1500


@dataclass(frozen=True, kw_only=True)
class LiveVisit:
    """A visit of the record with everything that was made of it."""

    assessed: AssessedVisit
    stored: StoredVisit
    line: VisitLine

    @property
    def id(self) -> str:
        """Id of the visit."""
        return self.assessed.assessment.visit

    @cached_property
    def progress(self) -> Progress:
        """How far the work is."""
        return progress_of(
            self.stored.visit.plan,
            self.assessed.observations,
            self.assessed.assessment,
        )

    def standing(self, kind: str, name: str) -> Standing | None:
        """What stands of a reading or a file, by its id or name."""
        key = "id" if kind == READING else "file"
        found = (i for i in self.stored.view.of(kind) if i.item.get(key) == name)
        return next(found, None)


class LiveRecord:
    """An open store, with what was made of its visits kept in memory.

    What is kept is known by the number of observations of a visit, so that another
    writer's additions are seen at the next request.
    """

    def __init__(self, url: str | None = None) -> None:
        self.url = url
        self.record: OpenRecord = open_record(url)
        self._lock = RLock()
        self._files: Kept[FileObservation] = Kept(FILES)
        self._visits: Kept[LiveVisit] = Kept(VISITS)
        self._digests: Kept[OtherVisit] = Kept(DIGESTS)

    def close(self) -> None:
        """Let go of the store."""
        self.record.close()

    @property
    def id(self) -> str:
        """Name of the store."""
        return self.record.store.id

    def lines(self) -> tuple[VisitLine, ...]:
        """Lines of all visits."""
        return self.record.store.visits(Filters(limit=ALL))

    def count(self) -> int:
        """How many visits the store holds."""
        return self.record.store.count()

    def line(self, visit: str) -> VisitLine | None:
        """The line of one visit; None where there is none."""
        return self.record.store.line(visit)

    def visit(self, visit: str) -> LiveVisit | None:
        """A visit, assessed as its record stands now; None where there is none."""
        line = self.line(visit)
        if line is None:
            return None
        key = (visit, line.observations)
        found = self._visits.get(key)
        if found is not None:
            return found if found.line == line else replace(found, line=line)
        with self._lock:
            return self._visits.made(key, lambda: self._assessed(visit, line))

    def _assessed(self, visit: str, line: VisitLine) -> LiveVisit:
        stored = open_stored(self.record.store, visit)
        head = stored.visit.head
        seen = self._observed(stored)
        others, problems = self._others(stored, seen.files)
        profile = load_profile(head.profile)
        assessment = assess_and_diagnose(
            head.id, stored.visit.plan, seen, profile, others
        )
        unread = [
            f"{item.evidence.file}: could not be read: {item.error}"
            for item in seen.files
            if item.error is not None
        ]
        assessed = AssessedVisit(
            opened=stored,
            observations=seen,
            profile=profile,
            assessment=assessment,
            notes=(*unread, *problems),
        )
        return LiveVisit(assessed=assessed, stored=stored, line=line)

    def _observed(self, stored: StoredVisit) -> Observations:
        visit = stored.visit
        return Observations(
            started=visit.head.started,
            ended=visit.head.ended,
            readings=visit.readings,
            files=self._files_of(stored, measure=True),
            exceptions=visit.exceptions,
        )

    def _files_of(
        self, stored: StoredVisit, *, measure: bool
    ) -> tuple[FileObservation, ...]:
        return tuple(
            self._file(stored, item, measure=measure) for item in stored.visit.evidence
        )

    def _file(
        self, stored: StoredVisit, item: Evidence, *, measure: bool
    ) -> FileObservation:
        digest = stored.recorded_digest(item)
        key = (digest, item, measure, stored.is_copy(item))
        return self._files.made(
            key,
            lambda: observe_file(
                item,
                stored.evidence_path(item),
                measure=measure,
                recorded=digest,
                is_copy=stored.is_copy(item),
            ),
        )

    def _others(
        self, stored: StoredVisit, files: Iterable[FileObservation]
    ) -> tuple[tuple[OtherVisit, ...], list[str]]:
        """Digests of the visits that could matter to this one."""
        head = stored.visit.head
        found, problems = [], []
        for line in self._that_matter(stored, files):
            if line.visit == head.id:
                continue
            try:
                other = self._digest(line)
            except EavelightError as error:
                problems.append(f"{line.visit}: not compared: {first_line(error)}")
                continue
            if line.visit == head.baseline:
                other = self._baseline(line, other)
            found.append(other)
        return tuple(found), problems

    def _digest(self, line: VisitLine) -> OtherVisit:
        key = (line.visit, line.observations)
        return self._digests.made(key, lambda: self._read_digest(line.visit))

    def _read_digest(self, visit: str) -> OtherVisit:
        stored = open_stored(self.record.store, visit, written=False)
        found = stored.visit
        return OtherVisit(
            visit=found.head.id,
            site=found.plan.site.key,
            started=found.head.started,
            files=self._files_of(stored, measure=False),
            readings=found.readings,
            crew=found.head.crew,
        )

    def _baseline(self, line: VisitLine, other: OtherVisit) -> OtherVisit:
        stored = open_stored(self.record.store, line.visit)
        files = self._files_of(stored, measure=True)
        return replace(other, files=files, is_baseline=True)

    def _that_matter(
        self, stored: StoredVisit, files: Iterable[FileObservation]
    ) -> list[VisitLine]:
        """The baseline, visits that rest on the same bytes, and the nearest in time."""
        store, head = self.record.store, stored.visit.head
        digests = {d for item in files for d in (item.sha256, item.samples_sha256) if d}
        names = [head.baseline] if head.baseline else []
        names += store.used_by(digests)
        lines = [line for name in dict.fromkeys(names) if (line := store.line(name))]
        start = head.started.astimezone(UTC).isoformat().replace("+00:00", "Z")
        crew = Filters(crew=head.crew or "", limit=NEAREST)
        lines += store.visits(replace(crew, until=start))
        lines += store.visits(replace(crew, since=start, newest_first=False))
        return list({line.visit: line for line in lines}.values())

    def moment(self, visit: LiveVisit) -> datetime:
        """Now, with the offset of the visit."""
        return now().astimezone(visit.stored.visit.head.started.tzinfo)

    def add(
        self, visit: str, entry: Entry, *, data: bytes | None = None, reason: str = ""
    ) -> bool:
        """Record one entry; true when it is new, false when it was there already.

        It is durable when this returns.
        """

        def decide(view: View) -> Change:
            known = (*view.standing, *view.superseded)
            if any(_same(entry, item) for item in known):
                return Change()
            full, evidence = entry, {}
            if data is not None:
                row = evidence_row(data, what=str(entry.item.get("what")))
                facts = {
                    "sha256": row.sha256,
                    "size": row.size,
                    "media_type": row.media_type,
                }
                full = replace(entry, item={**entry.item, **facts})
                evidence = {row.sha256: (row, data)}
            old = _replaced(view, entry)
            item = entry_to_record(full, visit=visit, supersedes=old, reason=reason)
            return Change(items=[item], evidence=evidence)

        return bool(record(self.record, visit, decide))

    def withdraw(self, visit: str, kind: str, name: str, *, reason: str) -> bool:
        """Take back one entry: it stays in the record and counts no more."""

        def decide(view: View) -> Change:
            found = [item for item in view.of(kind) if _named(item, name)]
            ids = [item.recorded.id for item in found]
            if not ids:
                return Change()
            body = {
                "schema": SCHEMA,
                "item": {"what": kind, "name": name},
                "supersedes": sorted(ids),
                "reason": reason,
            }
            return Change(items=[ToRecord(kind=WITHDRAWN, body=Body(body=body))])

        return bool(record(self.record, visit, decide))

    def change(self, visit: str, decide: Callable[[View], Change]) -> bool:
        """Record what is decided on the view of a visit."""
        return bool(record(self.record, visit, decide))


def _same(entry: Entry, item: Standing) -> bool:
    if entry.kind != item.recorded.kind:
        return False
    if entry.kind == READING:
        return bool(entry.item["id"] == item.item.get("id"))
    if entry.kind == EXCEPTION:
        keys = ("what", "at", "reason", "accepted_by")
        return all(entry.item.get(key) == item.item.get(key) for key in keys)
    if "file" in entry.item:
        alike = {k: v for k, v in item.item.items() if k in entry.item and k != "time"}
        return alike == {k: v for k, v in entry.item.items() if k != "time"}
    return False


def _replaced(view: View, entry: Entry) -> list[str]:
    """An exception on the same matter, a head, and a file sent again to its question
    are told anew, not doubled.
    """
    keys = TOLD_ANEW.get(entry.kind)
    if keys is None:
        return []
    return [
        item.recorded.id
        for item in view.of(entry.kind)
        if all(entry.item.get(key) == item.item.get(key) for key in keys)
    ]


def _named(item: Standing, name: str) -> bool:
    return name in {item.item.get("id"), item.item.get("file"), item.recorded.id}
