"""Weighted straight lines over any stretch of samples, from cumulative sums.

Weights are inverse long-run variances, so the quoted variances hold for coloured
noise. A slope carries a prior: glass attenuates within known limits, and on a short
stretch the samples alone say nothing about it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int_]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopePrior:
    """Expected slope and its standard deviation [dB per sample]."""

    slope: float
    deviation: float

    @property
    def precision(self) -> float:
        return float(self.deviation**-2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One fitted stretch [start, stop) with mean point, slope and precision.

    `doubt_db` is what all its samples may be wrong by together.
    """

    start: int
    stop: int
    centre: float
    level_db: float
    slope: float
    weight: float
    spread: float
    tailed: bool = False
    doubt_db: float = 0.0

    def at(self, place: float) -> float:
        return self.level_db + self.slope * (place - self.centre)

    def variance(self, place: float) -> float:
        if self.weight <= 0.0:
            return float("inf")
        fitted = 1.0 / self.weight + (place - self.centre) ** 2 / self.spread
        return fitted + self.doubt_db**2


class LineSums:
    """Cumulative sums of weights and samples; every fit is then a few differences."""

    def __init__(
        self, values_db: Array, variance_db2: Array, prior: SlopePrior
    ) -> None:
        self.prior = prior
        place = np.arange(len(values_db), dtype=float)
        weight = 1.0 / variance_db2
        self.offset = float(np.median(values_db)) if len(values_db) else 0.0
        inside = values_db - self.offset
        self.sums = np.zeros((len(values_db) + 1, 5))
        np.cumsum(
            np.stack(
                [
                    weight,
                    weight * place,
                    weight * place**2,
                    weight * inside,
                    weight * place * inside,
                ],
                axis=1,
            ),
            axis=0,
            out=self.sums[1:],
        )

    def moments(
        self, start: Index, stop: Index
    ) -> tuple[Array, Array, Array, Array, Array]:
        """Weight, mean place, mean level, spread and covariance of each stretch."""
        total = self.sums[stop] - self.sums[start]
        weight, first, second, level, cross = total.T
        with np.errstate(invalid="ignore", divide="ignore"):
            centre = first / weight
            mean = level / weight
            spread = np.maximum(second - first * centre, 0.0)
            covariance = cross - centre * level
        return weight, centre, mean, spread, covariance

    def fit(self, start: int, stop: int) -> Line:
        """Line through the samples [start, stop)."""
        start, stop = min(start, len(self.sums) - 1), min(stop, len(self.sums) - 1)
        if stop <= start:
            return Line(
                start=start, stop=start, centre=float(start), level_db=0.0,
                slope=self.prior.slope, weight=0.0, spread=self.prior.precision,
            )  # fmt: skip
        weight, centre, mean, spread, covariance = (
            float(item[0]) for item in self.moments(np.array([start]), np.array([stop]))
        )
        full = spread + self.prior.precision
        slope = (covariance + self.prior.precision * self.prior.slope) / full
        return Line(
            start=start, stop=stop, centre=centre, level_db=mean + self.offset,
            slope=slope, weight=weight, spread=full,
        )  # fmt: skip
