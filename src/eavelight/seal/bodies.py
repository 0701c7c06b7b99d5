"""What a body refers to outside itself: evidence, personal values, purges.

A body is `{"schema": 1, "item": {...}}` and may hold `personal` (path of a value in the
item, and the salted hash that stands for it), `supersedes` with `reason`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from eavelight.model.recorded import Recorded, Seal
from eavelight.seal.canonical import parsed

SCHEMA = 1
EVIDENCE, PURGE = "evidence", "purge"


@dataclass(frozen=True, slots=True, kw_only=True)
class References:
    """Digests that observations name, each with the observation that does."""

    evidence: dict[str, Recorded]
    personal: dict[str, Recorded]
    purged: dict[str, Recorded]


def body_of(item: Recorded | Seal) -> dict[str, Any]:
    """The body as plain data, brought to the newest schema.

    Raises
    ------
    ValueError
        If it is not a canonical body of a known schema.
    """
    body = parsed(item.body)
    if not isinstance(body, dict) or body.get("schema") != SCHEMA:
        raise ValueError(f"body must have schema {SCHEMA}")
    return body


def references(items: tuple[Recorded, ...]) -> References:
    """Everything that readable bodies refer to."""
    found = References(evidence={}, personal={}, purged={})
    for item in items:
        try:
            body = body_of(item)
        except ValueError:
            continue
        inner = body.get("item")
        inner = inner if isinstance(inner, dict) else {}
        if item.kind == EVIDENCE and isinstance(inner.get("sha256"), str):
            found.evidence.setdefault(inner["sha256"], item)
        if item.kind == PURGE:
            for key in ("evidence", "personal"):
                found.purged.update(dict.fromkeys(_texts(inner.get(key)), item))
        for hash in _personal(body):
            found.personal.setdefault(hash, item)
    return found


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, list):
        yield from (item for item in value if isinstance(item, str))


def _personal(body: dict[str, Any]) -> Iterator[str]:
    listed = body.get("personal")
    if isinstance(listed, dict):
        for entry in listed.values():
            if isinstance(entry, dict) and isinstance(entry.get("sha256"), str):
                yield entry["sha256"]
