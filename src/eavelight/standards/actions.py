"""The catalogue of actions: order, minutes and what each can settle."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from eavelight.standards.clauses import data_files, read_toml, refuse_unknown

FILE = "actions.toml"
_LISTS = (
    "resolves", "tells", "useless_after", "needs", "only_at", "safety", "passes",
)  # fmt: skip
_KEYS = {
    "id", "order", "minutes", "success", "reversible", "cures_mode", "opens", "near",
    "away", *_LISTS,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionKind:
    """One action of the catalogue; a lower order is cheaper and more reversible.

    `success` is the chance that it cures what it resolves, 0 for one that only looks;
    `tells` are the causes that it tells from the others; `cures_mode` names the one
    way of a cause that it can cure; `passes` the points of no return that it takes.
    `minutes` is the time it takes [min].
    """

    id: str
    order: int
    minutes: float
    resolves: tuple[str, ...]
    success: float = 0.0
    reversible: bool = True
    tells: tuple[str, ...] = ()
    useless_after: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    only_at: tuple[str, ...] = ()
    safety: tuple[str, ...] = ()
    passes: tuple[str, ...] = ()
    opens: bool = False
    near: bool = False
    away: bool = False
    cures_mode: Mapping[str, str] = field(default_factory=dict)


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
        lists = {name: tuple(row.get(name, ())) for name in _LISTS}
        kind = ActionKind(**{**row, **lists})
        found[kind.id] = kind
    return found
