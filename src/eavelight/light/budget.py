"""Loss by light source and meter, its uncertainty budget, slope over wavelength.

The loss of a drop is the reference level less the level through it, with one source
and one meter: the meter's calibration cancels. What remains is its linearity, the
drift of the source since the reference, and the mating of the reference cord.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.light.path import Path

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One line of an uncertainty budget; half width and divisor give its u."""

    name: str
    half_width_db: float
    divisor: float

    @property
    def u_db(self) -> float:
        """Standard uncertainty in dB."""
        return self.half_width_db / self.divisor


RECTANGULAR = math.sqrt(3.0)
"""Divisor of a half width inside which nothing is preferred [1]."""

EXPANDED = 2.0
"""Divisor of an expanded uncertainty with coverage factor 2 [1]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trend:
    """Excess loss as a flat part at the middle wavelength and a slope."""

    flat_db: float
    flat_u_db: float
    slope_db: float
    slope_u_db: float
    middle_nm: float


def source_meter_loss_db(reference_dbm: ArrayLike, reading_dbm: ArrayLike) -> Array:
    """Loss by light source and meter with one reference.

    Parameters
    ----------
    reference_dbm : array_like
        Level with the reference cord alone [dBm]
    reading_dbm : array_like
        Level through what is measured, same meter and wavelength [dBm]

    Returns
    -------
    loss_db : ndarray
        Reference less reading, negative where the reference was wrong [dB]

    References
    ----------
    .. [1] IEC 61280-4-3:2022, method A.

    Examples
    --------
    >>> float(source_meter_loss_db(-5.0, -5.52))
    0.52
    """
    reference = np.asarray(reference_dbm, dtype=float)
    return np.asarray(reference - np.asarray(reading_dbm, dtype=float))


def standard_u_db(half_width_db: float, divisor: float) -> float:
    """Standard uncertainty of one component.

    Parameters
    ----------
    half_width_db : float
        Half width, expanded uncertainty or standard deviation [dB]
    divisor : float
        Root of three if rectangular, 2 if expanded, 1 if a standard deviation [1]

    Returns
    -------
    u_db : float
        Standard uncertainty [dB]

    Examples
    --------
    >>> standard_u_db(0.5, RECTANGULAR)
    0.2887
    """
    if half_width_db < 0 or divisor <= 0:
        raise ValueError(f"half_width_db: negative, or divisor not positive: {divisor}")
    return half_width_db / divisor


def combined_u_db(components_db: ArrayLike) -> float:
    """Standard uncertainty of a sum of independent components.

    Parameters
    ----------
    components_db : array_like
        Standard uncertainties [dB]

    Returns
    -------
    u_db : float
        Root of the sum of squares [dB]

    Examples
    --------
    >>> combined_u_db([0.03, 0.04])
    0.05
    """
    return float(np.sqrt(np.sum(np.asarray(components_db, dtype=float) ** 2)))


def variance_shares(components_db: ArrayLike) -> Array:
    """Share of each component in the combined variance.

    Parameters
    ----------
    components_db : array_like of shape (N,)
        Standard uncertainties, not all zero [dB]

    Returns
    -------
    shares : ndarray of shape (N,)
        They sum to one [1]

    Examples
    --------
    >>> [float(share) for share in variance_shares([0.03, 0.04])]
    [0.36, 0.64]
    """
    squares = np.asarray(components_db, dtype=float) ** 2
    total = float(squares.sum())
    if total == 0:
        raise ValueError("components_db must not all be zero")
    return np.asarray(squares / total)


def budget_u_db(budget: Sequence[Component]) -> float:
    """Combined standard uncertainty of a budget.

    Parameters
    ----------
    budget : sequence of Component
        Independent components [dB]

    Returns
    -------
    u_db : float
        Root of the sum of squares [dB]

    Examples
    --------
    >>> line = Component(name="drift", half_width_db=0.2, divisor=RECTANGULAR)
    >>> budget_u_db([line])
    0.1155
    """
    return combined_u_db([line.u_db for line in budget])


def averaged_budget(
    budget: Sequence[Component], *, name: str, readings: int
) -> tuple[Component, ...]:
    """Budget of a mean, where one component is drawn anew for each reading.

    Parameters
    ----------
    budget : sequence of Component
        Components of one reading [dB]
    name : str
        The component that is new each time, such as the mating [-]
    readings : int
        How many readings are averaged [1]

    Returns
    -------
    budget : tuple of Component
        The same lines, the named one divided by the root of the number [dB]
    """
    if readings < 1:
        raise ValueError(f"readings must be at least 1, got {readings}")
    if name not in [line.name for line in budget]:
        raise ValueError(f"name: no component {name!r} in the budget")
    return tuple(
        replace(line, divisor=line.divisor * math.sqrt(readings))
        if line.name == name
        else line
        for line in budget
    )


def db_from_share(share: ArrayLike) -> Array:
    """Relative change of power as decibels.

    Parameters
    ----------
    share : array_like
        Change over the power, above -1; 0.02 is two percent [1]

    Returns
    -------
    change_db : ndarray
        Ten times the decimal logarithm of one plus the share [dB]

    Examples
    --------
    >>> float(db_from_share(0.02))
    0.086
    """
    values = np.asarray(share, dtype=float)
    if np.any(~(values > -1.0)):
        raise ValueError(f"share must be above -1, got {share!r}")
    return np.asarray(10.0 * np.log10(1.0 + values))


def departure(
    value_db: float, *, expected_db: float, u_db: float, expected_u_db: float
) -> float:
    """How many standard uncertainties a value lies from what was expected.

    Parameters
    ----------
    value_db : float
        Measured loss or level [dB]
    expected_db : float
        Expected one [dB]
    u_db : float
        Standard uncertainty of the measurement [dB]
    expected_u_db : float
        Standard uncertainty of the expectation [dB]

    Returns
    -------
    sigmas : float
        Signed distance over the combined standard uncertainty [1]

    Examples
    --------
    >>> departure(25.5, expected_db=21.96, u_db=0.0, expected_u_db=0.468)
    7.56
    """
    u = math.hypot(u_db, expected_u_db)
    if u == 0:
        raise ValueError("u_db, expected_u_db: one must be above zero")
    return (value_db - expected_db) / u


def loss_slope_db(long_db: ArrayLike, short_db: ArrayLike) -> Array:
    """Loss at the longer wavelength less loss at the shorter one.

    Parameters
    ----------
    long_db : array_like
        Loss at the longer wavelength [dB]
    short_db : array_like
        Loss at the shorter wavelength [dB]

    Returns
    -------
    slope_db : ndarray
        Positive where a bend is at work [dB]

    Examples
    --------
    >>> float(loss_slope_db(4.35, 0.64))
    3.71
    """
    return np.asarray(np.asarray(long_db, float) - np.asarray(short_db, float))


def loss_slope_u_db(
    long_u_db: ArrayLike, short_u_db: ArrayLike, *, correlation: float = 0.0
) -> Array:
    """Standard uncertainty of a slope.

    Parameters
    ----------
    long_u_db : array_like
        Standard uncertainty at the longer wavelength [dB]
    short_u_db : array_like
        Standard uncertainty at the shorter wavelength [dB]
    correlation : float, optional
        Of the two errors; above zero where one mating serves both wavelengths [1]

    Returns
    -------
    slope_u_db : ndarray
        Standard uncertainty [dB]

    Examples
    --------
    >>> float(loss_slope_u_db(0.05, 0.05))
    0.0707
    """
    if not -1.0 <= correlation <= 1.0:
        raise ValueError(f"correlation must lie between -1 and 1, got {correlation}")
    a, b = np.asarray(long_u_db, dtype=float), np.asarray(short_u_db, dtype=float)
    variance = a**2 + b**2 - 2.0 * correlation * a * b
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def expected_slope(
    path: Path, long_nm: float, short_nm: float, *, correlation: float = 0.9
) -> tuple[float, float]:
    """Slope of a sound path and its standard uncertainty.

    Parameters
    ----------
    path : Path
        The drop, or any path that holds both wavelengths [-]
    long_nm : float
        Longer wavelength [nm]
    short_nm : float
        Shorter wavelength [nm]
    correlation : float, optional
        Of a part's losses at the two wavelengths: offset and dirt act on both [1]

    Returns
    -------
    slope : tuple of float
        Expected slope and its standard uncertainty [dB]
    """
    a, b = path.column(long_nm), path.column(short_nm)
    slope = float(path.total_db[a] - path.total_db[b])
    parts = loss_slope_u_db(path.u_db[:, a], path.u_db[:, b], correlation=correlation)
    return slope, combined_u_db(parts)


def excess_trend(
    wavelengths_nm: Sequence[float], excess_db: ArrayLike, *, u_db: ArrayLike
) -> Trend:
    """Flat part and slope of an excess loss over wavelength, weighted fit.

    A joint loses nearly the same everywhere; a bend loses more at long wavelengths.

    Parameters
    ----------
    wavelengths_nm : sequence of float
        At least two different wavelengths [nm]
    excess_db : array_like
        Measured less expected loss at each [dB]
    u_db : array_like
        Standard uncertainty of each, above zero [dB]

    Returns
    -------
    trend : Trend
        Loss at the weighted middle wavelength and slope per 100 nm, independent of
        each other [dB]

    Examples
    --------
    >>> trend = excess_trend([1310.0, 1550.0], [0.11, 3.83], u_db=[0.05, 0.05])
    >>> trend.slope_db, trend.slope_u_db
    (1.55, 0.0295)
    """
    nm = np.asarray(wavelengths_nm, dtype=float)
    excess = np.asarray(excess_db, dtype=float)
    weight = np.broadcast_to(np.asarray(u_db, dtype=float), nm.shape) ** -2.0
    if np.unique(nm).size < 2:
        raise ValueError("wavelengths_nm must hold at least two different wavelengths")
    total = float(weight.sum())
    middle = float((weight * nm).sum() / total)
    x = (nm - middle) / 100.0
    lever = float((weight * x**2).sum())
    return Trend(
        flat_db=float((weight * excess).sum() / total),
        flat_u_db=total**-0.5,
        slope_db=float((weight * x * excess).sum() / lever),
        slope_u_db=lever**-0.5,
        middle_nm=middle,
    )
