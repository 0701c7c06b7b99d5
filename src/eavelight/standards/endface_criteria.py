"""Criteria for connector end faces: zones and rules by edition and connector class.

The numbers live in `data/endface_*.toml`, one row per zone and kind with its
confidence. The default edition is the one whose file says so.
"""

from functools import cache
from typing import Any

from eavelight.endface.grade import Criteria, Rule, Zone
from eavelight.errors import EvidenceError
from eavelight.standards.clauses import (
    CONFIDENCE,
    data_files,
    nearest,
    read_toml,
    refuse_unknown,
    weakest,
)

CLASSES = ("apc", "pc", "pc26", "mm")
"""Angled, physical contact 45 dB, physical contact 26 dB, multimode."""
_RULE_KEYS = {
    "zone",
    "kind",
    "confidence",
    "counts_from_um",
    "counts_above",
    "allowed",
    "largest_um",
}
_CLASS_KEYS = {
    "id",
    "title",
    "where",
    "confidence",
    "zones_um",
    "zone_confidence",
    "rule",
}


def _rule(row: dict[str, Any], *, file: str, place: str) -> Rule:
    refuse_unknown(row, _RULE_KEYS, file=file, place=place)
    refuse_unknown([row["confidence"]], CONFIDENCE, file=file, place=place)
    if row["confidence"] == "uncertain":
        raise EvidenceError(
            file,
            place,
            "a number that was seen or recalled",
            "an uncertain one",
            advice="an uncertain number is never a limit",
        )
    return Rule(**row)


def _criteria(row: dict[str, Any], document: dict[str, Any], file: str) -> Criteria:
    place = f"class {row.get('id')}"
    refuse_unknown(row, _CLASS_KEYS, file=file, place=place)
    rules = tuple(_rule(item, file=file, place=place) for item in row["rule"])
    zones = tuple(
        Zone(name=name, inner_um=float(low), outer_um=float(high))
        for name, (low, high) in row["zones_um"].items()
    )
    return Criteria(
        document=document["document"],
        edition=document["edition"],
        connector_class=row["id"],
        confidence=weakest(
            [row["zone_confidence"], *(rule.confidence for rule in rules)]
        ),
        zones=zones,
        rules=rules,
    )


@cache
def _all() -> tuple[dict[tuple[str, str], Criteria], str]:
    found: dict[tuple[str, str], Criteria] = {}
    default = ""
    for name, text in data_files():
        if not name.startswith("endface_iec"):
            continue
        document = read_toml(text, file=name)
        if document.get("default"):
            default = document["edition"]
        for row in document["class"]:
            criteria = _criteria(row, document, name)
            found[criteria.edition, criteria.connector_class] = criteria
    return found, default


def editions() -> tuple[str, ...]:
    """Editions with numbers, newest first."""
    return tuple(sorted({edition for edition, _ in _all()[0]}, reverse=True))


def load(connector_class: str, edition: str | None = None) -> Criteria:
    """Criteria of a connector class; the default edition unless one is named.

    >>> load("apc").edition
    '2015'
    """
    found, default = _all()
    if connector_class not in CLASSES:
        raise ValueError(
            f"connector_class: no class {connector_class!r}; "
            f"{nearest(connector_class, CLASSES)}"
        )
    key = (edition or default, connector_class)
    if key not in found:
        raise ValueError(
            f"edition: no numbers of edition {edition!r}; "
            f"known: {', '.join(editions())}"
        )
    return found[key]
