"""Light that comes back: reflections and backscatter summed over a path.

Reflectance is negative, the return loss of a path positive. A reflection seen from
further up is weaker by twice the loss in between.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
_NEPER_DB = 10.0 / math.log(10.0)


def return_loss_db(reflectances_db: ArrayLike, depths_db: ArrayLike) -> float:
    """Return loss of several reflections behind losses.

    `-10 log10 sum 10^((R - 2 L)/10)`; powers add, no interference.

    Parameters
    ----------
    reflectances_db : array_like of shape (N,)
        Reflectance of each place, NaN for none [dB]
    depths_db : array_like of shape (N,)
        One-way loss from the observer to each place [dB]

    Returns
    -------
    return_loss_db : float
        Positive; infinite where nothing comes back [dB]

    Examples
    --------
    >>> return_loss_db([-35.0, -35.0], [0.5, 1.0])
    33.461
    """
    reflectance = np.asarray(reflectances_db, dtype=float)
    if np.any(reflectance > 0):
        raise ValueError("reflectances_db must not be above zero")
    depth = np.asarray(depths_db, dtype=float)
    power = float(np.nansum(10.0 ** ((reflectance - 2.0 * depth) / 10.0)))
    return -10.0 * math.log10(power) if power > 0 else math.inf


def backscatter_reflectance_db(
    length_km: ArrayLike,
    *,
    attenuation_db_per_km: float,
    rayleigh_db_per_km: float,
    capture_fraction: float,
) -> Array:
    """Backscatter of a whole length of fibre as a reflectance at its near end.

    `S a_s/(2 a) (1 - exp(-2 a z))` with the coefficients per length of power.

    Parameters
    ----------
    length_km : array_like
        Length, above zero [km]
    attenuation_db_per_km : float
        Attenuation, above zero [dB/km]
    rayleigh_db_per_km : float
        Part of it that is scattering [dB/km]
    capture_fraction : float
        Share of the scattered light guided backward [1]

    Returns
    -------
    reflectance_db : ndarray
        Negative [dB]

    Examples
    --------
    >>> float(backscatter_reflectance_db(
    ...     20.0, attenuation_db_per_km=0.34, rayleigh_db_per_km=0.3124,
    ...     capture_fraction=1.43e-3))
    -32.0185
    """
    z = np.asarray(length_km, dtype=float)
    if np.any(~(z > 0)) or attenuation_db_per_km <= 0:
        raise ValueError("length_km and attenuation_db_per_km must be above zero")
    twice = 2.0 * attenuation_db_per_km / _NEPER_DB
    scatter = capture_fraction * rayleigh_db_per_km / _NEPER_DB
    return np.asarray(10.0 * np.log10(scatter * -np.expm1(-twice * z) / twice))


def path_return_loss_db(loss_db: ArrayLike, reflectance_db: ArrayLike) -> Array:
    """Return loss of a path as seen from its start.

    A part's reflectance stands at its near end, before its own loss; for a fibre it
    is that of its backscatter.

    Parameters
    ----------
    loss_db : array_like of shape (P, ...)
        Loss of each part in order [dB]
    reflectance_db : array_like of shape (P, ...)
        Reflectance of each part, NaN for none [dB]

    Returns
    -------
    return_loss_db : ndarray
        Positive; infinite where nothing comes back [dB]

    Examples
    --------
    >>> float(path_return_loss_db([0.5, 0.5, 0.5], [np.nan, -35.0, -35.0]))
    33.461
    """
    loss = np.asarray(loss_db, dtype=float)
    reflectance = np.asarray(reflectance_db, dtype=float)
    depth = np.cumsum(loss, axis=0) - loss
    power = np.nansum(10.0 ** ((reflectance - 2.0 * depth) / 10.0), axis=0)
    with np.errstate(divide="ignore"):
        return np.asarray(-10.0 * np.log10(power))


def hidden_reflectance_db(
    return_loss_db: float, *, explained_db: float, depth_db: float = 0.0
) -> float:
    """Reflectance of one further place that explains a measured return loss.

    Parameters
    ----------
    return_loss_db : float
        Measured return loss of the path [dB]
    explained_db : float
        Return loss of all that is known; infinite for nothing [dB]
    depth_db : float, optional
        One-way loss to the further place [dB]

    Returns
    -------
    reflectance_db : float
        Negative; minus infinity where nothing is left to explain [dB]

    Examples
    --------
    >>> hidden_reflectance_db(33.461, explained_db=36.0, depth_db=1.0)
    -35.0000
    """
    left = 10.0 ** (-return_loss_db / 10.0) - 10.0 ** (-explained_db / 10.0)
    return 10.0 * math.log10(left) + 2.0 * depth_db if left > 0 else -math.inf
