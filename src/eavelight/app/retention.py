"""Use case: purge what has been kept for as long as its kind is kept.

An observation is never purged. The purge itself is recorded first, so that a reader,
and `verify`, can tell purged from missing whatever happens in between.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from importlib import resources
from pathlib import Path

from eavelight.app.record import Change, plain_to_record, record
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_verify import all_visits
from eavelight.app.record_view import View
from eavelight.errors import FolderError, Mistake
from eavelight.seal import body_of, references
from eavelight.seal.bodies import PURGE
from eavelight.store import Store

EVIDENCE_KINDS = ("photo", "endface", "trace")
PERSONAL_KINDS = ("person", "position", "text")
KINDS = (*EVIDENCE_KINDS, *PERSONAL_KINDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Purged:
    """What was, or would be, purged of one visit."""

    visit: str
    evidence: tuple[str, ...] = ()
    personal: tuple[str, ...] = ()


def load_rules(path: Path | None = None) -> Mapping[str, int]:
    """Days by kind of data, from a file or as the program comes."""
    if path is None:
        text = resources.files("eavelight.app").joinpath("retention.toml").read_text()
    else:
        text = path.read_text(encoding="utf-8")
    shown = path.as_posix() if path else "retention.toml"
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _mistake(shown, "text", "TOML", str(error)) from None
    rules = raw.get("keep_days", {})
    for key in raw.keys() - {"keep_days"}:
        raise _mistake(shown, key, "a section [keep_days]", key)
    for kind, days in rules.items():
        if kind not in KINDS:
            raise _mistake(shown, f"keep_days.{kind}", " or ".join(KINDS), kind)
        if not isinstance(days, int) or isinstance(days, bool) or days < 0:
            raise _mistake(shown, f"keep_days.{kind}", "whole days", repr(days))
    return dict(rules)


def _mistake(file: str, place: str, expected: str, found: str) -> FolderError:
    mistake = Mistake(
        file=file, place=place, expected=expected, found=found, advice="correct it"
    )
    return FolderError((mistake,))


def purge(
    place: OpenRecord, rules: Mapping[str, int], *, today: date, dry_run: bool = False
) -> list[Purged]:
    """Purge every visit's data that is past its time."""
    found = []
    for visit in list(all_visits(place.store)):
        due = _due(place.store, visit, rules, today)
        if due.evidence or due.personal:
            found.append(due)
            if not dry_run:
                _purge(place, due, rules)
        if not dry_run:
            _finish(place.store, visit, rules, today)
    return found


def _due(store: Store, visit: str, rules: Mapping[str, int], today: date) -> Purged:
    items = store.observations(visit)
    refs = references(items)
    personal = store.personal(visit)
    old = _old_kinds(store, visit, rules, today)
    evidence = [
        sha256
        for sha256, item in refs.evidence.items()
        if body_of(item)["item"].get("what") in old
        and sha256 not in refs.purged
        and not _needed(store, visit, sha256, rules, today)
    ]
    values = [
        hash
        for hash, value in personal.items()
        if value.kind in old and hash not in refs.purged
    ]
    return Purged(
        visit=visit, evidence=tuple(sorted(evidence)), personal=tuple(sorted(values))
    )


def _old_kinds(
    store: Store, visit: str, rules: Mapping[str, int], today: date
) -> set[str]:
    line = store.line(visit)
    last = (line.ended or line.started) if line else ""
    if not last:
        return set()
    day = datetime.fromisoformat(last).date()
    return {kind for kind, days in rules.items() if day + timedelta(days=days) < today}


def _needed(
    store: Store, visit: str, sha256: str, rules: Mapping[str, int], today: date
) -> bool:
    """Whether another visit still needs the same bytes."""
    for other in store.used_by([sha256]):
        if other == visit:
            continue
        item = references(store.observations(other)).evidence.get(sha256)
        if item is None:
            continue
        kind = body_of(item)["item"].get("what")
        if kind not in _old_kinds(store, other, rules, today):
            return True
    return False


def _purge(place: OpenRecord, due: Purged, rules: Mapping[str, int]) -> None:
    item = {
        "evidence": list(due.evidence),
        "personal": list(due.personal),
        "keep_days": dict(rules),
    }

    def decide(_view: View) -> Change:
        return Change(items=[plain_to_record(PURGE, item)])

    record(place, due.visit, decide)


def _finish(store: Store, visit: str, rules: Mapping[str, int], today: date) -> None:
    """Delete what recorded purges name; what a crash left is deleted now."""
    purged = references(store.observations(visit)).purged
    if not purged:
        return
    store.forget_personal(list(purged))
    for sha256 in _bytes_of(store, list(purged)):
        if not _needed(store, visit, sha256, rules, today):
            store.forget_bytes(sha256)


def _bytes_of(store: Store, purged: list[str]) -> Iterator[str]:
    yield from store.evidence(purged)
    yield from (copy.sha256 for copy in store.copies(purged) if copy.sha256)
