"""The editable table of dirt and cleaning steps, and the words for end-face ids."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from eavelight.endface.dirt import DirtTable, Kind, Step
from eavelight.errors import EvidenceError
from eavelight.standards.clauses import data_files, read_toml, refuse_unknown

_KIND_KEYS = {"id", "prior", "likelihood", "helps", "harms", "stuck", "alike"}
_STEP_KEYS = {"id", "rounds", "minutes", "counts_as"}


def parse_dirt(text: str, *, file: str) -> DirtTable:
    """The table in a TOML text; an unknown key or a step nobody defined is refused."""
    document = read_toml(text, file=file)
    known = {"document", "edition", "least_benefit", "step", "kind"}
    refuse_unknown(document, known, file=file, place="top level")
    steps = []
    for row in document["step"]:
        refuse_unknown(row, _STEP_KEYS, file=file, place=f"step {row.get('id')}")
        steps.append(Step(**row))
    names = {step.id for step in steps}
    kinds = []
    for row in document["kind"]:
        place = f"kind {row.get('id')}"
        refuse_unknown(row, _KIND_KEYS, file=file, place=place)
        refuse_unknown([*row["helps"], *row["harms"]], names, file=file, place=place)
        if not 0 < row["prior"] < 1:
            raise EvidenceError(
                file, place, "a prior between 0 and 1", str(row["prior"])
            )
        kinds.append(Kind(**row))
    return DirtTable(
        kinds=tuple(kinds), steps=tuple(steps), least_benefit=document["least_benefit"]
    )


@cache
def load_dirt() -> DirtTable:
    """The table that comes with the program."""
    name = "endface_dirt.toml"
    return parse_dirt(dict(data_files())[name], file=name)


@cache
def load_words() -> Mapping[str, Mapping[str, str]]:
    """English texts by group (reason, kind, step, caution) and id."""
    name = "endface_words.toml"
    document: dict[str, Any] = read_toml(dict(data_files())[name], file=name)
    return MappingProxyType(
        {key: value for key, value in document.items() if isinstance(value, dict)}
    )
