"""Atoms: one way one cause shows at one place, as vectors over the readings.

The effect of an atom is an amplitude of unknown size along one of several shapes; its
marks are what looking would show. Atoms without a cause are readings that stray and
mean nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.case import Case
from eavelight.diagnosis.rows import Table
from eavelight.diagnosis.shapes import Amplitudes, Shapes, log_uniform
from eavelight.standards.priors import Priors, signatures

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Atom:
    """One way a cause shows at one place.

    `vectors` has a row per component: what one unit of its amplitude adds to each
    reading. `marks` overrides the probability of a kind of mark looking bad.
    """

    cause: str | None
    at: str
    mode: str
    odds: float
    vectors: Array
    mean: Array
    sigma: Array
    weight: Array
    unit: str = "dB"
    part: int | None = None
    mended: bool = False
    scale: float = 1.0
    marks: Mapping[str, float] = field(default_factory=dict)
    shape: tuple[str, Array] | None = None

    @property
    def key(self) -> tuple[str, str]:
        """Cause and place; strays have an empty cause."""
        return (self.cause or "", self.at)


@dataclass(frozen=True, kw_only=True, eq=False)
class Model:
    """The atoms of one case."""

    case: Case
    table: Table
    priors: Priors

    def odds(self, cause: str) -> float:
        """Prior odds of a cause on this visit."""
        return self.priors.odds(cause, self.case.plan.purpose, self.case.circumstances)

    @property
    def nm(self) -> tuple[int, ...]:
        """Wavelength of each row; that of reference where it has none."""
        return tuple(int(nm) or 1550 for nm in self.table.nm)

    def part(self, name: str) -> Array:
        """What a loss at one part adds to each row of this visit."""
        if name not in self.case.path.names:
            return np.zeros(len(self.table.rows))
        index = self.case.path.names.index(name)
        return np.asarray(self.table.sees[:, index] * self.table.here)

    def optical(
        self,
        cause: str | None,
        at: str,
        *,
        mode: str,
        odds: float,
        along: Array,
        shapes: Shapes,
        size: Amplitudes,
        **more: Any,
    ) -> Atom:
        """A loss along the path: shapes over wavelength times an amplitude."""
        along = np.asarray(along, dtype=float)
        values = shapes.values * along if len(self.table.rows) else shapes.values[:, :0]
        return atom(
            cause, at, mode, odds, values, weights=shapes.weights, size=size, **more
        )


def atom(
    cause: str | None,
    at: str,
    mode: str,
    odds: float,
    values: Array,
    *,
    weights: Array | None = None,
    size: Amplitudes,
    **more: Any,
) -> Atom:
    weights = np.ones(1) if weights is None else weights
    count = size.mean.size
    if not np.any(values):
        # nothing of it shows in any number: one component carries the prior
        values, weights = values[:1], np.ones(1)
        size = Amplitudes(
            mean=np.array([float(np.sum(size.mean * size.weight))]),
            sigma=np.ones(1),
            weight=np.ones(1),
        )
        count = 1
    return Atom(
        cause=cause,
        at=at,
        mode=mode,
        odds=odds,
        vectors=np.repeat(values, count, axis=0),
        mean=np.tile(size.mean, len(values)),
        sigma=np.tile(size.sigma, len(values)),
        weight=np.repeat(weights, count) * np.tile(size.weight, len(values)),
        **more,
    )


def alike(count: int) -> Shapes:
    """The same at every wavelength."""
    return Shapes(values=np.ones((1, count)), weights=np.ones(1))


def loss_sizes() -> Amplitudes:
    """How large an excess loss may be."""
    return log_uniform(*signatures().range("loss_db"))


def slack_fibre(case: Case) -> str:
    """The fibre in the box: the last of the drop."""
    fibres = case.parts_of("fibre")
    return fibres[-1] if fibres else "terminal"


def drop_fibre(case: Case) -> str:
    """The drop cable: the first fibre behind the port."""
    fibres = case.parts_of("fibre")
    return fibres[0] if fibres else "port"
