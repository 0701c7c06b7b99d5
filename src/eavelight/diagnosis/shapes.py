"""How a loss spreads over wavelengths, and how large it may be.

Every shape is one at 1550 nm. Joints and dirt fall slowly with the wavelength, pressure
rises slowly, a bend rises as the bent step-index mode radiates.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from eavelight.glass.bend import bend_loss_per_turn
from eavelight.standards.priors import Signatures, Weighted, signatures

Array = NDArray[np.float64]
REFERENCE_NM = 1550.0
SHORT_NM = 1310.0
STEP, WIDTH = 1.5, 0.24
# Shapes closer than this share and this part of the 1550 nm loss are one shape.
ALIKE, ALIKE_DB = 0.16, 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shapes:
    """Rows are shapes over the wavelengths asked for, with their prior weights."""

    values: Array
    weights: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Amplitudes:
    """A distribution as a mixture of normal ones."""

    mean: Array
    sigma: Array
    weight: Array


@cache
def power_shapes(name: str, nm: tuple[int, ...]) -> Shapes:
    """Losses that follow a power of the wavelength."""
    rows: Weighted = signatures().ratios[name]
    x = np.array(nm, dtype=float) / REFERENCE_NM
    slope = math.log(SHORT_NM / REFERENCE_NM)
    values = np.array([x ** (math.log(ratio) / slope) for ratio, _ in rows])
    return Shapes(values=values, weights=np.array([weight for _, weight in rows]))


@cache
def bend_shapes(nm: tuple[int, ...]) -> Shapes:
    """Bends: the radiation of a bent mode, with ripple and a floor at short waves."""
    if not nm:
        return Shapes(values=np.zeros((1, 0)), weights=np.ones(1))
    spread: Signatures = signatures()
    asked = np.array((*nm, REFERENCE_NM))
    short = asked < REFERENCE_NM - 20.0
    values, weights = [], []
    for radius, w_radius in spread.bend["radius_mm"]:
        loss = bend_loss_per_turn(radius, wavelength_nm=asked)
        plain = loss / loss[-1]
        for ripple, w_ripple in spread.bend["ripple"]:
            rippled = np.where(short, np.minimum(plain * ripple, 0.95), plain)
            for floor, w_floor in spread.bend["floor_1310"]:
                lifted = np.where(short, rippled + floor * (1.0 - rippled), rippled)
                weight = w_radius * w_ripple * w_floor
                if weight >= 0.006:
                    values.append(lifted[:-1])
                    weights.append(weight)
    return _told_apart(np.array(values), np.array(weights))


def _told_apart(values: Array, weights: Array) -> Shapes:
    """Shapes that no reading could tell apart count as one, the heaviest first."""
    kept: list[int] = []
    total = np.zeros(len(values))
    for index in np.argsort(-weights, kind="stable"):
        apart = [
            float(
                np.max(
                    np.abs(values[index] - values[k]) / (ALIKE * values[k] + ALIKE_DB)
                )
            )
            for k in kept
        ]
        if apart and min(apart) < 1.0:
            total[kept[int(np.argmin(apart))]] += weights[index]
        else:
            kept.append(int(index))
            total[index] = weights[index]
    weight = total[kept]
    return Shapes(values=values[kept], weights=weight / weight.sum())


@cache
def log_uniform(low: float, high: float) -> Amplitudes:
    """A log-uniform amplitude with soft ends."""
    count = max(1, round(math.log(high / low) / math.log(STEP)) + 1)
    mean = np.geomspace(low, high, count)
    return Amplitudes(mean=mean, sigma=WIDTH * mean, weight=np.full(count, 1.0 / count))


def both_signs(amplitudes: Amplitudes, negative: float = 0.5) -> Amplitudes:
    """The same size, either way."""
    return Amplitudes(
        mean=np.concatenate([amplitudes.mean, -amplitudes.mean]),
        sigma=np.tile(amplitudes.sigma, 2),
        weight=np.concatenate(
            [amplitudes.weight * (1.0 - negative), amplitudes.weight * negative]
        ),
    )


def mixed(parts: Sequence[tuple[float, float, float]]) -> Amplitudes:
    """Normal parts given as mean, sigma and weight."""
    mean, sigma, weight = (np.array(column) for column in zip(*parts, strict=True))
    return Amplitudes(mean=mean, sigma=sigma, weight=weight / weight.sum())


def joined(first: Amplitudes, second: Amplitudes, share: float) -> Amplitudes:
    """Two distributions, the second with a share."""
    return Amplitudes(
        mean=np.concatenate([first.mean, second.mean]),
        sigma=np.concatenate([first.sigma, second.sigma]),
        weight=np.concatenate([first.weight * (1.0 - share), second.weight * share]),
    )
