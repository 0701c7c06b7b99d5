"""What of a visit leaves the house: everything, or nothing about people and places."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from eavelight.app.photo_privacy import without_position
from eavelight.app.record import evidence_row
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_stored import sha256_of
from eavelight.app.record_verify import copy_id
from eavelight.model.recorded import Batch, Copy, Recorded
from eavelight.seal import DeviceKey, body_of, references

POSITION_REASON = "position removed from the picture"
UNKNOWN_REASON = "a picture of a kind whose position cannot be removed"
PERSONAL_REASON = "exported without personal data"
PICTURES = {"photo", "endface"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What an export may carry."""

    personal: bool = True
    position: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What of a visit is exported."""

    batch: Batch
    data: dict[str, bytes]
    notes: tuple[str, ...] = ()


def chosen(place: OpenRecord, visit: str, batch: Batch, choice: Choice) -> Part:
    """The part of a visit that a choice lets out, with what it says of the rest."""
    refs = references(batch.observations)
    data: dict[str, bytes] = {}
    copies = {(copy.original, copy.sha256): copy for copy in batch.copies}
    rows = {row.sha256: row for row in batch.evidence}
    for sha256, item in refs.evidence.items():
        for name, value in _bytes_of(place, sha256, batch):
            made = _let_out(place.key, item, name, value, choice)
            if made is None:
                data[name] = value
                continue
            copy, other = made
            copies[copy.original, copy.sha256] = copy
            if other is not None:
                data[copy.sha256] = other
                rows[copy.sha256] = evidence_row(other)
    personal = batch.personal
    if not choice.personal:
        for hash in sorted(value.sha256 for value in personal):
            copy = statement(place.key, hash, "", PERSONAL_REASON)
            copies[hash, ""] = copy
        personal = ()
    part = replace(
        batch,
        personal=personal,
        copies=tuple(copies[key] for key in sorted(copies)),
        evidence=tuple(rows[key] for key in sorted(rows)),
    )
    return Part(batch=part, data=data, notes=_notes(visit, part, batch, data))


def _bytes_of(
    place: OpenRecord, sha256: str, batch: Batch
) -> Iterator[tuple[str, bytes]]:
    """The bytes of evidence, else of the copies that stand for it here."""
    data = place.store.read_bytes(sha256)
    if data is not None:
        yield sha256, data
        return
    for copy in batch.copies:
        if copy.original == sha256 and copy.sha256:
            other = place.store.read_bytes(copy.sha256)
            if other is not None:
                yield copy.sha256, other


def _let_out(
    key: DeviceKey, item: Recorded, sha256: str, data: bytes, choice: Choice
) -> tuple[Copy, bytes | None] | None:
    """A statement and the bytes to export instead; None to export them as they are."""
    what = body_of(item)["item"].get("what")
    if not choice.personal and what == "photo":
        return statement(key, sha256, "", PERSONAL_REASON), None
    if what == "trace" and not choice.personal:
        return _trace(key, sha256, data)
    if choice.position or what not in PICTURES:
        return None
    other = without_position(data)
    if other is None:
        return statement(key, sha256, "", UNKNOWN_REASON), None
    if other == data:
        return None
    return statement(key, sha256, sha256_of(other), POSITION_REASON), other


def _trace(
    key: DeviceKey, sha256: str, data: bytes
) -> tuple[Copy, bytes | None] | None:
    """A trace without the names that its header may hold, or not at all."""
    from eavelight.app.trace_privacy import without_names

    other = without_names(data)
    if other == data:
        return None
    if other is None:
        return statement(key, sha256, "", PERSONAL_REASON), None
    return statement(key, sha256, sha256_of(other), PERSONAL_REASON), other


def statement(key: DeviceKey, original: str, sha256: str, reason: str) -> Copy:
    """A signed word that other bytes, or none, stand for something."""
    signature = key.sign("copy", copy_id(original, sha256, reason))
    return Copy(
        original=original,
        sha256=sha256,
        reason=reason,
        device=key.device,
        signature=signature,
    )


def _notes(
    visit: str, part: Batch, before: Batch, data: dict[str, bytes]
) -> tuple[str, ...]:
    known = {(copy.original, copy.sha256) for copy in before.copies}
    fresh = [c for c in part.copies if (c.original, c.sha256) not in known]
    counted: dict[str, int] = {}
    hashes = {value.sha256 for value in before.personal}
    for copy in fresh:
        kind = "values left out" if copy.original in hashes else "files: " + copy.reason
        counted[kind] = counted.get(kind, 0) + 1
    notes = [f"{visit}: {count} {kind}" for kind, count in sorted(counted.items())]
    told = {copy.original for copy in part.copies} | data.keys()
    lost = [s for s in references(part.observations).evidence if s not in told]
    if lost:
        notes.append(f"{visit}: {len(lost)} evidence files have no bytes here")
    return tuple(notes)
