"""The catalogue of actions: order, minutes and what each can settle."""

from dataclasses import dataclass
from functools import cache

from eavelight.standards.clauses import data_files, read_toml, refuse_unknown

FILE = "actions.toml"
_KEYS = {"id", "order", "minutes", "resolves"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionKind:
    """One action of the catalogue; a lower order is cheaper and more reversible."""

    id: str
    order: int
    minutes: float
    resolves: tuple[str, ...]


@cache
def action_kinds() -> dict[str, ActionKind]:
    """Every action by id.

    >>> action_kinds()["relax-bend"].minutes
    6
    """
    text = next(text for name, text in data_files("parameters") if name.endswith(FILE))
    found = {}
    for row in read_toml(text, file=FILE)["action"]:
        refuse_unknown(row, _KEYS, file=FILE, place=f"action {row.get('id')}")
        kind = ActionKind(**{**row, "resolves": tuple(row["resolves"])})
        found[kind.id] = kind
    return found
