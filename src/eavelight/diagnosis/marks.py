"""What looking would show: the probability of every mark under every atom.

Each atom present makes a mark look bad with a probability of its own; several of them
act independently, and without any the mark still looks bad now and then.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.atoms import Atom
from eavelight.diagnosis.case import Mark
from eavelight.standards.priors import signatures

Array = NDArray[np.float64]
# Kinds that tell only of the place they were seen at.
LOCAL = {
    "face before cleaning", "face", "face after one side", "face after both sides",
    "polish", "sleeve", "cleave", "reflection", "radius",
}  # fmt: skip
CEILING = 0.999


def mark_probability(atom: Atom, mark: Mark) -> float:
    """Probability that an atom alone makes a mark look bad."""
    if atom.cause is None:
        return 0.0
    kind = signatures().marks[mark.kind]
    if mark.kind in atom.marks:
        local = mark.kind in LOCAL and atom.at != mark.at
        return 0.0 if local else atom.marks[mark.kind]
    value = kind.with_.get(atom.cause, 0.0)
    if mark.kind in LOCAL and atom.at != mark.at:
        # a bend may be said of the box and seen in its tray
        nearby = mark.kind == "radius" and {atom.at, mark.at} <= {"box", "tray"}
        return 0.6 * value if nearby else 0.0
    return min(value, CEILING)


def good_logs(atoms: Sequence[Atom], marks: Sequence[Mark]) -> Array:
    """Log probability that each mark stays good, per atom; last row is no fault."""
    found = np.zeros((len(atoms) + 1, len(marks)))
    for column, mark in enumerate(marks):
        for row, atom in enumerate(atoms):
            found[row, column] = np.log1p(-mark_probability(atom, mark))
        found[-1, column] = np.log1p(-signatures().marks[mark.kind].without)
    return found


def mark_log(good: Array, bad: NDArray[np.bool_]) -> Array:
    """Log likelihood of all marks from summed logs of staying good, last axis marks."""
    safe = np.minimum(good, -1e-12)
    return np.asarray(np.where(bad, np.log(-np.expm1(safe)), good).sum(axis=-1))
