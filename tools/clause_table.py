"""Writes docs/standards/clauses.md from the data files.

Run `python -m tools.clause_table`.
"""

from pathlib import Path

from eavelight.standards.clauses import load_clauses
from eavelight.standards.profiles import load_profile

PAGE = Path(__file__).parents[1] / "docs" / "standards" / "clauses.md"
HEAD = """# Clauses

Every number that can become a limit, a default or an uncertainty. Written by
`python -m tools.clause_table`; edit the data files, not this page.

`bound` says whether the number is a largest or smallest allowed value, or a nominal
one. `confidence` says how well the number is known: only *seen* was read in the
document itself, everything else prints as a provisional limit.

| id | document, edition, where | quantity | value | bound | confidence | chosen as |
|---|---|---|---|---|---|---|
"""


def page() -> str:
    """The whole page."""
    profile = load_profile()
    names: dict[str, list[str]] = {}
    for table in (profile.limits, profile.uncertainty, profile.plant):
        for name, item in table.items():
            names.setdefault(item.id, []).append(name)
    rows = []
    for item in sorted(load_clauses().values(), key=lambda item: item.id):
        chosen = (
            ", ".join(names.get(item.id, [])) or item.unused or "share of a reading"
        )
        quantity = item.quantity + (f" ({item.condition})" if item.condition else "")
        rows.append(
            f"| `{item.id}` | {item.document}, {item.edition}, {item.where} "
            f"| {quantity} | {item.value:g} {item.unit} | {item.bound} "
            f"| {item.confidence.replace('_', ' ')} | {chosen} |"
        )
    return HEAD + "\n".join(rows) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
