"""Priors of the causes and the spread of the forward model, from editable data."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from eavelight.errors import EvidenceError
from eavelight.standards.clauses import data_files, read_toml, refuse_unknown

PRIORS, SIGNATURES = "priors.toml", "signatures.toml"
PURPOSES = ("turn-up", "repair", "audit")
CAUSES = (
    "contamination", "bend", "splice", "crush-or-ice", "connector-mismatch",
    "wrong-port", "wrong-split", "wrong-fibre", "break", "upstream", "measurement",
    "copied-evidence", "conductor", "joint-resistance", "battery", "supply", "heat",
)  # fmt: skip
Weighted = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """A circumstance that multiplies the odds of one cause."""

    when: str
    cause: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """Odds of every cause by purpose of the visit.

    >>> round(priors().odds("contamination", "turn-up"), 3)
    0.18
    """

    faults: Mapping[str, float]
    shares: Mapping[str, Mapping[str, float]]
    reasons: Mapping[str, str]
    switches: tuple[Switch, ...]

    def odds(
        self, cause: str, purpose: str, circumstances: frozenset[str] = frozenset()
    ) -> float:
        """Prior odds of one cause against its absence."""
        listed = self.shares["repair" if purpose == "repair" else "turn-up"]
        value = listed[cause] * self.faults[purpose]
        for switch in self.switches:
            if switch.cause == cause and switch.when in circumstances:
                value *= switch.factor
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkKind:
    """How often something looks bad without a fault, and with each cause."""

    kind: str
    without: float
    with_: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """The spread of the forward model."""

    amplitude: Mapping[str, Any]
    ratios: Mapping[str, Weighted]
    bend: Mapping[str, Weighted]
    share: Mapping[str, float]
    stray: Mapping[str, Any]
    marks: Mapping[str, MarkKind]

    def range(self, name: str) -> tuple[float, float]:
        """Ends of an amplitude."""
        low, high = self.amplitude[name]
        return float(low), float(high)


def _text(file: str) -> str:
    return next(text for name, text in data_files("parameters") if name.endswith(file))


@cache
def priors() -> Priors:
    """The built-in priors."""
    return parse_priors(_text(PRIORS))


def parse_priors(text: str, *, file: str = PRIORS) -> Priors:
    """Priors from the text of an operator's file."""
    document = read_toml(text, file=file)
    refuse_unknown(document, {"visit", "cause", "switch"}, file=file, place="top level")
    refuse_unknown(document["visit"], PURPOSES, file=file, place="visit")
    shares: dict[str, dict[str, float]] = {"turn-up": {}, "repair": {}}
    reasons = {}
    for row in document["cause"]:
        place = f"cause {row.get('id')}"
        refuse_unknown(row, {"id", "turn-up", "repair", "why"}, file=file, place=place)
        for purpose, listed in shares.items():
            listed[row["id"]] = _positive(row[purpose], file=file, place=place)
        reasons[row["id"]] = row["why"]
    if set(reasons) != set(CAUSES):
        absent = sorted(set(CAUSES) ^ set(reasons))
        raise EvidenceError(
            file, "cause", "every cause once", ", ".join(absent), advice="correct it"
        )
    return Priors(
        faults=MappingProxyType(
            {
                name: _positive(row["faults"], file=file, place=f"visit {name}")
                for name, row in document["visit"].items()
            }
        ),
        shares=MappingProxyType(shares),
        reasons=MappingProxyType(reasons),
        switches=tuple(Switch(**row) for row in document.get("switch", ())),
    )


def _positive(value: Any, *, file: str, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or value <= 0:
        raise EvidenceError(
            file, place, "a number above 0", repr(value), advice="correct it"
        )
    return float(value)


def _weights(rows: Mapping[str, Any]) -> dict[str, Weighted]:
    found = {}
    for name, pairs in rows.items():
        total = sum(weight for _, weight in pairs)
        found[name] = tuple((float(a), float(w) / total) for a, w in pairs)
    return found


@cache
def signatures() -> Signatures:
    """The built-in spread of the forward model."""
    document = read_toml(_text(SIGNATURES), file=SIGNATURES)
    known = {"amplitude", "ratio_1310_1550", "bend", "share", "stray", "mark"}
    refuse_unknown(document, known, file=SIGNATURES, place="top level")
    marks = {}
    for row in document["mark"]:
        refuse_unknown(
            row["with"], CAUSES, file=SIGNATURES, place=f"mark {row['kind']}"
        )
        marks[row["kind"]] = MarkKind(
            kind=row["kind"],
            without=row["without"],
            with_=MappingProxyType(row["with"]),
        )
    return Signatures(
        amplitude=MappingProxyType(document["amplitude"]),
        ratios=MappingProxyType(_weights(document["ratio_1310_1550"])),
        bend=MappingProxyType(_weights(document["bend"])),
        share=MappingProxyType(document["share"]),
        stray=MappingProxyType(document["stray"]),
        marks=MappingProxyType(marks),
    )
