"""People, sessions, tokens and the log of access, beside the record."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine, Table, func, select

from eavelight.store import tables as t
from eavelight.store.errors import StoreError
from eavelight.store.sql import SqlStore

Row = Mapping[str, Any]


class AccessTables:
    """Rows by key; what they mean is decided elsewhere."""

    def __init__(self, store: object) -> None:
        if not isinstance(store, SqlStore):
            raise StoreError("memory", "a store in a database", "memory", "name one")
        self._engine: Engine = store.engine
        self._writing = store.engine.execution_options(append=True)

    def person(self, name: str) -> Row | None:
        """A person by name."""
        return self._one(t.person, t.person.c.name == name)

    def people(self) -> list[Row]:
        """Everybody, by name."""
        with self._engine.connect() as connection:
            rows = connection.execute(select(t.person).order_by(t.person.c.name))
            return [dict(row._mapping) for row in rows]

    def add_person(self, row: Row) -> None:
        """Add a person."""
        self._insert(t.person, row)

    def change_person(self, name: str, **values: Any) -> None:
        """Change what is known of a person."""
        change = t.person.update().where(t.person.c.name == name).values(**values)
        self._run(change)

    def session(self, sha256: str) -> Row | None:
        """A session by the digest of its secret."""
        return self._one(t.session, t.session.c.sha256 == sha256)

    def add_session(self, row: Row) -> None:
        """Begin a session."""
        self._insert(t.session, row)

    def end_sessions(self, *, sha256: str = "", person: str = "") -> None:
        """End one session, or all of a person."""
        where = t.session.c.sha256 == sha256 if sha256 else t.session.c.person == person
        self._run(t.session.delete().where(where))

    def token(self, sha256: str) -> Row | None:
        """A device's token by the digest of its secret."""
        return self._one(t.token, t.token.c.sha256 == sha256)

    def add_token(self, row: Row) -> None:
        """Give a token out."""
        self._insert(t.token, row)

    def revoke_tokens(self, person: str, name: str, at: str) -> None:
        """Revoke the tokens of a person's device."""
        change = t.token.update().where(
            t.token.c.person == person, t.token.c.name == name
        )
        self._run(change.values(revoked_at=at))

    def log(self, *, at: str, person: str, action: str, subject: str) -> None:
        """Write a line of the log; it is never changed."""
        with self._writing.begin() as connection:
            if connection.dialect.name == "postgresql":
                connection.exec_driver_sql("LOCK TABLE access_log IN EXCLUSIVE MODE")
            query = select(func.coalesce(func.max(t.access_log.c.seq), 0))
            seq = int(connection.execute(query).scalar_one()) + 1
            row = {"seq": seq, "at": at, "person": person, "action": action}
            connection.execute(t.access_log.insert().values(subject=subject, **row))

    def log_lines(self, *, limit: int = 100, subject: str = "") -> list[Row]:
        """Newest lines of the log."""
        query = select(t.access_log).order_by(t.access_log.c.seq.desc()).limit(limit)
        if subject:
            query = query.where(t.access_log.c.subject == subject)
        with self._engine.connect() as connection:
            return [dict(row._mapping) for row in connection.execute(query)]

    def _one(self, table: Table, where: Any) -> Row | None:
        with self._engine.connect() as connection:
            row = connection.execute(select(table).where(where)).first()
        return None if row is None else dict(row._mapping)

    def _insert(self, table: Table, row: Row) -> None:
        self._run(table.insert().values(**row))

    def _run(self, statement: Any) -> None:
        with self._writing.begin() as connection:
            connection.execute(statement)
