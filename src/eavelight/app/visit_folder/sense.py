"""Checks that need more than one key: names that must exist, kinds that must agree."""

import dataclasses
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from eavelight.app.visit_folder.mistakes import NOTHING, Mistakes, nearest
from eavelight.model.kinds import (
    ANYWHERE,
    COMMON_KEYS,
    CONNECTOR,
    EVIDENCE_COMMON_KEYS,
    EVIDENCE_KEYS,
    EVIDENCE_NEEDS,
    FIBRE,
    KINDS,
    NUMBER,
    PART_COMMON_KEYS,
    PART_KEYS,
    PART_NEEDS,
    SPLICE,
    STATUS_LINES,
    ReadingKind,
)
from eavelight.model.observation import Evidence, ExceptionNote, Reading
from eavelight.model.plan import RESERVED_PLACES, Feed, Part, Plan

FAMILIES = {CONNECTOR: "connector", SPLICE: "splice", FIBRE: "fibre"}


def keys_of_kind(
    raw: Mapping[str, Any],
    *,
    allowed: tuple[str, ...],
    needs: tuple[str, ...],
    kind: str,
    place: str,
    mistakes: Mistakes,
) -> None:
    """Only the keys of its kind may stand in an item, and all that it needs."""
    for key in raw:
        if key not in allowed:
            mistakes.add(
                f"{place}.{key}",
                expected=f"a key of {kind}",
                found=key,
                advice=nearest(key, allowed),
            )
    for key in needs:
        if key not in raw:
            mistakes.add(
                f"{place}.{key}",
                expected=f"a value: {kind} needs it",
                found=NOTHING,
                advice="add it",
            )


def check_part_keys(raw: Mapping[str, Any], place: str, mistakes: Mistakes) -> None:
    """Keys of a part by its kind."""
    kind = raw.get("kind")
    if isinstance(kind, str) and kind in PART_KEYS:
        keys_of_kind(
            raw,
            allowed=PART_COMMON_KEYS + PART_KEYS[kind],
            needs=PART_NEEDS[kind],
            kind=f"a part of kind {kind}",
            place=place,
            mistakes=mistakes,
        )


def check_evidence_keys(raw: Mapping[str, Any], place: str, mistakes: Mistakes) -> None:
    """Keys of an evidence entry by its kind."""
    kind = raw.get("what")
    if isinstance(kind, str) and kind in EVIDENCE_KEYS:
        keys_of_kind(
            raw,
            allowed=EVIDENCE_COMMON_KEYS + EVIDENCE_KEYS[kind],
            needs=EVIDENCE_NEEDS[kind],
            kind=f"evidence of kind {kind}",
            place=place,
            mistakes=mistakes,
        )


def check_reading_keys(raw: Mapping[str, Any], place: str, mistakes: Mistakes) -> None:
    """The kind of a reading and its keys."""
    what = raw.get("what")
    if not isinstance(what, str):
        return
    if what not in KINDS:
        mistakes.add(
            f"{place}.what",
            expected="a kind of reading",
            found=what,
            advice=nearest(what, KINDS),
        )
        return
    kind = KINDS[what]
    keys_of_kind(
        raw,
        allowed=COMMON_KEYS + kind.needs + kind.extra,
        needs=kind.needs,
        kind=f"a reading of {what}",
        place=place,
        mistakes=mistakes,
    )
    _check_value(raw, kind, place, mistakes)


def _check_value(
    raw: Mapping[str, Any], kind: ReadingKind, place: str, mistakes: Mistakes
) -> None:
    value = raw.get("value")
    where = f"{place}.value"
    if value is None:
        return
    if kind.value == NUMBER:
        _check_number(raw, kind, place, mistakes)
    elif kind.value == "flag" and not isinstance(value, bool):
        mistakes.add(where, expected="true or false", found=value)
    elif kind.value == "time" and not isinstance(value, datetime):
        mistakes.add(where, expected="a time with its offset", found=value)
    elif kind.value == "text" and not isinstance(value, str):
        mistakes.add(where, expected="text in quotes", found=value)
    elif kind.words and value not in kind.words:
        mistakes.add(
            where,
            expected="one of " + ", ".join(kind.words),
            found=value,
            advice=nearest(str(value), kind.words),
        )
    if kind.value != NUMBER and "unit" in raw and raw["unit"] not in ("", None):
        mistakes.add(
            f"{place}.unit", expected="no unit", found=raw["unit"], advice="remove it"
        )


def _check_number(
    raw: Mapping[str, Any], kind: ReadingKind, place: str, mistakes: Mistakes
) -> None:
    value = raw["value"]
    if isinstance(value, bool) or not isinstance(value, int | float):
        mistakes.add(f"{place}.value", expected="a number", found=value)
        return
    low, high = kind.low, kind.high
    if low is not None and high is not None and not low <= value <= high:
        mistakes.add(
            f"{place}.value",
            expected=f"{low:g} to {high:g} {kind.unit}",
            found=value,
            advice="no real reading lies there: check value and unit",
        )
    if raw.get("unit") != kind.unit:
        mistakes.add(
            f"{place}.unit",
            expected=str(kind.unit),
            found=raw.get("unit", NOTHING),
            advice=f"give the value in {kind.unit}",
        )


def place_allowed(at: str, places: Iterable[str], parts: Mapping[str, Part]) -> bool:
    """Whether a reading may stand at a place, given the parts of the plan."""
    for allowed in places:
        if allowed == ANYWHERE:
            return at in RESERVED_PLACES or at in parts
        if allowed == at:
            return True
        if allowed in FAMILIES and at in parts and parts[at].kind == FAMILIES[allowed]:
            return True
    return False


def allowed_places(places: Iterable[str], parts: Mapping[str, Part]) -> list[str]:
    """Names where a reading may stand, for advice."""
    candidates = [*RESERVED_PLACES, *parts]
    return [name for name in candidates if place_allowed(name, places, parts)]


def check_times(item: Any, place: str, mistakes: Mistakes) -> None:
    """Every time carries its offset from UTC."""
    for part in dataclasses.fields(item):
        value = getattr(item, part.name)
        if isinstance(value, datetime) and value.tzinfo is None:
            mistakes.add(
                f"{place}.{part.name}",
                expected="a time with its offset, like 2026-03-09T10:05:00-06:00",
                found=value.isoformat(),
                advice="add the offset from UTC, or Z",
            )


def check_parts(parts: Iterable[Part], place: str, mistakes: Mistakes) -> None:
    """Names are unique and not reserved; port and terminal stand where they must."""
    seen: set[str] = set()
    listed = list(parts)
    for index, part in enumerate(listed):
        where = f"{place}[{index + 1}] '{part.name}'"
        if part.name in RESERVED_PLACES:
            mistakes.add(
                f"{where}.name",
                expected="a name of its own",
                found=part.name,
                advice="it is a reserved place: choose another name",
            )
        if part.name in seen:
            mistakes.add(
                f"{where}.name",
                expected="a name used once",
                found=part.name,
                advice="rename one of the two",
            )
        seen.add(part.name)
    for name in ("port", "terminal"):
        found = next((part for part in listed if part.name == name), None)
        if found is None:
            mistakes.add(
                place,
                expected=f"a connector part named {name}",
                found=", ".join(part.name for part in listed) or NOTHING,
                advice="add it",
            )
        elif found.kind != "connector":
            mistakes.add(
                f"{place} '{name}'.kind", expected="connector", found=found.kind
            )
    if "terminal" in seen and listed[-1].name != "terminal":
        mistakes.add(
            place,
            expected="terminal as the last part",
            found=listed[-1].name,
            advice="list the parts in order from the line terminal to the house",
        )
    names = [part.name for part in listed]
    if {"port", "terminal"} <= seen and names.index("port") > names.index("terminal"):
        mistakes.add(
            place,
            expected="port before terminal",
            found=", ".join(names),
            advice="list the parts in order from the line terminal to the house",
        )


def check_reading(
    reading: Reading, parts: Mapping[str, Part], place: str, mistakes: Mistakes
) -> None:
    """Place, line name and times of one reading."""
    kind = KINDS.get(reading.what)
    check_times(reading, place, mistakes)
    if kind is None:
        return
    if not place_allowed(reading.at, kind.places, parts):
        names = allowed_places(kind.places, parts)
        mistakes.add(
            f"{place}.at",
            expected=f"a place for {reading.what}: " + ", ".join(names),
            found=reading.at,
            advice=nearest(reading.at, names),
        )
    if reading.line is not None and reading.line not in STATUS_LINES:
        mistakes.unknown(f"{place}.line", reading.line, STATUS_LINES)


def check_evidence(
    item: Evidence, parts: Mapping[str, Part], place: str, mistakes: Mistakes
) -> None:
    """Places of an evidence entry, and cleaning against cleaned."""
    check_times(item, place, mistakes)
    known = [*RESERVED_PLACES, *parts]
    connectors = [name for name, part in parts.items() if part.kind == "connector"]
    for key, names in (
        ("at", connectors if item.what == "endface" else known),
        ("toward", known),
    ):
        value = getattr(item, key)
        if value is not None and value not in names:
            mistakes.unknown(f"{place}.{key}", value, names)
    if item.cleaned is not None and item.cleaning and not item.cleaned:
        mistakes.add(
            f"{place}.cleaned",
            expected="true, because cleaning lists rounds",
            found=item.cleaned,
            advice="cleaned is true exactly when cleaning is not empty",
        )


def check_exception(
    item: ExceptionNote,
    parts: Mapping[str, Part],
    requirements: Iterable[str],
    place: str,
    mistakes: Mistakes,
) -> None:
    """An exception names a requirement or step, and a place."""
    known = set(requirements)
    if item.what not in known:
        mistakes.unknown(f"{place}.what", item.what, known)
    places = [*RESERVED_PLACES, *parts]
    if item.at not in places:
        mistakes.unknown(f"{place}.at", item.at, places)


def check_plan(plan: Plan, mistakes: Mistakes) -> None:
    """Relations between sections of the plan."""
    if plan.feed is not None:
        _check_feed(plan.feed, plan, mistakes)
    parts = {part.name: part for part in plan.plant.part}
    for index, loop in enumerate(plan.plant.loop):
        places = [*RESERVED_PLACES, *parts]
        if loop.at not in places:
            mistakes.unknown(f"plant.loop[{index + 1}].at", loop.at, places)


def _check_feed(feed: Feed, plan: Plan, mistakes: Mistakes) -> None:
    if feed.awg is None and feed.area_mm2 is None:
        mistakes.add(
            "feed.awg", expected="awg or area_mm2", found=NOTHING, advice="add one"
        )
    if feed.awg is not None and feed.area_mm2 is not None:
        mistakes.add(
            "feed.area_mm2",
            expected="either awg or area_mm2",
            found="both",
            advice="keep the one printed on the cable",
        )
    for low, high in (
        ("supply_cutoff_v", "supply_float_v"),
        ("terminal_min_v", "terminal_max_v"),
        ("terminal_idle_w", "terminal_peak_w"),
    ):
        if getattr(feed, low) > getattr(feed, high):
            mistakes.add(
                f"feed.{low}",
                expected=f"not above {high} ({getattr(feed, high):g})",
                found=getattr(feed, low),
            )
    names = [place.name for place in plan.supply_place]
    if feed.place is not None and names and feed.place not in names:
        mistakes.unknown("feed.place", feed.place, names)
    fibres = [part.name for part in plan.plant.part if part.kind == "fibre"]
    shared = feed.shares_sheath_with
    if shared is not None and shared not in fibres:
        mistakes.unknown("feed.shares_sheath_with", shared, fibres)
