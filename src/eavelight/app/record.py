"""Use case: add to a visit's record, one signed link after the other."""

import secrets
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from eavelight.app.clock import now
from eavelight.app.record_bodies import (
    EVIDENCE,
    HEAD,
    PLAN,
    READING,
    Body,
    Entry,
    Item,
    make_body,
    same_item,
)
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_stored import sha256_of
from eavelight.app.record_view import Standing, View, view_of
from eavelight.errors import EvidenceError
from eavelight.model.recorded import Batch, EvidenceRow, Recorded, VisitLine
from eavelight.seal import Head, link
from eavelight.seal.bodies import SCHEMA
from eavelight.seal.salted import SALT_BYTES
from eavelight.store import AlreadyRecorded
from eavelight.trace.codec import decode, samples_digest

TRIES = 20
AGAIN = "the visit folder was imported again with another value"
MEDIA_TYPES = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"RIFF", "image/webp"),
    (b"%PDF-", "application/pdf"),
    (b"<!doctype html", "text/html"),
    (b"<!DOCTYPE html", "text/html"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToRecord:
    """One observation before it has a place in a chain."""

    kind: str
    body: Body


@dataclass(slots=True, kw_only=True)
class Change:
    """What an act wants to add to one visit."""

    items: list[ToRecord] = field(default_factory=list)
    evidence: dict[str, tuple[EvidenceRow, bytes]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def stamp(moment: datetime | None = None) -> str:
    """A moment as the record writes it."""
    at = (moment or now()).astimezone(UTC)
    return at.isoformat(timespec="microseconds").replace("+00:00", "Z")


def salt() -> bytes:
    """Fresh secret bytes."""
    return secrets.token_bytes(SALT_BYTES)


def record(
    place: OpenRecord, visit: str, decide: Callable[[View], Change]
) -> tuple[Recorded, ...]:
    """Decide on the view of a visit, and record what was decided.

    Where another writer of this device was faster, it is decided again on what then
    stands: no number is used twice and nothing is lost.
    """
    store = place.store
    for attempt in range(TRIES):
        known = store.observations(visit)
        change = decide(view_of(visit, known, store.personal(visit)))
        if not change.items:
            return ()
        for sha256, (_, data) in change.evidence.items():
            store.put_bytes(sha256, data)
        links = _links(place, visit, known, change.items)
        try:
            store.append(links, _batch(place, visit, known, links=links, change=change))
        except AlreadyRecorded:
            if attempt == TRIES - 1:
                raise
        else:
            return links
    raise AssertionError("unreachable")  # pragma: no cover


def _links(
    place: OpenRecord,
    visit: str,
    known: Sequence[Recorded],
    items: Iterable[ToRecord],
) -> tuple[Recorded, ...]:
    mine = [item for item in known if item.device == place.key.device]
    last = max(mine, key=lambda item: item.number, default=None)
    head = Head(number=last.number, id=last.id) if last else Head()
    at, links = stamp(), []
    for item in items:
        made = link(
            place.key,
            head,
            visit=visit,
            kind=item.kind,
            body=item.body.body,
            recorded_at=at,
        )
        links.append(made)
        head = Head(number=made.number, id=made.id)
    return tuple(links)


def _batch(
    place: OpenRecord,
    visit: str,
    known: tuple[Recorded, ...],
    *,
    links: tuple[Recorded, ...],
    change: Change,
) -> Batch:
    personal = tuple(value for item in change.items for value in item.body.personal)
    kinds = {item.kind for item in change.items}
    line = place.store.line(visit)
    if line is None or kinds & {HEAD, PLAN}:
        sealed_at = line.sealed_at if line else ""
        line = replace(line_of(visit, (*known, *links)), sealed_at=sealed_at)
    else:
        line = replace(line, observations=line.observations + len(links))
    return Batch(
        personal=personal,
        evidence=tuple(row for row, _ in change.evidence.values()),
        lines=(line,),
        uses={visit: tuple(change.evidence)} if change.evidence else {},
    )


def line_of(visit: str, items: tuple[Recorded, ...]) -> VisitLine:
    """The line of a visit in the list; personal values play no part in it."""
    view = view_of(visit, items)
    head: Item = next((item.item for item in view.of(HEAD)), {})
    plan: Item = next((item.item for item in view.of(PLAN)), {})
    return VisitLine(
        visit=visit,
        site=str(plan.get("site", {}).get("key", "")),
        crew=str(head.get("crew", "")),
        purpose=str(head.get("purpose", "")),
        profile=str(head.get("profile", "default")),
        started=_utc(head.get("started")),
        ended=_utc(head.get("ended")),
        observations=len(items),
    )


def _utc(value: Any) -> str:
    return stamp(datetime.fromisoformat(value)) if isinstance(value, str) else ""


def entry_to_record(
    entry: Entry, *, visit: str, supersedes: Sequence[str] = (), reason: str = ""
) -> ToRecord:
    """An entry as it will be recorded, naming what it supersedes and why."""
    body = make_body(entry.kind, entry.item, visit=visit, salt=salt)
    if supersedes:
        full = body.body | {"supersedes": sorted(supersedes), "reason": reason}
        body = replace(body, body=full)
    return ToRecord(kind=entry.kind, body=body)


def plain_to_record(kind: str, item: dict[str, Any]) -> ToRecord:
    """An observation of the record about itself, such as a purge."""
    return ToRecord(kind=kind, body=Body(body={"schema": SCHEMA, "item": item}))


def change_of(
    view: View,
    entries: Iterable[Entry],
    *,
    files: Callable[[str], bytes],
    reason: str = AGAIN,
) -> Change:
    """What a folder's entries add to what stands."""
    change = Change()
    standing = view.by_key()
    superseded: dict[str, list[Standing]] = {}
    for item in view.superseded:
        superseded.setdefault(item.recorded.kind, []).append(item)
    for entry in entries:
        full = entry
        if entry.kind == EVIDENCE:
            full = _with_bytes(entry, files, change)
        here = standing.get(entry.key, [])
        if any(same_item(item.item, full.item, item.unknown) for item in here):
            continue
        old = superseded.get(entry.kind, [])
        if any(same_item(item.item, full.item, item.unknown) for item in old):
            change.notes.append(" ".join(entry.key))
            continue
        replaced = [i.recorded.id for i in here if _corrects(entry.kind, full, i)]
        change.items.append(
            entry_to_record(full, visit=view.visit, supersedes=replaced, reason=reason)
        )
    used = {item.body.body["item"].get("sha256") for item in change.items}
    change.evidence = {k: v for k, v in change.evidence.items() if k in used}
    return change


def _corrects(kind: str, entry: Entry, standing: Standing) -> bool:
    """Whether an entry is the same act told otherwise, not another act.

    A reading at another time and a file with other bytes are other acts: both stay.
    """
    if kind == READING:
        return bool(entry.item.get("time") == standing.item.get("time"))
    if kind == EVIDENCE:
        return bool(entry.item["sha256"] == standing.item["sha256"])
    return True


def _with_bytes(entry: Entry, files: Callable[[str], bytes], change: Change) -> Entry:
    data = files(str(entry.item["file"]))
    row = evidence_row(data, what=str(entry.item.get("what")))
    change.evidence[row.sha256] = (row, data)
    facts = {"sha256": row.sha256, "size": row.size, "media_type": row.media_type}
    return replace(entry, item={**entry.item, **facts})


def evidence_row(data: bytes, *, what: str = "") -> EvidenceRow:
    """What is to be known of evidence bytes when they are gone."""
    samples = None
    if what == "trace":
        try:
            samples = samples_digest(decode(data))
        except EvidenceError:
            samples = None
    return EvidenceRow(
        sha256=sha256_of(data),
        media_type=media_type_of(data),
        size=len(data),
        samples_sha256=samples,
    )


def media_type_of(data: bytes) -> str:
    """The media type by the first bytes."""
    for start, name in MEDIA_TYPES:
        if data.startswith(start):
            return name
    return "application/octet-stream"
