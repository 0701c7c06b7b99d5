"""The store in SQLite or PostgreSQL, by SQLAlchemy Core and one set of tables."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import (
    Connection,
    Engine,
    Select,
    Table,
    func,
    select,
    text,
    update,
)
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from eavelight.model.recorded import (
    Batch,
    Copy,
    EvidenceRow,
    PersonalValue,
    Recorded,
    Seal,
    VisitLine,
)
from eavelight.store import tables as t
from eavelight.store.bytes import ByteStore, checked
from eavelight.store.engine import shown
from eavelight.store.errors import AlreadyRecorded, StoreError
from eavelight.store.migrate import migrate
from eavelight.store.protocol import NOTHING, Added, Filters
from eavelight.store.triggers import expected_triggers, present_triggers

T = TypeVar("T")
TRIES = 20
APPEND_LOCK = 7_203_662
# SQLite allows this many variables in one statement with room to spare
MANY = 500


class SqlStore:
    """A store in a database; writers wait for each other, readers never."""

    def __init__(self, engine: Engine, byte_store: ByteStore | None = None) -> None:
        self.engine = engine
        self.place = shown(engine.url)
        self._writing = engine.execution_options(append=True)
        self._bytes = byte_store
        try:
            self.copied_to: Path | None = migrate(engine)
        except OperationalError as error:
            raise StoreError(
                self.place, "a database", str(error.orig).strip(), "check the URL"
            ) from None

    @cached_property
    def id(self) -> str:
        query = select(t.about.c.value).where(t.about.c.key == "store")
        with self.engine.connect() as connection:
            return str(connection.execute(query).scalar_one())

    def append(self, items: Sequence[Recorded], rest: Batch = NOTHING) -> None:
        def act(connection: Connection) -> None:
            if known := self._known(connection, t.observation.c.id, items):
                first = next(item for item in items if item.id in known)
                raise AlreadyRecorded(first.visit, first.device, first.number)
            self._insert_observations(connection, items)
            if rest is not NOTHING:
                self._merge(connection, rest)

        self._write(act)

    def merge(self, batch: Batch) -> Added:
        return self._write(lambda connection: self._merge(connection, batch))

    def _merge(self, connection: Connection, batch: Batch) -> Added:
        known = self._known(connection, t.observation.c.id, batch.observations)
        fresh = {i.id: i for i in batch.observations if i.id not in known}
        self._insert_observations(connection, tuple(fresh.values()))
        seals = self._insert_new(connection, t.seal, "id", batch.seals, numbered=True)
        personal = self._insert_new(connection, t.personal, "sha256", batch.personal)
        evidence = self._insert_new(connection, t.evidence, "sha256", batch.evidence)
        for copy in batch.copies:
            self._insert_once(connection, t.evidence_copy, asdict(copy))
        self._insert_uses(connection, batch.uses)
        for line in batch.lines:
            self._set_line(connection, line)
        return Added(
            observations=len(fresh),
            seals=len(seals),
            evidence=len(evidence),
            personal=len(personal),
        )

    def _write(self, act: Callable[[Connection], T]) -> T:
        """One transaction; a lost race between two writers is run again."""
        for attempt in range(TRIES):
            try:
                with self._writing.begin() as connection:
                    if connection.dialect.name == "postgresql":
                        lock = text(f"SELECT pg_advisory_xact_lock({APPEND_LOCK})")
                        connection.execute(lock)
                    return act(connection)
            except IntegrityError:
                if attempt == TRIES - 1:
                    raise
            except OperationalError as error:
                raise StoreError(
                    self.place, "to write", str(error.orig).strip(), "try again"
                ) from None
        raise AssertionError("unreachable")  # pragma: no cover

    def _known(
        self, connection: Connection, column: Any, items: Sequence[Any]
    ) -> set[str]:
        wanted = [getattr(item, column.name) for item in items]
        found: set[str] = set()
        for start in range(0, len(wanted), MANY):
            query = select(column).where(column.in_(wanted[start : start + MANY]))
            found.update(connection.execute(query).scalars())
        return found

    def _insert_observations(
        self, connection: Connection, items: Sequence[Recorded]
    ) -> None:
        if not items:
            return
        columns = t.observation.c
        places = Counter((item.visit, item.device, item.number) for item in items)
        chains: dict[tuple[str, str], list[int]] = {}
        for (visit, device, number), count in places.items():
            if count > 1:
                raise AlreadyRecorded(visit, device, number)
            chains.setdefault((visit, device), []).append(number)
        # one query a chain: only so does SQLite look places up instead of reading all
        for (visit, device), numbers in chains.items():
            for start in range(0, len(numbers), MANY):
                query = select(columns.number).where(
                    columns.visit == visit,
                    columns.device == device,
                    columns.number.in_(numbers[start : start + MANY]),
                )
                taken = connection.execute(query.limit(1)).scalar_one_or_none()
                if taken is not None:
                    raise AlreadyRecorded(visit, device, taken)
        first = self._next(connection, t.observation)
        rows = [{"seq": first + n, **asdict(i)} for n, i in enumerate(items)]
        connection.execute(t.observation.insert(), rows)

    def _next(self, connection: Connection, table: Table) -> int:
        query = select(func.coalesce(func.max(table.c.seq), 0))
        return int(connection.execute(query).scalar_one()) + 1

    def _insert_new(
        self,
        connection: Connection,
        table: Table,
        key: str,
        items: Sequence[Any],
        *,
        numbered: bool = False,
    ) -> list[dict[str, Any]]:
        known = self._known(connection, table.c[key], items)
        fresh = {
            getattr(i, key): asdict(i) for i in items if getattr(i, key) not in known
        }
        rows = list(fresh.values())
        if not rows:
            return rows
        if numbered:
            first = self._next(connection, table)
            rows = [{"seq": first + n, **row} for n, row in enumerate(rows)]
        connection.execute(table.insert(), rows)
        return rows

    def _insert_once(
        self, connection: Connection, table: Table, row: dict[str, Any]
    ) -> None:
        keys = [column for column in table.c if column.primary_key]
        query = select(keys[0]).where(*(key == row[key.name] for key in keys))
        if connection.execute(query).first() is None:
            connection.execute(table.insert().values(**row))

    def _insert_uses(
        self, connection: Connection, uses: Mapping[str, tuple[str, ...]]
    ) -> None:
        columns = t.evidence_use.c
        for visit, digests in uses.items():
            query = select(columns.sha256).where(columns.visit == visit)
            known = set(connection.execute(query).scalars())
            rows = [
                {"visit": visit, "sha256": digest}
                for digest in dict.fromkeys(digests)
                if digest not in known
            ]
            if rows:
                connection.execute(t.evidence_use.insert(), rows)

    def _set_line(self, connection: Connection, line: VisitLine) -> None:
        row = asdict(line)
        change = update(t.visit_line).where(t.visit_line.c.visit == line.visit)
        if connection.execute(change.values(**row)).rowcount == 0:
            connection.execute(t.visit_line.insert().values(**row))

    def observations(self, visit: str) -> tuple[Recorded, ...]:
        columns = t.observation.c
        query = (
            _columns(t.observation, Recorded)
            .where(columns.visit == visit)
            .order_by(columns.device, columns.number)
        )
        return self._all(query, Recorded)

    def find(self, ids: Iterable[str]) -> Mapping[str, Recorded]:
        column = t.observation.c.id
        found = self._in(_columns(t.observation, Recorded), column, ids, Recorded)
        return {item.id: item for item in found}

    def seals(self, visit: str) -> tuple[Seal, ...]:
        query = (
            _columns(t.seal, Seal)
            .where(t.seal.c.visit == visit)
            .order_by(t.seal.c.sealed_at, t.seal.c.id)
        )
        return self._all(query, Seal)

    def visits(self, filters: Filters) -> tuple[VisitLine, ...]:
        columns = t.visit_line.c
        query = _columns(t.visit_line, VisitLine)
        for name in ("site", "crew", "purpose"):
            if wanted := getattr(filters, name):
                query = query.where(columns[name] == wanted)
        if filters.since:
            query = query.where(columns.started >= filters.since)
        if filters.until:
            query = query.where(columns.started <= filters.until)
        order = [columns.started, columns.visit]
        if filters.newest_first:
            order = [column.desc() for column in order]  # type: ignore[misc]
        query = query.order_by(*order).limit(filters.limit).offset(filters.offset)
        return self._all(query, VisitLine)

    def count(self) -> int:
        with self.engine.connect() as connection:
            query = select(func.count()).select_from(t.visit_line)
            return int(connection.execute(query).scalar_one())

    def line(self, visit: str) -> VisitLine | None:
        query = _columns(t.visit_line, VisitLine).where(t.visit_line.c.visit == visit)
        return next(iter(self._all(query, VisitLine)), None)

    def put_bytes(self, sha256: str, data: bytes) -> None:
        if self._bytes is not None:
            self._bytes.put(sha256, data)
            return
        row = {"sha256": checked(sha256), "bytes": data}
        table = t.evidence_bytes

        def act(connection: Connection) -> None:
            connection.execute(table.delete().where(table.c.sha256 == sha256))
            connection.execute(table.insert().values(**row))

        if self.read_bytes(sha256) != data:
            self._write(act)

    def evidence(self, digests: Iterable[str]) -> Mapping[str, EvidenceRow]:
        query = _columns(t.evidence, EvidenceRow)
        found = self._in(query, t.evidence.c.sha256, digests, EvidenceRow)
        return {item.sha256: item for item in found}

    def read_bytes(self, sha256: str) -> bytes | None:
        if self._bytes is not None:
            return self._bytes.get(sha256)
        column = t.evidence_bytes.c
        query = select(column.bytes).where(column.sha256 == sha256)
        with self.engine.connect() as connection:
            found = connection.execute(query).scalar_one_or_none()
        return None if found is None else bytes(found)

    def forget_bytes(self, sha256: str) -> None:
        if self._bytes is not None:
            self._bytes.forget(sha256)
            return
        gone = t.evidence_bytes.delete().where(t.evidence_bytes.c.sha256 == sha256)
        self._write(lambda connection: connection.execute(gone))

    def copies(self, originals: Iterable[str]) -> tuple[Copy, ...]:
        query = _columns(t.evidence_copy, Copy)
        found = self._in(query, t.evidence_copy.c.original, originals, Copy)
        return tuple(sorted(found, key=lambda copy: (copy.original, copy.sha256)))

    def used_by(self, digests: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
        wanted = list(dict.fromkeys(digests))
        use, evidence = t.evidence_use.c, t.evidence.c
        found: dict[str, set[str]] = {}
        for column in (use.sha256, evidence.samples_sha256):
            joined = t.evidence_use.outerjoin(t.evidence, use.sha256 == evidence.sha256)
            for start in range(0, len(wanted), MANY):
                query = (
                    select(use.visit, use.sha256)
                    .select_from(joined)
                    .where(column.in_(wanted[start : start + MANY]))
                )
                with self.engine.connect() as connection:
                    for visit, digest in connection.execute(query):
                        found.setdefault(visit, set()).add(digest)
        return {visit: tuple(sorted(found[visit])) for visit in sorted(found)}

    def personal(self, visit: str) -> Mapping[str, PersonalValue]:
        query = _columns(t.personal, PersonalValue).where(t.personal.c.visit == visit)
        return {item.sha256: item for item in self._all(query, PersonalValue)}

    def forget_personal(self, hashes: Iterable[str]) -> int:
        wanted = list(hashes)

        def act(connection: Connection) -> int:
            column, gone = t.personal.c.sha256, 0
            for start in range(0, len(wanted), MANY):
                part = wanted[start : start + MANY]
                gone += connection.execute(
                    t.personal.delete().where(column.in_(part))
                ).rowcount
            return gone

        return self._write(act)

    def devices(self) -> Mapping[str, str]:
        query = select(t.device.c.device, t.device.c.name)
        with self.engine.connect() as connection:
            return {row.device: row.name for row in connection.execute(query)}

    def know_device(self, device: str, name: str, at: str) -> None:
        row = {"device": device, "name": name, "added_at": at}
        self._write(lambda connection: self._insert_once(connection, t.device, row))

    def missing_guards(self) -> frozenset[str]:
        with self.engine.connect() as connection:
            wanted = expected_triggers(connection.dialect.name)
            return wanted - present_triggers(connection)

    def close(self) -> None:
        self.engine.dispose()

    def _all(self, query: Select[Any], kind: type[T]) -> tuple[T, ...]:
        try:
            with self.engine.connect() as connection:
                rows = connection.execute(query)
                return tuple(kind(**row._mapping) for row in rows)
        except DBAPIError as error:
            raise StoreError(
                self.place, "to read", str(error.orig).strip(), "check the database"
            ) from None

    def _in(
        self, query: Select[Any], column: Any, wanted: Iterable[str], kind: type[T]
    ) -> list[T]:
        listed = list(dict.fromkeys(wanted))
        found: list[T] = []
        for start in range(0, len(listed), MANY):
            part = query.where(column.in_(listed[start : start + MANY]))
            found.extend(self._all(part, kind))
        return found


def _columns(table: Table, kind: type[Any]) -> Select[Any]:
    return select(*(table.c[item.name] for item in fields(kind)))
