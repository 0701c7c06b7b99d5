"""Which of several statements in a record to believe."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.codec.blocks import Block, DataPoints

# Beyond these no instrument for fibre works; 600 nm admits plastic fibre.
WAVELENGTHS_NM = (600.0, 1800.0)
BodyType = TypeVar("BodyType")


def first_body(blocks: tuple[Block, ...], kind: type[BodyType]) -> BodyType | None:
    """Content of the first block of a kind."""
    for block in blocks:
        if isinstance(block.body, kind):
            return block.body
    return None


def likely_wavelength(nominal_nm: float, actual_nm: float) -> float | None:
    """The actual wavelength if plausible, else the nominal one, else None."""
    low, high = WAVELENGTHS_NM
    for value in (actual_nm, nominal_nm):
        if low <= value <= high:
            return value
    return None


def split_samples(
    data: DataPoints, points: tuple[int, ...]
) -> tuple[NDArray[np.float64], ...]:
    """Levels [dB] by the stated points if they add up, else per scale factor."""
    sets = [
        0.0 - 1e-6 * part.scale * np.frombuffer(part.raw, dtype="<u2")
        for part in data.sets
    ]
    if min(points) > 0 and sum(points) == sum(part.size for part in sets):
        ends = np.cumsum(points)[:-1].tolist()
        return tuple(np.split(np.concatenate(sets), ends))
    return tuple(sets)
