"""Use cases: a whole store into one file, and a new store out of it.

The file holds rows and bytes, not a database's own pages: a store in SQLite can be
restored into PostgreSQL and the other way round. Device keys are not in it.
"""

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from eavelight import __version__
from eavelight.app.record import stamp
from eavelight.app.record_place import OpenRecord, open_record
from eavelight.app.record_verify import Verified, all_visits, verify_store
from eavelight.errors import EvidenceError
from eavelight.seal import canonical, parsed
from eavelight.store import StoreError
from eavelight.store.rows import BY_NAME, all_rows, insert_rows, is_empty

SCHEMA = "eavelight.backup/1"
MANIFEST, BYTES = "manifest.json", "evidence/"
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
AGAIN = "use another backup"


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """What a backup holds."""

    path: Path
    rows: int
    files: int
    missing: tuple[str, ...] = ()


def back_up(place: OpenRecord, path: Path) -> BackedUp:
    """Write all of a store into one file, whole or not at all."""
    if not path.parent.is_dir():
        raise StoreError(str(path), "a folder to write into", "none", "make it first")
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            done = _write(place, archive, path)
        _sync(part)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return done


def _write(place: OpenRecord, archive: zipfile.ZipFile, path: Path) -> BackedUp:
    members: dict[str, dict[str, Any]] = {}
    digests: list[str] = []
    total = 0
    rows = all_rows(place.store)
    current: list[bytes] = []
    name = ""

    def keep() -> None:
        if name:
            data = b"".join(current)
            file = f"{name}.jsonl"
            archive.writestr(zipfile.ZipInfo(file, FIXED_TIME), data)
            members[file] = _facts(data)

    for table, row in rows:
        if table != name:
            keep()
            name, current = table, []
        total += 1
        current.append(json.dumps(row, ensure_ascii=False).encode() + b"\n")
        if table == "evidence":
            digests.append(str(row["sha256"]))
    keep()
    missing = []
    for sha256 in digests:
        value = place.store.read_bytes(sha256)
        if value is None:
            missing.append(sha256)
            continue
        info = zipfile.ZipInfo(BYTES + sha256, FIXED_TIME)
        archive.writestr(info, value)
        members[BYTES + sha256] = _facts(value)
    manifest = {
        "schema": SCHEMA,
        "version": __version__,
        "store": place.store.id,
        "made_at": stamp(),
        "members": members,
    }
    archive.writestr(zipfile.ZipInfo(MANIFEST, FIXED_TIME), canonical(manifest))
    return BackedUp(
        path=path,
        rows=total,
        files=len(digests) - len(missing),
        missing=tuple(missing),
    )


def _facts(data: bytes) -> dict[str, Any]:
    return {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}


def _sync(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def restore(path: Path, url: str) -> Verified:
    """Make a new store of a backup, and verify all of it."""
    try:
        archive = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError) as error:
        raise EvidenceError(
            str(path), "file", "a backup", str(error), advice=AGAIN
        ) from None
    with archive:
        members = _checked(archive, path)
        with open_record(url) as place:
            if not is_empty(place.store):
                raise StoreError(
                    place.store.place, "a new store", "one in use", "name another"
                )
            # bytes first: an observation is never there before its evidence
            for name in members:
                if name.startswith(BYTES):
                    data = archive.read(name)
                    place.store.put_bytes(name.removeprefix(BYTES), data)
            for table in BY_NAME:
                if f"{table}.jsonl" in members:
                    rows = _rows(archive.read(f"{table}.jsonl"))
                    if table == "device":
                        rows = (r for r in rows if r["device"] != place.key.device)
                    insert_rows(place.store, table, rows)
            return verify_store(place.store, all_visits(place.store))


def _checked(archive: zipfile.ZipFile, path: Path) -> dict[str, Any]:
    """Members of a backup, every one held against its digest before any is used."""
    try:
        manifest = parsed(archive.read(MANIFEST).decode())
        schema = manifest["schema"]
        members = cast("dict[str, Any]", manifest["members"])
    except (KeyError, ValueError, TypeError, zipfile.BadZipFile) as error:
        raise EvidenceError(
            str(path), MANIFEST, "a backup", str(error), advice=AGAIN
        ) from None
    if schema != SCHEMA:
        raise EvidenceError(
            str(path), MANIFEST, SCHEMA, str(schema), advice="use a newer version"
        )
    for name, facts in members.items():
        try:
            fits = _facts(archive.read(name)) == facts
        except (KeyError, zipfile.BadZipFile, OSError, ValueError):
            fits = False
        if not fits:
            raise EvidenceError(
                str(path), name, "the bytes that were backed up", "others", advice=AGAIN
            )
    return members


def _rows(data: bytes) -> Iterator[dict[str, Any]]:
    for line in data.splitlines():
        yield json.loads(line)
