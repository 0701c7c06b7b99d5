"""Visits drawn from the forward model of the diagnosis: for calibration and for show.

A template says what is read and looked at; faults, their sizes, the plant and the noise
are drawn. Because the drawing and the weighing share one model, the odds must come out
right here; how they hold on other physics is measured by the accuracy benchmark.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.atoms import Atom
from eavelight.diagnosis.case import Case, Mark, Resistance, Seen
from eavelight.diagnosis.faults import atoms_of
from eavelight.diagnosis.marks import mark_probability
from eavelight.diagnosis.rows import Row, Table, build_table
from eavelight.standards.priors import Priors, signatures

MOST_FAULTS = 3


@dataclass(frozen=True, kw_only=True, eq=False)
class Simulated:
    """A drawn visit with its true faults, each a cause and a place."""

    case: Case
    truth: tuple[tuple[str, str], ...]


def simulate(
    template: Case, rng: np.random.Generator, *, prior: Priors | None = None
) -> Simulated:
    """One visit that reads what the template reads."""
    sound = replace_values(template, build_table(template), None)
    table = build_table(sound)
    atoms = atoms_of(sound, table, prior)
    chosen = draw_atoms(atoms, rng)
    noise = np.linalg.cholesky(table.covariance) @ rng.standard_normal(len(table.rows))
    shift = noise
    for atom in chosen:
        index = rng.choice(len(atom.mean), p=atom.weight / atom.weight.sum())
        size = rng.normal(atom.mean[index], atom.sigma[index])
        shift = shift + size * atom.vectors[index]
    drawn = replace_values(sound, table, shift)
    marks = tuple(_drawn_mark(mark, chosen, rng) for mark in sound.marks)
    truth = tuple(sorted({atom.key for atom in chosen if atom.cause is not None}))
    return Simulated(case=replace(drawn, marks=marks), truth=truth)


def draw_atoms(atoms: list[Atom], rng: np.random.Generator) -> list[Atom]:
    """Atoms present: each by its odds, one way per cause and place, at most three."""
    while True:
        chosen: dict[tuple[str, str], Atom] = {}
        for atom in atoms:
            key = atom.key if atom.cause else ("", atom.mode)
            if rng.uniform() < atom.odds / (1.0 + atom.odds) and key not in chosen:
                chosen[key] = atom
        faults = [atom for atom in chosen.values() if atom.cause is not None]
        if len(faults) <= MOST_FAULTS:
            return list(chosen.values())


def _drawn_mark(mark: Mark, chosen: list[Atom], rng: np.random.Generator) -> Mark:
    stays = 1.0 - signatures().marks[mark.kind].without
    for atom in chosen:
        stays *= 1.0 - mark_probability(atom, mark)
    return replace(mark, bad=bool(rng.uniform() >= stays))


def replace_values(case: Case, table: Table, shift: NDArray[np.float64] | None) -> Case:
    """The same case with every row at its sound mean, shifted."""
    moved = np.zeros(len(table.rows)) if shift is None else shift
    values = {
        _row_key(row): row.mean + float(moved[index])
        for index, row in enumerate(table.rows)
        if not row.baseline
    }
    feed = case.feed
    if feed is not None:
        feed = replace(
            feed,
            estimates=tuple(_resistance(item, values) for item in feed.estimates),
        )
    seen = tuple(_reading(item, values) for item in case.seen)
    return replace(case, seen=seen, feed=feed)


def _row_key(row: Row) -> tuple[str, ...]:
    return (row.kind, *row.ids) if row.kind in {"loop", "load"} else ("seen", *row.ids)


def _resistance(item: Resistance, values: dict[tuple[str, ...], float]) -> Resistance:
    value = values.get((item.kind, *item.ids))
    return item if value is None else replace(item, ohm=value)


def _reading(item: Seen, values: dict[tuple[str, ...], float]) -> Seen:
    value = values.get(("seen", item.reading.id))
    if value is None:
        return item
    return replace(item, reading=replace(item.reading, value=value, below=False))
