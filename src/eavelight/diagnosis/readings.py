"""Readings that are wrong, or stray without meaning anything."""

from collections.abc import Iterator

import numpy as np

from eavelight.diagnosis.atoms import Atom, Model, atom
from eavelight.diagnosis.attempts import series_of
from eavelight.diagnosis.shapes import both_signs, log_uniform, mixed
from eavelight.standards.priors import signatures


def measurement(model: Model) -> Iterator[Atom]:
    """A reference that was off, a meter that was, or a single wrong reading."""
    table, share = model.table, signatures().share
    odds, count = model.odds("measurement"), len(table.rows)
    reference = both_signs(log_uniform(*signatures().range("reference_db")))
    slip = both_signs(log_uniform(*signatures().range("slip_db")))
    alone = odds * (1.0 - share["reference"] - share["meter"])
    shifts = (
        ("reference", "drop", share["reference"], ("loss",)),
        ("meter", "terminal", share["meter"], ("level",)),
    )
    for mode, at, weight, kinds in shifts:
        mask = table.mask(*kinds)
        if mask.sum() >= 2 or not count:
            yield atom(
                "measurement", at, mode, odds * weight, mask[None, :],
                size=reference,
            )  # fmt: skip
        else:
            alone += odds * weight * (mask.sum() > 0)
    alone_of = ("level", "loss", "level_upstream")
    single = [i for i, row in enumerate(table.rows) if table.mask(*alone_of)[i]]
    for index in single:
        vector = np.zeros((1, count))
        vector[0, index] = 1.0
        yield atom(
            "measurement", table.rows[index].at, f"reading {index}",
            alone / len(single), vector, size=slip,
        )  # fmt: skip
    if not single:
        yield atom(
            "measurement", "drop", "unseen", alone, np.zeros((1, count)),
            size=slip,
        )  # fmt: skip


def strays(model: Model) -> Iterator[Atom]:
    """Readings that stray: one reading further out than its uncertainty allows."""
    stray, table = signatures().stray, model.table
    estimates = log_uniform(*stray["estimate_db"])
    for index, row in enumerate(table.rows):
        vector = np.zeros((1, len(table.rows)))
        vector[0, index] = 1.0
        wide = stray["width"] * max(row.u, 0.02)
        odds = stray["copper_odds" if row.unit in {"ohm", "V"} else "odds"]
        yield atom(
            None, row.at, f"stray {index}", float(odds), vector,
            size=mixed([(0.0, wide, 1.0)]),
        )  # fmt: skip
    own = table.mask("splice_estimate")
    repeats = {item.at for item in series_of(model.case) if item.repeats}
    for name in sorted({r.at for r in table.rows if r.kind == "splice_estimate"}):
        likely = stray["repeats_odds"] if name in repeats else stray["estimate_odds"]
        here = own * np.array([row.at == name for row in table.rows])
        yield atom(
            None, name, "high estimate", float(likely), here[None, :],
            size=estimates,
        )  # fmt: skip
