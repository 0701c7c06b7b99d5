"""Every row of a store out and in again, whatever the database: for backups."""

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import select

from eavelight.store import tables as t
from eavelight.store.errors import StoreError
from eavelight.store.sql import SqlStore

# sessions end with a restore, the store's own name is made anew, bytes go apart
TABLES = (
    t.observation, t.seal, t.evidence, t.evidence_use, t.evidence_copy, t.personal,
    t.visit_line, t.device, t.person, t.token, t.access_log,
)  # fmt: skip
BY_NAME = {table.name: table for table in TABLES}
AT_ONCE = 500


def all_rows(store: object) -> Iterator[tuple[str, dict[str, Any]]]:
    """Table and row of everything, as it stood at one moment."""
    engine = _sql(store).engine
    if engine.dialect.name == "postgresql":
        engine = engine.execution_options(isolation_level="REPEATABLE READ")
    with engine.connect() as connection:
        for table in TABLES:
            keys = list(table.primary_key.columns)
            query = select(table).order_by(*keys).execution_options(yield_per=AT_ONCE)
            for row in connection.execute(query):
                yield table.name, dict(row._mapping)


def insert_rows(store: object, name: str, rows: Iterable[dict[str, Any]]) -> int:
    """Put rows into a table of a new store."""
    table, count, batch = BY_NAME[name], 0, []
    writing = _sql(store).engine.execution_options(append=True)
    with writing.begin() as connection:
        for row in rows:
            batch.append(row)
            count += 1
            if len(batch) == AT_ONCE:
                connection.execute(table.insert(), batch)
                batch = []
        if batch:
            connection.execute(table.insert(), batch)
    return count


def is_empty(store: object) -> bool:
    """Whether a store holds no observation yet."""
    with _sql(store).engine.connect() as connection:
        return connection.execute(select(t.observation.c.id).limit(1)).first() is None


def _sql(store: object) -> SqlStore:
    if not isinstance(store, SqlStore):
        raise StoreError("memory", "a store in a database", "memory", "name one")
    return store
