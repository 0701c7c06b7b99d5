"""Connections: what each database is told before it may keep a record."""

from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.pool import StaticPool

from eavelight.errors import MissingFeatureError
from eavelight.store.errors import StoreError

WAIT_S = 30.0
KNOWN = "sqlite:///FILE or postgresql+psycopg://HOST/NAME"


def url_of(text: str) -> URL:
    """A store's URL; a plain path is a SQLite file."""
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).expanduser().absolute()))
    try:
        url = make_url(text)
    except ArgumentError:
        raise StoreError(text, KNOWN, "no URL", "write it so") from None
    if url.drivername in {"postgres", "postgresql"}:
        url = url.set(drivername="postgresql+psycopg")
    if url.drivername not in {"sqlite", "postgresql+psycopg"}:
        raise StoreError(shown(url), KNOWN, url.drivername, "use one of these")
    return url


def shown(url: URL) -> str:
    """The URL without its password."""
    return url.render_as_string(hide_password=True)


def open_engine(url: URL) -> Engine:
    """An engine with the safe settings of its database."""
    if url.drivername == "sqlite":
        return _sqlite(url)
    try:
        return create_engine(url, pool_pre_ping=True)
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise MissingFeatureError(
            "a store in PostgreSQL", "postgres", str(error)
        ) from None


def _sqlite(url: URL) -> Engine:
    options: dict[str, Any] = {"connect_args": {"timeout": WAIT_S}}
    if url.database in {None, "", ":memory:"}:
        options["poolclass"] = StaticPool
        options["connect_args"]["check_same_thread"] = False
    engine = create_engine(url, **options)
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _on_connect(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    for setting in (
        "foreign_keys = on",
        "journal_mode = wal",
        "synchronous = full",
    ):
        connection.execute(f"PRAGMA {setting}")


def _on_begin(connection: Any) -> None:
    writes = connection.get_execution_options().get("append", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
