"""What stands in a visit's record: superseded observations left out, order for people.

The union of chains is a set; whatever order it arrived in, the view is the same.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import tomli_w

from eavelight.app.record_bodies import (
    EVIDENCE,
    EXCEPTION,
    HEAD,
    PLAN,
    READING,
    Item,
    table_item,
    whole_item,
)
from eavelight.app.visit_folder.read import SCHEMA
from eavelight.model.recorded import PersonalValue, Recorded
from eavelight.seal import body_of

LISTS = (READING, EVIDENCE, EXCEPTION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One observation with its item as shown: ids that clash are told apart."""

    recorded: Recorded
    item: Item
    unknown: tuple[str, ...] = ()
    superseded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A visit as its record says."""

    visit: str
    standing: tuple[Standing, ...]
    superseded: tuple[Standing, ...]
    several: tuple[str, ...] = ()
    """Kinds of which the last of several that stand was taken."""

    def of(self, kind: str) -> tuple[Standing, ...]:
        """What stands of one kind, in order."""
        return tuple(item for item in self.standing if item.recorded.kind == kind)

    @property
    def table(self) -> dict[str, Any]:
        """The table of the visit's `visit.toml`."""
        table: dict[str, Any] = {"schema": SCHEMA}
        for item in self.of(HEAD):
            table["visit"] = table_item(HEAD, item.item)
        for item in self.of(PLAN):
            table |= table_item(PLAN, item.item)
        for kind in LISTS:
            listed = [table_item(kind, item.item) for item in self.of(kind)]
            if listed:
                table[kind] = listed
        return table

    @property
    def text(self) -> bytes:
        """The visit's `visit.toml`, written anew."""
        return tomli_w.dumps(self.table).encode()

    def by_key(self) -> dict[tuple[str, ...], list[Standing]]:
        """What stands, by the key that a folder would give it."""
        found: dict[tuple[str, ...], list[Standing]] = {}
        counted: dict[tuple[str, ...], int] = {}
        for item in self.standing:
            key = key_of(item.recorded.kind, item.item)
            if item.recorded.kind == EXCEPTION:
                counted[key] = counted.get(key, 0) + 1
                key = (*key, str(counted[key]))
            found.setdefault(key, []).append(item)
        return found


def key_of(kind: str, item: Mapping[str, Any]) -> tuple[str, ...]:
    """What a folder knows an item by."""
    if kind == READING:
        return (kind, str(item.get("id")))
    if kind == EVIDENCE:
        return (kind, str(item.get("file")))
    if kind == EXCEPTION:
        return (kind, str(item.get("what")), str(item.get("at")))
    return (kind,)


def view_of(
    visit: str,
    items: Iterable[Recorded],
    personal: Mapping[str, PersonalValue] | None = None,
) -> View:
    """The view of a visit's observations."""
    known = {HEAD, PLAN, *LISTS}
    found, gone = [], set()
    for recorded in items:
        body = body_of(recorded)
        gone.update(body.get("supersedes", []))
        if recorded.kind in known and "item" in body:
            item, unknown = whole_item(body, personal or {})
            found.append(Standing(recorded=recorded, item=item, unknown=unknown))
    found.sort(key=lambda item: item.recorded.id)
    gone |= _alike(found, gone)
    standing = [item for item in found if item.recorded.id not in gone]
    superseded = tuple(item for item in found if item.recorded.id in gone)
    kept, several = _alone(standing)
    listed = [
        item for kind in LISTS for item in _told_apart(kind, _merged(kind, standing))
    ]
    return View(
        visit=visit,
        standing=(*kept, *listed),
        superseded=superseded,
        several=several,
    )


def _alike(items: list[Standing], gone: set[str]) -> set[str]:
    """Ids of what another device recorded with the words that were superseded."""
    words = {_words(item) for item in items if item.recorded.id in gone}
    if not words:
        return set()
    return {
        item.recorded.id
        for item in items
        if _words(item) in words and not body_of(item.recorded).get("supersedes")
    }


def _words(item: Standing) -> tuple[str, str]:
    # the item was read from canonical JSON: the same words are the same text
    return item.recorded.kind, json.dumps(item.item, sort_keys=True)


def _alone(items: list[Standing]) -> tuple[list[Standing], tuple[str, ...]]:
    """Head and plan: the last recorded of several counts."""
    kept, several = [], []
    for kind in (HEAD, PLAN):
        listed = [item for item in items if item.recorded.kind == kind]
        listed.sort(key=lambda item: (item.recorded.recorded_at, item.recorded.id))
        if len({str(item.item) for item in listed}) > 1:
            several.append(kind)
        kept += listed[-1:]
    return kept, tuple(several)


def _merged(kind: str, items: list[Standing]) -> list[Standing]:
    """One of each that two devices recorded alike, in the order for people."""
    once: dict[str, Standing] = {}
    for item in items:
        if item.recorded.kind == kind:
            once.setdefault(_words(item)[1], item)
    return sorted(once.values(), key=lambda item: _order(item.item, item.recorded.id))


def _order(item: Item, id: str) -> tuple[Any, ...]:
    name = str(item.get("id") or item.get("file") or item.get("what"))
    parts = [
        (int(part), "") if part.isdigit() else (-1, part)
        for part in re.split(r"(\d+)", name)
    ]
    return (instant(item.get("time")), parts, str(item.get("at")), id)


def instant(value: Any) -> float:
    """Seconds of an ISO time; what has none comes last."""
    if not isinstance(value, str):
        return float("inf")
    return datetime.fromisoformat(value).timestamp()


def _told_apart(kind: str, items: list[Standing]) -> list[Standing]:
    """Ids and file names that two items share get a mark of their own."""
    if kind == EXCEPTION:
        return items
    name = "id" if kind == READING else "file"
    counts: dict[str, int] = {}
    for item in items:
        counts[str(item.item[name])] = counts.get(str(item.item[name]), 0) + 1
    found = []
    for item in items:
        text = str(item.item[name])
        if counts[text] > 1:
            shown = {**item.item, name: _marked(text, item.recorded.id[:6])}
            item = Standing(recorded=item.recorded, item=shown, unknown=item.unknown)
        found.append(item)
    return found


def _marked(name: str, mark: str) -> str:
    stem, dot, ending = name.rpartition(".")
    if dot and "/" not in ending:
        return f"{stem}~{mark}.{ending}"
    return f"{name}~{mark}"
