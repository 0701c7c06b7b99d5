"""Clauses: one number of one edition of one document, with how well it is known.

The numbers live in `data/*.toml`. The loader is strict: a wrong key, an unknown unit,
a doubled id or an uncertain limit is refused with the place and the nearest name.
"""

import difflib
import hashlib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any

from eavelight.errors import EvidenceError

CONFIDENCE = (
    "seen",
    "computed",
    "second_hand",
    "recalled",
    "common_practice",
    "uncertain",
)
"""From best to worst. Everything but `seen` is shown as a provisional limit."""

BOUNDS = ("max", "min", "nominal")

UNITS = frozenset({
    "1", "%", "dB", "dBm", "dB/km", "dB/K", "dB²", "nm", "µm", "mm", "cm", "m", "km",
    "mm²", "µm²", "°", "rad", "Ω", "Ω/km", "MΩ", "mΩ", "V", "mV", "W", "mW", "A", "mA",
    "Ah", "Wh", "VA", "Hz", "°C", "K", "1/K", "W/m²", "W/(m²·K)", "W/K", "m/s", "s",
    "ns", "min", "h", "d", "years", "px", "µm/px", "Pa", "kPa", "GPa", "N", "J", "g",
    "kg", "m/m", "/km", "ps/(nm·km)", "ps/(nm²·km)", "ps/√km",
    "dB·µm⁴/km",
})  # fmt: skip
"""Units a clause may have."""

_FILE_KEYS = {"document", "edition", "note", "clause"}
_NEEDED = {"id", "where", "quantity", "value", "unit", "bound", "confidence"}
_OPTIONAL = {"document", "edition", "condition", "unused"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Clause:
    """One number of one edition of one document.

    `unused` says why no profile chooses it. `file` and `file_sha256` name the data
    file it came from, so that an old closeout can be computed again.

    >>> clause("eavelight_default.splice_estimate").provisional
    True
    """

    id: str
    document: str
    edition: str
    where: str
    quantity: str
    value: float
    unit: str
    bound: str
    condition: str = ""
    confidence: str
    unused: str | None = None
    file: str
    file_sha256: str

    @property
    def provisional(self) -> bool:
        """True unless the number was read in the document itself."""
        return self.confidence != "seen"


def nearest(word: str, known: Iterable[str]) -> str:
    """Advice that names the nearest known word, for an error text."""
    names = list(known)
    close = [name for name in names if name.lower() == word.lower()]
    close = close or difflib.get_close_matches(word, names, n=1, cutoff=0.4)
    return f"did you mean {close[0]!r}?" if close else "see the list of known names"


def weakest(confidences: Iterable[str]) -> str:
    """The worst of several confidences: what follows from them is no better.

    >>> weakest(["seen", "recalled", "computed"])
    'recalled'
    """
    return max(confidences, key=CONFIDENCE.index)


def refuse_unknown(
    found: Iterable[str], known: Iterable[str], *, file: str, place: str
) -> None:
    """Raise for the first key that is not among the known ones."""
    names = sorted(known)
    for key in found:
        if key not in names:
            raise EvidenceError(
                file,
                place,
                f"one of {', '.join(names)}",
                repr(key),
                advice=nearest(key, names),
            )


def read_toml(text: str, *, file: str) -> dict[str, Any]:
    """The document in a TOML text; a syntax error names the file."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise EvidenceError(
            file, "TOML", "valid TOML", str(error), advice="correct that line"
        ) from None


def parse_clauses(text: str, *, file: str) -> tuple[Clause, ...]:
    """Clauses of one data file."""
    document = read_toml(text, file=file)
    refuse_unknown(document, _FILE_KEYS, file=file, place="top level")
    return clauses_of(document, text=text, file=file)


def clauses_of(
    document: Mapping[str, Any], *, text: str, file: str
) -> tuple[Clause, ...]:
    """Clauses of a document already read, which may hold other tables too."""
    digest = hashlib.sha256(text.encode()).hexdigest()
    shared = {key: document[key] for key in ("document", "edition") if key in document}
    return tuple(
        _clause({**shared, **row}, number, file=file, digest=digest)
        for number, row in enumerate(document.get("clause", ()), start=1)
    )


def _clause(row: Mapping[str, Any], number: int, *, file: str, digest: str) -> Clause:
    place = f"clause {row.get('id', number)}"
    refuse_unknown(row, _NEEDED | _OPTIONAL, file=file, place=place)
    for key in sorted(_NEEDED | {"document", "edition"}):
        if key not in row:
            raise EvidenceError(file, place, f"a key {key!r}", "none", advice="add it")
    _check_texts(row, file=file, place=place)
    value = row["value"]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise EvidenceError(file, place, "a number", repr(value), advice="correct it")
    if not math.isfinite(value):
        raise EvidenceError(
            file, place, "a finite value", str(value), advice="correct it"
        )
    for key, known in (
        ("unit", UNITS),
        ("bound", BOUNDS),
        ("confidence", CONFIDENCE),
    ):
        refuse_unknown([row[key]], known, file=file, place=f"{place}: {key}")
    if row["confidence"] == "uncertain" and row["bound"] != "nominal":
        raise EvidenceError(
            file,
            place,
            "an uncertain number as bound 'nominal' only",
            f"bound {row['bound']!r}",
            advice="an uncertain number is never a limit",
        )
    return Clause(**{**row, "value": float(value)}, file=file, file_sha256=digest)


def _check_texts(row: Mapping[str, Any], *, file: str, place: str) -> None:
    for key, value in row.items():
        if key != "value" and not (isinstance(value, str) and value.strip()):
            raise EvidenceError(
                file, f"{place}: {key}", "a text", repr(value), advice="write a text"
            )


def by_id(clauses: Iterable[Clause]) -> dict[str, Clause]:
    """Clauses by id; a doubled id is refused."""
    found: dict[str, Clause] = {}
    for item in clauses:
        if item.id in found:
            raise EvidenceError(
                item.file,
                f"clause {item.id}",
                "an id used once",
                f"the same id in {found[item.id].file}",
                advice="rename one of the two",
            )
        found[item.id] = item
    return found


def data_files(folder: str = "") -> list[tuple[str, str]]:
    """Names and texts of the TOML files in the data folder or one below it."""
    root: Traversable = resources.files("eavelight.standards") / "data"
    if folder:
        root = root.joinpath(*folder.split("/"))
    return [
        (item.name, item.read_text(encoding="utf-8"))
        for item in sorted(root.iterdir(), key=lambda item: item.name)
        if item.name.endswith(".toml")
    ]


@cache
def load_clauses() -> Mapping[str, Clause]:
    """Every clause of the data files that hold `[[clause]]`, by id."""
    found: list[Clause] = []
    for name, text in data_files():
        if "[[clause]]" in text:
            found.extend(parse_clauses(text, file=name))
    return MappingProxyType(by_id(found))


def clause(id: str) -> Clause:
    """The clause of that id; an unknown one names the nearest."""
    clauses = load_clauses()
    if id not in clauses:
        raise ValueError(f"id: no clause {id!r}; {nearest(id, clauses)}")
    return clauses[id]
