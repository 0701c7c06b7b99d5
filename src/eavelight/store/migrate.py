"""Brings a store's tables up to date, unattended, and copies a SQLite file first."""

import secrets
import sqlite3
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from eavelight.store.errors import StoreError
from eavelight.store.tables import about

NEWEST = "0002"
"""The newest step in `migrations/versions`; written here: no start needs Alembic."""
LOCK = 7_203_661


def migrate(engine: Engine, *, target: str = NEWEST) -> Path | None:
    """Bring the tables up to date; returns the copy that was made of a SQLite file."""
    if version_of(engine) == target:
        return None
    copy = _copy_first(engine)
    with engine.execution_options(append=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))
        if _version(connection) != target:
            _upgrade(connection, target)
            _name_store(connection)
    return copy


def version_of(engine: Engine) -> str | None:
    """The step that a store is at; None where it has no tables yet."""
    with engine.connect() as connection:
        return _version(connection)


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    query = text("SELECT version_num FROM alembic_version")
    found = connection.execute(query).scalar_one_or_none()
    if found is not None and found > NEWEST:
        raise StoreError(
            connection.engine.url.render_as_string(hide_password=True),
            f"tables up to step {NEWEST}",
            f"step {found}, made by a newer version",
            "use that version or a newer one",
        )
    return found


def _upgrade(connection: Connection, target: str) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "eavelight:store/migrations")
    config.attributes["connection"] = connection
    command.upgrade(config, target)


def _name_store(connection: Connection) -> None:
    known = connection.execute(about.select().where(about.c.key == "store")).first()
    if known is None:
        row = {"key": "store", "value": secrets.token_hex(16)}
        connection.execute(about.insert().values(**row))


def _copy_first(engine: Engine) -> Path | None:
    if engine.dialect.name != "sqlite" or not engine.url.database:
        return None
    source = Path(engine.url.database)
    if not source.is_file() or source.stat().st_size == 0:
        return None
    version = version_of(engine)
    if version is None:
        return None
    target = source.with_name(f"{source.name}.before-{NEWEST}-from-{version}")
    copy_sqlite(source, target)
    return target


def copy_sqlite(source: Path, target: Path) -> None:
    """A consistent copy of a SQLite file, while others may be writing."""
    part = target.with_name(f".{target.name}.part")
    part.unlink(missing_ok=True)
    origin, copy = sqlite3.connect(source), sqlite3.connect(part)
    try:
        origin.backup(copy)
        copy.execute("PRAGMA journal_mode = delete")
    finally:
        copy.close()
        origin.close()
    part.replace(target)
