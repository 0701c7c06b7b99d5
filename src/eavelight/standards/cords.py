"""Cords, lamp sequences, limited sources and backup rules as data."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from eavelight.power.conductor_map import Conductor
from eavelight.power.limits import SourceRow
from eavelight.power.rehearsal import EvidenceRule, LampStep
from eavelight.standards.clauses import clause, nearest


@cache
def _document(name: str) -> dict[str, Any]:
    path = files("eavelight.standards") / "data" / "parameters" / name
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def cords() -> dict[str, tuple[Conductor, ...]]:
    """Conductors of each cord construction, in the order of their position."""
    return {
        entry["id"]: tuple(Conductor(**row) for row in entry["conductors"])
        for entry in _document("cords.toml")["cord"]
    }


def cord(construction: str) -> tuple[Conductor, ...]:
    """Conductors of one construction; an unknown one names the nearest.

    >>> [c.function for c in cord("power only")]
    ['power plus', 'power return']
    """
    known = cords()
    if construction not in known:
        raise ValueError(
            f"construction: no cord {construction!r}; {nearest(construction, known)}"
        )
    return known[construction]


def thin_gauge(construction: str) -> int | None:
    """Gauge of the status conductors, None where all are alike or none is there.

    >>> thin_gauge("power pair and status"), thin_gauge("equal pairs")
    (22, None)
    """
    found = {entry["id"]: entry for entry in _document("cords.toml")["cord"]}
    gauge: int | None = found[construction].get("thin_awg")
    return gauge


def loop_priors() -> Mapping[str, float]:
    """How often each cause of a wrong loop is met."""
    return dict(_document("cords.toml")["loop_priors"])


def status_priors() -> Mapping[str, float]:
    """How often each cause of a wrong status line is met."""
    return dict(_document("cords.toml")["status_priors"])


@cache
def lamp_steps() -> tuple[LampStep, ...]:
    """The plain power-up sequence; equipment may bring its own."""
    return tuple(LampStep(**row) for row in _document("power_up.toml")["lamp"])


@cache
def evidence_rules() -> tuple[EvidenceRule, ...]:
    """What contradicts the power-up sequence."""
    return tuple(
        EvidenceRule(id=row["id"], cause=row["cause"], when=tuple(row["when"].items()))
        for row in _document("power_up.toml")["rule"]
    )


def source_rows() -> tuple[SourceRow, ...]:
    """Rows of the dc limited-source table."""
    return (
        SourceRow(up_to_v=20.0, amps=clause("nec_9_11b.current_to_20v").value),
        SourceRow(up_to_v=30.0, volt_amperes=clause("nec_9_11b.power_to_30v").value),
        SourceRow(up_to_v=60.0, volt_amperes=clause("nec_9_11b.power_to_60v").value),
        SourceRow(up_to_v=150.0, amps=clause("nec_9_11b.current_to_150v").value),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupRule:
    """A rule on backup hours with its dates, and coarsely where it may hold."""

    id: str
    title: str
    where: str
    area: tuple[float, float, float, float]
    hours: float
    kind: str
    starts: date
    ends: date | None
    dates_confidence: str
    confidence: str

    def may_hold_at(self, latitude_deg: float, longitude_deg: float) -> bool:
        """Whether a place lies in the coarse area; borders are for people to know.

        >>> backup_rules()[2].may_hold_at(51.5, -0.1)
        True
        """
        south, west, north, east = self.area
        return south <= latitude_deg <= north and west <= longitude_deg <= east

    def in_force(self, today: date) -> bool:
        """Whether the dates in the data say so; the text itself must still be read.

        >>> rule = backup_rules()[0]
        >>> rule.in_force(date(2024, 1, 1)), rule.in_force(date(2026, 1, 1))
        (True, False)
        """
        return self.starts <= today and (self.ends is None or today < self.ends)


@cache
def backup_rules() -> tuple[BackupRule, ...]:
    """Rules on backup hours in the order of the data."""
    return tuple(
        BackupRule(
            starts=row["from"],
            ends=row.get("until"),
            area=tuple(row["area"]),
            **{k: v for k, v in row.items() if k not in {"from", "until", "area"}},
        )
        for row in _document("backup_rules.toml")["rule"]
    )
