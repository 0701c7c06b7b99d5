"""Which faults together explain everything: exact sums over normal mixtures.

Every atom is a mixture of normal amplitudes along known vectors, so the likelihood of
any set of atoms has a closed form; amplitudes are integrated out. All single atoms and
all pairs are summed over every component; sets of three grow from the best pairs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.atoms import Atom
from eavelight.diagnosis.case import Mark
from eavelight.diagnosis.marks import good_logs, mark_log
from eavelight.diagnosis.rows import Table
from eavelight.standards.priors import signatures

Array = NDArray[np.float64]
PAIRS_KEPT, COMBINATIONS_KEPT = 14, 16
BEYOND, ROWS_BEYOND = 5.0, 2
# Below this gain in nats an atom is not told by the readings.
APART_GAIN = 0.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explanation:
    """A set of atoms with its posterior weight and the components that fit best."""

    atoms: tuple[int, ...]
    log: float
    components: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Components:
    """All components of all atoms in one row of arrays, in canonical form."""

    owner: NDArray[np.intp]
    starts: NDArray[np.intp]
    vectors: Array
    mean: Array
    sigma: Array
    logw: Array
    eta: Array
    precision: Array
    gram_left: Array

    @cached_property
    def constant(self) -> Array:
        """What a component adds whatever it is combined with."""
        ratio = (self.mean / self.sigma) ** 2
        return np.asarray(self.logw - 0.5 * ratio - np.log(self.sigma))

    @cached_property
    def single(self) -> Array:
        """Log likelihood ratio of each component against nothing, prior included."""
        fit = self.eta**2 / self.precision - np.log(self.precision)
        return np.asarray(self.constant + 0.5 * fit)

    def of(self, atom: int) -> slice:
        """The components of an atom."""
        return slice(int(self.starts[atom]), int(self.starts[atom + 1]))


def components_of(atoms: Sequence[Atom], table: Table) -> Components:
    """Components in canonical form, those that overshoot every reading left out."""
    owner, vectors, mean, sigma, weight = [], [], [], [], []
    for index, atom in enumerate(atoms):
        keep = _possible(atom, table)
        owner.append(np.full(int(keep.sum()), index))
        vectors.append(atom.vectors[keep])
        mean.append(atom.mean[keep])
        sigma.append(atom.sigma[keep])
        weight.append(atom.weight[keep])
    owners = np.concatenate(owner)
    v = np.concatenate(vectors).reshape(len(owners), len(table.rows))
    c, s = np.concatenate(mean), np.concatenate(sigma)
    left = v @ table.precision
    precision = 1.0 / s**2 + np.einsum("ij,ij->i", left, v)
    return Components(
        owner=owners,
        starts=np.searchsorted(owners, np.arange(len(atoms) + 1)),
        vectors=v,
        mean=c,
        sigma=s,
        logw=np.log(np.maximum(np.concatenate(weight), 1e-300)),
        eta=left @ table.residual + c / s**2,
        precision=precision,
        gram_left=left,
    )


def _possible(atom: Atom, table: Table) -> NDArray[np.bool_]:
    """Components whose effect the readings could still hold; never none at all."""
    if not len(table.rows):
        return np.ones(len(atom.mean), dtype=bool)
    least = np.abs(atom.mean) - 3.0 * atom.sigma
    effect = np.maximum(least, 0.0)[:, None] * np.sign(atom.mean)[:, None]
    shown = effect * atom.vectors
    gap = np.abs(shown) - np.maximum(table.residual * np.sign(shown), 0.0)
    beyond = (gap > BEYOND * table.sigma).sum(axis=1)
    keep = beyond < ROWS_BEYOND
    if not keep.any():
        keep[np.argmin(beyond)] = True
    return np.asarray(keep)


@dataclass(frozen=True, kw_only=True, eq=False)
class Inference:
    """All explanations of one case, with their probabilities."""

    atoms: tuple[Atom, ...]
    table: Table
    parts: Components
    explanations: tuple[Explanation, ...]
    other_log: float

    @cached_property
    def probabilities(self) -> Array:
        """Probability of each explanation; what is left to one is something else."""
        logs = np.array([item.log for item in self.explanations])
        top = max(float(logs.max()), self.other_log)
        weights = np.exp(logs - top)
        return np.asarray(weights / (weights.sum() + np.exp(self.other_log - top)))

    @property
    def unexplained(self) -> float:
        """Probability of something that none of the causes describes."""
        return max(0.0, 1.0 - float(self.probabilities.sum()))

    def amplitudes(self, item: Explanation) -> Array:
        """Most probable amplitude of each atom of an explanation."""
        if not item.components:
            return np.zeros(0)
        index = np.array(item.components)
        v = self.parts.vectors[index]
        matrix = self.parts.gram_left[index] @ v.T
        matrix += np.diag(1.0 / self.parts.sigma[index] ** 2)
        return np.asarray(np.linalg.solve(matrix, self.parts.eta[index]))

    def shift(self, item: Explanation) -> Array:
        """What an explanation adds to each row."""
        if not item.components:
            return np.zeros(len(self.table.rows))
        vectors = self.parts.vectors[np.array(item.components)]
        return np.asarray(self.amplitudes(item) @ vectors)


def infer(atoms: Sequence[Atom], table: Table, marks: Sequence[Mark]) -> Inference:
    """Weigh every set of up to three atoms."""
    parts = components_of(atoms, table)
    good = good_logs(atoms, marks)
    bad = np.array([mark.bad for mark in marks], dtype=bool)
    odds = np.log(np.array([atom.odds for atom in atoms]))
    clean = float(mark_log(good[-1], bad))
    found = [Explanation(atoms=(), log=clean)]
    singles = _singles(parts, odds, good, bad=bad)
    found += singles
    pairs, best = _pairs(atoms, parts, odds, good, bad=bad)
    found += pairs
    found += _triples(atoms, parts, odds, good, bad=bad, pairs=best)
    return Inference(
        atoms=tuple(atoms),
        table=table,
        parts=parts,
        explanations=tuple(found),
        other_log=_other(table, clean),
    )


def _other(table: Table, clean: float) -> float:
    """Something that none of the causes describes: wide about everything."""
    prior = float(np.log(signatures().stray["other"]))
    if not len(table.rows):
        return prior + clean
    wide = table.covariance + np.diag(
        (1.0 + 4.0 * np.diag(table.covariance) ** 0.5) ** 2
    )
    _, logdet = np.linalg.slogdet(table.covariance)
    _, wider = np.linalg.slogdet(wide)
    r = table.residual
    gain = r @ table.precision @ r - r @ np.linalg.solve(wide, r)
    return prior + clean + 0.5 * float(gain + logdet - wider)


def _singles(
    parts: Components, odds: Array, good: Array, *, bad: NDArray[np.bool_]
) -> list[Explanation]:
    marks = mark_log(good[:-1] + good[-1], bad)
    found = []
    for atom in range(len(odds)):
        here = parts.of(atom)
        values = parts.single[here]
        best = int(np.argmax(values)) + here.start
        log = float(odds[atom] + marks[atom] + _logsum(values))
        found.append(Explanation(atoms=(atom,), log=log, components=(best,)))
    return found


def _logsum(values: Array) -> float:
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum()))


def _joint(parts: Components, first: slice, second: slice | NDArray[np.intp]) -> Array:
    """Log likelihood ratio of every pair of components of two atoms or runs."""
    cross = parts.gram_left[first] @ parts.vectors[second].T
    a, eta_a = parts.precision[first][:, None], parts.eta[first][:, None]
    rest = parts.precision[second] - cross**2 / a
    eta = parts.eta[second] - cross * (eta_a / a)
    fit = parts.single[first][:, None] + parts.constant[second]
    return np.asarray(fit + 0.5 * (eta**2 / rest - np.log(rest)))


def _with_second(
    parts: Components, a: int, others: list[int]
) -> tuple[Array, list[tuple[int, int]]]:
    """Log likelihood ratio of one atom with each of others, and the best components."""
    first = parts.of(a)
    index = np.concatenate([np.arange(*parts.of(b).indices(10**9)) for b in others])
    starts = np.cumsum([0, *(_length(parts.of(b)) for b in others)])[:-1]
    block = _joint(parts, first, index)
    top = block.max(axis=0)
    peak = np.maximum.reduceat(top, starts)
    owner = np.repeat(np.arange(len(others)), np.diff([*starts, len(index)]))
    total = np.add.reduceat(np.exp(block - peak[owner]).sum(axis=0), starts)
    best = []
    for k, begin in enumerate(starts):
        end = starts[k + 1] if k + 1 < len(starts) else len(index)
        j = int(np.argmax(top[begin:end])) + int(begin)
        best.append((int(np.argmax(block[:, j])) + first.start, int(index[j])))
    return peak + np.log(total), best


def _length(run: slice) -> int:
    return int(run.stop - run.start)


def _pairs(
    atoms: Sequence[Atom],
    parts: Components,
    odds: Array,
    good: Array,
    *,
    bad: NDArray[np.bool_],
) -> tuple[list[Explanation], list[Explanation]]:
    """Every pair of atoms of different cause or place."""
    found: list[Explanation] = []
    keys = [atom.key if atom.cause else ("", atom.mode) for atom in atoms]
    count = len(atoms)
    gain = np.array([_logsum(parts.single[parts.of(a)]) for a in range(count)])
    best_of = [
        int(np.argmax(parts.single[parts.of(a)])) + parts.of(a).start
        for a in range(count)
    ]
    order = [int(a) for a in np.argsort(-gain, kind="stable")]
    for position, a in enumerate(order):
        others = [b for b in order[position + 1 :] if keys[a] != keys[b]]
        if not others:
            continue
        marks = mark_log(good[a] + good[others] + good[-1], bad)
        if gain[a] < APART_GAIN:
            # neither says anything of the readings: their effects just add
            logs = gain[a] + gain[others]
            components = [(best_of[a], best_of[b]) for b in others]
        else:
            logs, components = _with_second(parts, a, others)
        for b, log, mark, both in zip(others, logs, marks, components, strict=True):
            total = float(odds[a] + odds[b] + mark + log)
            found.append(Explanation(atoms=(a, b), log=total, components=both))
    best = sorted(found, key=lambda item: -item.log)[:PAIRS_KEPT]
    return found, best


def _triples(
    atoms: Sequence[Atom],
    parts: Components,
    odds: Array,
    good: Array,
    *,
    bad: NDArray[np.bool_],
    pairs: Sequence[Explanation],
) -> list[Explanation]:
    """Sets of three: the best pairs with every further atom."""
    found: dict[tuple[int, ...], Explanation] = {}
    keys = [atom.key if atom.cause else ("", atom.mode) for atom in atoms]
    for pair in pairs:
        a, b = pair.atoms
        marks = mark_log(good[a] + good[b] + good[:-1] + good[-1], bad)
        combined, index = _with_third(parts, a, b)
        for c in range(len(atoms)):
            name = tuple(sorted((a, b, c)))
            if keys[c] in (keys[a], keys[b]) or name in found or c in (a, b):
                continue
            block = combined[:, parts.of(c)]
            log = float(odds[a] + odds[b] + odds[c] + marks[c] + _logsum(block.ravel()))
            k, j = np.unravel_index(int(np.argmax(block)), block.shape)
            found[name] = Explanation(
                atoms=(a, b, c),
                log=log,
                components=(
                    int(index[0][k]), int(index[1][k]), int(j) + parts.of(c).start,
                ),
            )  # fmt: skip
    return list(found.values())


def _with_third(
    parts: Components, a: int, b: int
) -> tuple[Array, tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Best combinations of two atoms, each with every component there is."""
    first, second = parts.of(a), parts.of(b)
    block = _joint(parts, first, second)
    flat = block.ravel()
    top = np.argsort(-flat, kind="stable")[:COMBINATIONS_KEPT]
    left_out = _logsum(flat) - _logsum(flat[top])
    i = top // block.shape[1] + first.start
    j = top % block.shape[1] + second.start
    to_i = parts.gram_left[i] @ parts.vectors.T
    to_j = parts.gram_left[j] @ parts.vectors.T
    cross = np.einsum("ij,ij->i", parts.gram_left[i], parts.vectors[j])[:, None]
    m_i, m_j = parts.precision[i][:, None], parts.precision[j][:, None]
    det = m_i * m_j - cross**2
    w_i = (m_j * to_i - cross * to_j) / det
    w_j = (m_i * to_j - cross * to_i) / det
    rest = parts.precision - to_i * w_i - to_j * w_j
    rest = np.maximum(rest, 1e-12)
    eta = parts.eta - w_i * parts.eta[i][:, None] - w_j * parts.eta[j][:, None]
    log = flat[top][:, None] + left_out + parts.constant
    return np.asarray(log + 0.5 * (eta**2 / rest - np.log(rest))), (i, j)
