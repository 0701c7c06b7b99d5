"""Opens a store by its URL."""

import os
from pathlib import Path

from sqlalchemy.engine import URL

from eavelight.store.bytes import ByteStore, byte_store
from eavelight.store.engine import open_engine, url_of
from eavelight.store.memory import MemoryStore
from eavelight.store.protocol import Store
from eavelight.store.sql import SqlStore

MEMORY = "memory:"


def open_store(url: str, *, evidence: str | None = None) -> Store:
    """The store at a URL; evidence goes to its own place, else beside the file.

    A database that is no file keeps evidence bytes itself where no place is named.
    """
    if url == MEMORY:
        return MemoryStore()
    where = url_of(url)
    if where.drivername == "sqlite" and where.database not in {None, "", ":memory:"}:
        file = Path(str(where.database))
        new = not file.parent.exists()
        file.parent.mkdir(parents=True, exist_ok=True)
        if new:
            file.parent.chmod(0o700)
    return SqlStore(open_engine(where), _bytes_for(where, evidence))


def _bytes_for(where: URL, evidence: str | None) -> ByteStore | None:
    if evidence:
        return byte_store(evidence)
    if where.drivername == "sqlite" and where.database not in {None, "", ":memory:"}:
        return byte_store(evidence_folder(Path(str(where.database))))
    return None


def evidence_folder(file: Path) -> Path:
    """The folder of evidence that belongs to a SQLite file."""
    return file.with_name(f"{file.name}.evidence")


def file_of(url: str) -> Path | None:
    """The SQLite file that a URL names; None for any other store."""
    if url == MEMORY:
        return None
    where = url_of(url)
    if where.drivername != "sqlite" or where.database in {None, "", ":memory:"}:
        return None
    return Path(os.fspath(str(where.database)))
