"""One file that carries visits: a plain zip, every byte of it under a digest.

Members are stored, not packed, with fixed times. The zip's comment is the digest of
all bytes before it; the manifest names the digest of every member and is signed.
"""

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, TypeVar

from eavelight.errors import EvidenceError
from eavelight.model.recorded import (
    Batch,
    Copy,
    EvidenceRow,
    PersonalValue,
    Recorded,
    Seal,
)
from eavelight.seal import DeviceKey, canonical, digest, parsed, signed_by

T = TypeVar("T")
SCHEMA = "eavelight.bundle/1"
SUFFIX = ".eave"
MANIFEST, SIGNATURE, BYTES = "manifest.json", "manifest.sig", "evidence/"
LISTS: dict[str, tuple[str, type[Any]]] = {
    "observations": ("observations.jsonl", Recorded),
    "seals": ("seals.jsonl", Seal),
    "personal": ("personal.jsonl", PersonalValue),
    "evidence": ("evidence.jsonl", EvidenceRow),
    "copies": ("copies.jsonl", Copy),
}
MEMBER = re.compile(r"manifest\.(json|sig)|[a-z]+\.jsonl|evidence/[0-9a-f]{64}")
DIGEST_CHARACTERS = 64
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
AGAIN = "export it again, or ask for it again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """What a bundle holds, and everything about it that is not as it was written."""

    name: str
    manifest: Mapping[str, Any]
    batch: Batch
    data: Mapping[str, bytes]
    damage: tuple[tuple[str, str], ...] = ()
    """Places with what is wrong there: an id of a sentence."""


def members_of(
    batch: Batch, data: Mapping[str, bytes], manifest: dict[str, Any], key: DeviceKey
) -> dict[str, bytes]:
    """Every member of a bundle by name, manifest and signature first."""
    found: dict[str, bytes] = {}
    for name, (file, _) in LISTS.items():
        rows = (canonical(asdict(item)) for item in getattr(batch, name))
        found[file] = b"".join(row + b"\n" for row in rows)
    for sha256 in sorted(data):
        found[BYTES + sha256] = data[sha256]
    listed = {
        name: {"sha256": hashlib.sha256(value).hexdigest(), "size": len(value)}
        for name, value in found.items()
    }
    full = {"schema": SCHEMA, "device": key.device, **manifest, "members": listed}
    signature = {"device": key.device, "signature": key.sign("bundle", digest(full))}
    return {MANIFEST: canonical(full), SIGNATURE: canonical(signature), **found}


def packed(members: Mapping[str, bytes]) -> bytes:
    """The bytes of a bundle file."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, value in members.items():
            info = zipfile.ZipInfo(name, FIXED_TIME)
            info.external_attr = 0o600 << 16
            archive.writestr(info, value)
        archive.comment = b"0" * DIGEST_CHARACTERS
    body = stream.getvalue()[:-DIGEST_CHARACTERS]
    return body + hashlib.sha256(body).hexdigest().encode()


def unpacked(data: bytes, name: str) -> Bundle:
    """Read a bundle file as far as it can be read; damage is told, not raised.

    Raises
    ------
    EvidenceError
        If it is no bundle at all, or too damaged to say more.
    """
    body, told = data[:-DIGEST_CHARACTERS], data[-DIGEST_CHARACTERS:]
    whole = hashlib.sha256(body).hexdigest().encode() == told
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members, odd = _members(archive)
    except (zipfile.BadZipFile, ValueError, OSError, EOFError) as error:
        raise EvidenceError(
            name, "file", "a bundle of visits", f"none ({error})", advice=AGAIN
        ) from None
    damage = [*odd, *([] if whole else [("file", "bundle_bytes")])]
    return read_members(members, name, damage)


def _members(
    archive: zipfile.ZipFile,
) -> tuple[dict[str, bytes], list[tuple[str, str]]]:
    found: dict[str, bytes] = {}
    odd: list[tuple[str, str]] = []
    for info in archive.infolist():
        safe = MEMBER.fullmatch(info.filename) and info.filename not in found
        if not safe or info.compress_type != zipfile.ZIP_STORED:
            odd.append((ascii(info.filename), "bundle_member_odd"))
            continue
        try:
            found[info.filename] = archive.read(info)
        except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError):
            odd.append((info.filename, "bundle_member_changed"))
            # its bytes are still worth more than nothing: the digests decide
            archive.fp.seek(0)  # type: ignore[union-attr]
    return found, odd


def read_members(
    members: Mapping[str, bytes], name: str, damage: list[tuple[str, str]]
) -> Bundle:
    """A bundle of its members, each held against the signed manifest."""
    manifest = _manifest(members, name, damage)
    listed = manifest.get("members", {})
    listed = listed if isinstance(listed, dict) else {}
    known = {place for place, _ in damage}
    for member, facts in listed.items():
        value = members.get(member)
        if value is None and member not in known:
            damage.append((member, "bundle_member_missing"))
        elif value is not None and not _fits(value, facts) and member not in known:
            damage.append((member, "bundle_member_changed"))
    damage += [
        (member, "bundle_member_added")
        for member in members
        if member not in listed and member not in {MANIFEST, SIGNATURE}
    ]
    rows: dict[str, Any] = {
        key: tuple(_rows(members.get(file, b""), kind, damage, file))
        for key, (file, kind) in LISTS.items()
    }
    data = {
        member.removeprefix(BYTES): value
        for member, value in members.items()
        if member.startswith(BYTES)
    }
    return Bundle(
        name=name,
        manifest=manifest,
        batch=Batch(**rows),
        data=data,
        damage=tuple(dict.fromkeys(damage)),
    )


def _fits(value: bytes, facts: Any) -> bool:
    return (
        isinstance(facts, dict)
        and facts.get("size") == len(value)
        and facts.get("sha256") == hashlib.sha256(value).hexdigest()
    )


def _manifest(
    members: Mapping[str, bytes], name: str, damage: list[tuple[str, str]]
) -> dict[str, Any]:
    raw = members.get(MANIFEST)
    if raw is None:
        if (MANIFEST, "bundle_member_changed") not in damage:
            raise EvidenceError(
                name, MANIFEST, "a bundle of visits", "no manifest", advice=AGAIN
            )
        return {}
    try:
        manifest = parsed(raw.decode())
        signature = parsed(members.get(SIGNATURE, b"").decode())
        genuine = signature["device"] == manifest["device"] and signed_by(
            signature["device"],
            "bundle",
            digest(manifest),
            signature=signature["signature"],
        )
        schema = manifest["schema"]
    except (ValueError, KeyError, TypeError, UnicodeDecodeError):
        damage.append((MANIFEST, "bundle_manifest_changed"))
        return _salvaged(raw)
    if schema != SCHEMA:
        raise EvidenceError(
            name, MANIFEST, SCHEMA, str(schema), advice="use a newer version"
        )
    if not genuine:
        damage.append((MANIFEST, "bundle_manifest_changed"))
    return dict(manifest)


def _salvaged(raw: bytes) -> dict[str, Any]:
    try:
        found = json.loads(raw)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _rows(
    text: bytes, kind: type[T], damage: list[tuple[str, str]], file: str
) -> Iterator[T]:
    names = {item.name: item.type for item in fields(kind)}  # type: ignore[arg-type]
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            row = parsed(line.decode())
            if not isinstance(row, dict) or row.keys() != names.keys():
                raise ValueError("row must hold the keys of its kind")
            for name, value in row.items():
                wanted: Any = int if names[name] in (int, "int") else str
                if not isinstance(value, wanted) and not _may_be_none(
                    names[name], value
                ):
                    raise ValueError(f"{name} must be {wanted.__name__}")
        except (ValueError, UnicodeDecodeError):
            damage.append((f"{file}, line {number}", "bundle_row_unreadable"))
            continue
        yield kind(**row)


def _may_be_none(annotation: Any, value: Any) -> bool:
    return value is None and "None" in str(annotation)


def visits_of(batch: Batch) -> list[str]:
    """Ids of the visits that a batch holds observations of."""
    return sorted({item.visit for item in batch.observations})


def of_visit(batch: Batch, visits: Iterable[str]) -> Batch:
    """The part of a batch that belongs to some visits."""
    wanted = set(visits)
    return Batch(
        observations=tuple(i for i in batch.observations if i.visit in wanted),
        seals=tuple(s for s in batch.seals if s.visit in wanted),
        personal=tuple(p for p in batch.personal if p.visit in wanted),
        evidence=batch.evidence,
        copies=batch.copies,
    )
