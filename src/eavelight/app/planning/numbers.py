"""Plain values that several sections of the plan share."""

import math
from dataclasses import dataclass

# two standard uncertainties each way; the level band is skewed and uses this share
BAND_PROBABILITY = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A value with its standard uncertainty, its 95 % band and its worst cases."""

    value: float
    u: float
    low: float
    high: float
    worst_low: float
    worst_high: float


def finite(value: float | None) -> float | None:
    """The value, or None where it is not a number."""
    return value if value is not None and math.isfinite(value) else None
