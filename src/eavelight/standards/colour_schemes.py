"""Colour schemes of fibres and tubes, read from the data files."""

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from eavelight.glass.colour_code import ColourScheme, Strand, own_scheme


@cache
def _document(name: str) -> dict[str, Any]:
    path = files("eavelight.standards") / "data" / "parameters" / name
    return tomllib.loads(path.read_text(encoding="utf-8"))


def synonyms() -> dict[str, str]:
    """Every other word for a colour, and the word it stands for."""
    words = _document("colour_schemes.toml")["synonyms"]
    return {word: name for name, group in words.items() for word in group}


def _strands(entry: Mapping[str, Any]) -> tuple[Strand, ...]:
    plain = list(zip(entry["colours"], entry["codes"], strict=True))
    marks = [
        Strand(number=number, colour=colour, code=code)
        for number, (colour, code) in enumerate(plain, start=1)
    ]
    for turn, repeat in enumerate(entry.get("repeat", []), start=1):
        exceptions = repeat.get("exceptions", {})
        for index, (colour, code) in enumerate(plain):
            number = turn * len(plain) + index + 1
            mark = {
                "colour": colour,
                "code": code,
                "tracer": repeat["tracer"],
                "tracer_code": repeat["tracer_code"],
                **exceptions.get(str(number), {}),
            }
            marks.append(Strand(number=number, tracers=repeat["tracers"], **mark))
    return tuple(marks)


def _tubes(
    entry: Mapping[str, Any], strands: tuple[Strand, ...]
) -> tuple[tuple[Strand, ...], Strand | None]:
    """Marks of the listed tubes, and the mark of every later one."""
    if entry["tubes"] == "as fibres":
        return strands, None
    if entry["tubes"] == "not stated":
        return (), None
    codes = {strand.colour: strand.code for strand in strands}
    marks = [
        Strand(number=number, colour=colour, code=codes[colour])
        for number, colour in enumerate(entry["tubes"], start=1)
    ]
    return tuple(marks[:-1]), marks[-1]


@cache
def colour_schemes() -> dict[str, ColourScheme]:
    """Every scheme that is safe to ship, by id.

    >>> colour_schemes()["tia-598"].strand(1).colour
    'blue'
    """
    words = synonyms()
    found = {}
    for entry in _document("colour_schemes.toml")["scheme"]:
        strands = _strands(entry)
        tubes, further = _tubes(entry, strands)
        found[entry["id"]] = ColourScheme(
            id=entry["id"],
            title=entry["title"],
            edition=entry["edition"],
            confidence=entry["confidence"],
            strands=strands,
            tubes=tubes,
            further_tube=further,
            synonyms=words,
        )
    return found


def colour_scheme(chosen: str | Sequence[str]) -> ColourScheme:
    """Scheme by id, or from an own list of names.

    >>> colour_scheme("din-vde-0888").strand(22).full_name
    'transparent/black'
    >>> colour_scheme(["red", "white"]).strand(2).code
    'WH'
    """
    schemes = colour_schemes()
    if not isinstance(chosen, str):
        codes = {
            synonyms().get(mark.colour, mark.colour): mark.code
            for mark in schemes["iec-60794-2"].strands
        }
        return own_scheme(chosen, codes=codes, synonyms=synonyms())
    if chosen not in schemes:
        raise ValueError(
            f"colour_scheme must be one of {', '.join(schemes)} or a list of names, "
            f"got {chosen!r}"
        )
    return schemes[chosen]


def strand_mark(chosen: str, number: int) -> Strand:
    """The mark of one fibre number under a named scheme.

    >>> strand_mark("tia-598", 20).full_code
    'BK/YL'
    """
    return colour_scheme(chosen).strand(number)


def colour_swatches() -> dict[str, tuple[float, float, float]]:
    """Reference chip of each colour as x, y, Y under illuminant C."""
    table = _document("colour_swatches.toml")["swatch"]
    return {name: tuple(entry["xyy"]) for name, entry in table.items()}
