"""Between the table of a visit folder and the bodies of the record.

A record holds plain data. What is a time is known by its key and kind, never by a
class name in the record; personal values leave the body and stand as salted hashes.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from eavelight.model.kinds import KINDS, TIME
from eavelight.model.recorded import PersonalValue
from eavelight.seal import canonical, commit
from eavelight.seal.bodies import SCHEMA
from eavelight.seal.canonical import parsed

HEAD, PLAN, READING, EVIDENCE, EXCEPTION = (
    "head",
    "plan",
    "reading",
    "evidence",
    "exception",
)
PLAN_KEYS = (
    "site", "assignment", "plant", "tray", "entry", "feed", "supply_place", "housing",
)  # fmt: skip
PERSON, POSITION, TEXT = "person", "position", "text"
PERSONAL: dict[str, dict[str, str]] = {
    HEAD: {"technician": PERSON},
    PLAN: {"site.latitude": POSITION, "site.longitude": POSITION},
    EXCEPTION: {"accepted_by": PERSON, "reason": TEXT},
    "decision": {"by": PERSON, "reason": TEXT},
}
"""Paths of personal values by kind of observation, and what kind of value each is."""
NOTE = {"value": TEXT}
WITHHELD = "withheld"
BYTES_KEYS = ("sha256", "size", "media_type")

Salt = Callable[[], bytes]
Item = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing that a visit folder says, as the record takes it."""

    kind: str
    key: tuple[str, ...]
    item: Item


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A body, with the personal values that were taken out of it."""

    body: dict[str, Any]
    personal: tuple[PersonalValue, ...] = field(default=())


def entries_of(table: Mapping[str, Any]) -> Iterator[Entry]:
    """Everything that the table of a `visit.toml` says, one entry each."""
    yield Entry(kind=HEAD, key=(HEAD,), item=plain(table["visit"]))
    plan = {key: plain(table[key]) for key in PLAN_KEYS if key in table}
    yield Entry(kind=PLAN, key=(PLAN,), item=plan)
    for index, raw in enumerate(table.get(READING, [])):
        item = {"id": f"reading-{index + 1}", **plain(raw)}
        yield Entry(kind=READING, key=(READING, str(item["id"])), item=item)
    for raw in table.get(EVIDENCE, []):
        yield Entry(kind=EVIDENCE, key=(EVIDENCE, str(raw["file"])), item=plain(raw))
    counted: dict[tuple[str, str], int] = {}
    for raw in table.get(EXCEPTION, []):
        pair = (str(raw["what"]), str(raw["at"]))
        counted[pair] = counted.get(pair, 0) + 1
        key = (EXCEPTION, *pair, str(counted[pair]))
        yield Entry(kind=EXCEPTION, key=key, item=plain(raw))


def plain(value: Any) -> Any:
    """Plain data: times and dates as ISO text, whole floats as the canonical form."""
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)
    return value


def table_item(kind: str, item: Mapping[str, Any]) -> Item:
    """An item as a `visit.toml` holds it, times as times."""
    found = {key: value for key, value in item.items() if key not in BYTES_KEYS}
    for key in ("started", "ended", "time"):
        if kind in {HEAD, READING, EVIDENCE} and isinstance(found.get(key), str):
            found[key] = datetime.fromisoformat(found[key])
    if kind == EXCEPTION and isinstance(found.get("due"), str):
        found["due"] = date.fromisoformat(found["due"])
    reading = KINDS.get(str(found.get("what"))) if kind == READING else None
    if reading is not None and reading.value == TIME:
        found["value"] = datetime.fromisoformat(found["value"])
    return found


def _paths(kind: str, item: Mapping[str, Any]) -> Mapping[str, str]:
    if kind == READING and item.get("what") == "note":
        return NOTE
    return PERSONAL.get(kind, {})


def make_body(kind: str, item: Item, *, visit: str, salt: Salt) -> Body:
    """The body of an observation; personal values are replaced by salted hashes."""
    kept = parsed(canonical(item).decode())
    personal: dict[str, Any] = {}
    values = []
    for path, what in _paths(kind, item).items():
        holder, name = _holder(kept, path)
        if holder is None or name not in holder:
            continue
        value = commit(holder.pop(name), visit=visit, kind=what, salt=salt())
        personal[path] = {"kind": what, "sha256": value.sha256}
        values.append(value)
    body: dict[str, Any] = {"schema": SCHEMA, "item": kept}
    if personal:
        body["personal"] = personal
    return Body(body=body, personal=tuple(values))


def _holder(item: Item, path: str) -> tuple[Item | None, str]:
    """The table that a path ends in, and its last key."""
    *steps, name = path.split(".")
    here: Any = item
    for step in steps:
        here = here.get(step)
        if not isinstance(here, dict):
            return None, name
    return here, name


def copied(value: Any) -> Any:
    """Plain data of its own."""
    if isinstance(value, dict):
        return {key: copied(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [copied(inner) for inner in value]
    return value


def whole_item(
    body: Mapping[str, Any], personal: Mapping[str, PersonalValue]
) -> tuple[Item, tuple[str, ...]]:
    """The item with its personal values, and the paths of those not known here."""
    item = copied(body["item"])
    unknown = []
    for path, entry in body.get("personal", {}).items():
        known = personal.get(entry["sha256"])
        holder, name = _holder(item, path)
        if holder is None:
            continue
        if known is not None:
            holder[name] = parsed(known.value)
            continue
        unknown.append(path)
        if entry["kind"] != POSITION:
            holder[name] = WITHHELD
    return item, tuple(unknown)


def same_item(one: Item, other: Item, unknown: Iterable[str] = ()) -> bool:
    """Whether two items say the same, personal values apart that nobody knows."""
    left, right = (parsed(canonical(item).decode()) for item in (one, other))
    for path in unknown:
        for item in (left, right):
            holder, name = _holder(item, path)
            if holder is not None:
                holder.pop(name, None)
    return bool(left == right)
