"""PON classes: what the line terminal launches, the path may lose, and what arrives.

Down is from the line terminal to the house, up the other way. A power meter at the
house is never compared with a receiver's sensitivity: the weakest level that a sound
line terminal and a sound path deliver is the smallest launch less the largest loss.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from eavelight.errors import EvidenceError
from eavelight.standards.clauses import (
    CONFIDENCE,
    Clause,
    data_files,
    nearest,
    read_toml,
    refuse_unknown,
    weakest,
)

_LEVELS = (
    "launch_min_dbm",
    "launch_max_dbm",
    "sensitivity_dbm",
    "overload_dbm",
    "penalty_db",
)
_SIDE_KEYS = {*_LEVELS, "wavelength_nm", "band_nm", "confidence"}
_CLASS_KEYS = {
    "id", "name", "document", "edition", "where", "odn_min_db", "odn_max_down_db",
    "odn_max_up_db", "confidence", "note", "down", "up",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Direction:
    """One direction of a class: its light, its sender and its receiver.

    Levels are mean powers at the equipment connector, fibre side. All five are
    absent together where they are not known. `usable` is false where one direction
    of the class is uncertain: the row is stored and no limit follows from it.
    """

    wavelength_nm: float
    band_nm: tuple[float, float]
    odn_min_db: float
    odn_max_db: float
    launch_min_dbm: float | None
    launch_max_dbm: float | None
    sensitivity_dbm: float | None
    overload_dbm: float | None
    penalty_db: float | None
    confidence: str
    usable: bool

    @property
    def rx_floor_dbm(self) -> float | None:
        """Weakest level that a sound sender and path deliver, or None."""
        if not self.usable or self.launch_min_dbm is None:
            return None
        return self.launch_min_dbm - self.odn_max_db

    @property
    def rx_ceiling_dbm(self) -> float | None:
        """Strongest level that a sound sender and path deliver, or None."""
        if not self.usable or self.launch_max_dbm is None:
            return None
        return self.launch_max_dbm - self.odn_min_db

    @property
    def launch_window_dbm(self) -> tuple[float, float] | None:
        """Smallest and largest launch of a sound sender, or None."""
        if not self.usable or self.launch_min_dbm is None:
            return None
        if self.launch_max_dbm is None:
            return None
        return self.launch_min_dbm, self.launch_max_dbm


@dataclass(frozen=True, slots=True, kw_only=True)
class PonClass:
    """One class of one document, both directions.

    >>> pon_class("gpon-b+").down.rx_floor_dbm
    -26.5
    """

    id: str
    name: str
    document: str
    edition: str
    where: str
    down: Direction
    up: Direction
    note: str
    file: str
    file_sha256: str

    @property
    def usable(self) -> bool:
        """Whether levels of this class may be limits."""
        return self.down.usable

    def floor(self, way: str = "down") -> Clause | None:
        """The weakest level as a clause, `way` is down (at the house) or up."""
        return self._limit(way, bound="min")

    def ceiling(self, way: str = "down") -> Clause | None:
        """The strongest level as a clause, `way` is down (at the house) or up."""
        return self._limit(way, bound="max")

    def largest_loss(self, way: str = "down") -> Clause:
        """The largest loss of the path as a clause."""
        side = self._side(way)
        return self._clause(f"{way}.odn_max", side.odn_max_db, bound="max", side=side)

    def smallest_loss(self, way: str = "down") -> Clause:
        """The smallest loss of the path as a clause."""
        side = self._side(way)
        return self._clause(f"{way}.odn_min", side.odn_min_db, bound="min", side=side)

    def _side(self, way: str) -> Direction:
        if way not in ("down", "up"):
            raise ValueError(f"way: expected 'down' or 'up', found {way!r}")
        return self.down if way == "down" else self.up

    def _limit(self, way: str, *, bound: str) -> Clause | None:
        side = self._side(way)
        low = bound == "min"
        value = side.rx_floor_dbm if low else side.rx_ceiling_dbm
        if value is None:
            return None
        name = f"{way}.{'floor' if low else 'ceiling'}"
        return self._clause(name, value, bound=bound, side=side)

    def _clause(
        self, name: str, value: float, *, bound: str, side: Direction
    ) -> Clause:
        level = name.endswith(("floor", "ceiling"))
        sums = {
            "floor": "smallest launch less largest path loss",
            "ceiling": "largest launch less smallest path loss",
        }
        return Clause(
            id=f"pon.{self.id}.{name}",
            document=self.document,
            edition=self.edition,
            where=self.where,
            quantity="received level" if level else "loss of the optical path",
            value=value,
            unit="dBm" if level else "dB",
            bound=bound,
            condition=sums.get(name.partition(".")[2], ""),
            confidence=side.confidence,
            file=self.file,
            file_sha256=self.file_sha256,
        )


@cache
def load_pon_classes() -> Mapping[str, PonClass]:
    """Every class of the data files, by id."""
    found: dict[str, PonClass] = {}
    for file, text in data_files():
        if not file.startswith("pon_classes"):
            continue
        for item in parse_pon_classes(text, file=file):
            if item.id in found:
                raise EvidenceError(
                    file,
                    f"pon_class {item.id}",
                    "an id used once",
                    f"the same id in {found[item.id].file}",
                    advice="rename one of the two",
                )
            found[item.id] = item
    return MappingProxyType(found)


def pon_class(id: str) -> PonClass:
    """The class of that id; an unknown one names the nearest."""
    classes = load_pon_classes()
    if id not in classes:
        raise ValueError(f"id: no PON class {id!r}; {nearest(id, classes)}")
    return classes[id]


def parse_pon_classes(text: str, *, file: str) -> tuple[PonClass, ...]:
    """Classes of one data file."""
    document = read_toml(text, file=file)
    refuse_unknown(document, {"pon_class"}, file=file, place="top level")
    digest = hashlib.sha256(text.encode()).hexdigest()
    return tuple(
        _class(row, number, file=file, digest=digest)
        for number, row in enumerate(document.get("pon_class", ()), start=1)
    )


def _class(row: Mapping[str, Any], number: int, *, file: str, digest: str) -> PonClass:
    place = f"pon_class {row.get('id', number)}"
    refuse_unknown(row, _CLASS_KEYS, file=file, place=place)
    for key in sorted(_CLASS_KEYS - {"note"}):
        if key not in row:
            raise EvidenceError(file, place, f"a key {key!r}", "none", advice="add it")
    sides = {}
    for way in ("down", "up"):
        known = {key for key in _LEVELS if key in row[way]}
        refuse_unknown(row[way], _SIDE_KEYS, file=file, place=f"{place}: {way}")
        if known and known != set(_LEVELS):
            raise EvidenceError(
                file,
                f"{place}: {way}",
                "all five levels or none",
                ", ".join(sorted(known)),
                advice="complete the row or leave its levels out",
            )
        sides[way] = weakest([row["confidence"], row[way].get("confidence", "seen")])
        refuse_unknown([sides[way]], CONFIDENCE, file=file, place=place)
    usable = "uncertain" not in sides.values()
    return PonClass(
        **{key: row[key] for key in ("id", "name", "document", "edition", "where")},
        note=row.get("note", ""),
        down=_direction(row, "down", confidence=sides["down"], usable=usable),
        up=_direction(row, "up", confidence=sides["up"], usable=usable),
        file=file,
        file_sha256=digest,
    )


def _direction(
    row: Mapping[str, Any], way: str, *, confidence: str, usable: bool
) -> Direction:
    side = row[way]
    return Direction(
        wavelength_nm=float(side["wavelength_nm"]),
        band_nm=(float(side["band_nm"][0]), float(side["band_nm"][1])),
        odn_min_db=float(row["odn_min_db"]),
        odn_max_db=float(row[f"odn_max_{way}_db"]),
        **{key: float(side[key]) if key in side else None for key in _LEVELS},
        confidence=confidence,
        usable=usable,
    )
