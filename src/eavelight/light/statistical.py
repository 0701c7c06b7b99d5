"""Sums of part losses: mean and spread, skewed tails, worst case.

A path is a chain of independent draws. Means and variances add; third central
moments add too, which keeps the skew that a few splices have (their loss cannot be
negative). A sum is described by the shifted gamma distribution with the same first
three moments: exact for splices alone, normal where the skew vanishes.
"""

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

_SYMMETRIC = 1e-6  # skewness below which a sum is treated as normal


def statistical_loss_db(
    counts: ArrayLike,
    means_db: ArrayLike,
    sigmas_db: ArrayLike,
    *,
    coverage_factor: float,
    system_sigma_db: float = 0.0,
    extra_db: float = 0.0,
) -> float:
    """Loss that a share of built links stays below.

    `sum(n mean) + k sqrt(sum(n sigma²) + sigma_system²) + extra`. Valid for several
    independent parts of which none dominates.

    Parameters
    ----------
    counts : array_like of shape (N,)
        How many of each part [1]
    means_db : array_like of shape (N,)
        Mean loss of one [dB]
    sigmas_db : array_like of shape (N,)
        Standard deviation of the loss of one [dB]
    coverage_factor : float
        Standard deviations added to the mean, 2 or 3 in use [1]
    system_sigma_db : float, optional
        Standard deviation that belongs to no single part [dB]
    extra_db : float, optional
        Fixed allowance [dB]

    Returns
    -------
    loss_db : float
        Mean plus spread plus allowance [dB]

    Examples
    --------
    >>> statistical_loss_db([10, 4], [0.05, 0.25], [0.04, 0.133], coverage_factor=3.0)
    2.3836
    """
    n = np.asarray(counts, dtype=float)
    variance = float(np.sum(n * np.asarray(sigmas_db, dtype=float) ** 2))
    mean = float(np.sum(n * np.asarray(means_db, dtype=float)))
    spread = math.sqrt(variance + system_sigma_db**2)
    return mean + coverage_factor * spread + extra_db


def worst_case_loss_db(counts: ArrayLike, maxima_db: ArrayLike) -> float:
    """Sum of the largest losses.

    Parameters
    ----------
    counts : array_like of shape (N,)
        How many of each part [1]
    maxima_db : array_like of shape (N,)
        Largest loss of one [dB]

    Returns
    -------
    loss_db : float
        Loss that no link of sound parts exceeds [dB]

    Examples
    --------
    >>> worst_case_loss_db([10, 4], [0.15, 0.5])
    3.5
    """
    return float(np.sum(np.asarray(counts, float) * np.asarray(maxima_db, float)))


def splice_third_moment_db3(
    mean_db: ArrayLike, sigma_db: ArrayLike
) -> NDArray[np.float64]:
    """Third central moment of one splice loss, gamma distributed.

    A core offset that is normal in both axes makes the loss in dB exponential, the
    gamma distribution whose standard deviation equals its mean.

    Parameters
    ----------
    mean_db : array_like
        Mean loss of one splice; zero gives no skew [dB]
    sigma_db : array_like
        Standard deviation of the loss of one splice [dB]

    Returns
    -------
    third : ndarray
        Twice sigma to the fourth over the mean [dB³]

    Examples
    --------
    >>> float(splice_third_moment_db3(0.05, 0.05))
    0.00025
    """
    mean, sigma = np.broadcast_arrays(
        np.asarray(mean_db, dtype=float), np.asarray(sigma_db, dtype=float)
    )
    safe = np.where(mean > 0, mean, 1.0)
    return np.where(mean > 0, 2.0 * sigma**4 / safe, 0.0)


def loss_exceedance(
    limit_db: float, *, mean_db: float, sigma_db: float, third: float = 0.0
) -> float:
    """Share of built links whose loss exceeds a limit.

    Parameters
    ----------
    limit_db : float
        Loss asked about [dB]
    mean_db : float
        Mean of the sum [dB]
    sigma_db : float
        Standard deviation of the sum [dB]
    third : float, optional
        Third central moment of the sum, not negative [dB³]

    Returns
    -------
    share : float
        Probability that the loss is above the limit [1]

    Examples
    --------
    One splice of mean 0.05 dB, exponentially distributed:

    >>> loss_exceedance(0.15, mean_db=0.05, sigma_db=0.05, third=2 * 0.05**3)
    0.0498
    """
    if sigma_db <= 0:
        return float(mean_db > limit_db)
    z = (limit_db - mean_db) / sigma_db
    skewness = third / sigma_db**3
    if skewness < _SYMMETRIC:
        return 0.5 * math.erfc(z / math.sqrt(2.0))
    from scipy import special  # slow to import, and rarely needed

    shape = 4.0 / skewness**2
    return float(special.gammaincc(shape, max(shape + z * shape**0.5, 0.0)))


def loss_quantile_db(
    probability: float,
    *,
    mean_db: ArrayLike,
    sigma_db: ArrayLike,
    third: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Loss that a given share of built links stays below.

    Parameters
    ----------
    probability : float
        Share of links, between 0 and 1 [1]
    mean_db : array_like
        Mean of the sum [dB]
    sigma_db : array_like
        Standard deviation of the sum [dB]
    third : array_like, optional
        Third central moment of the sum, not negative [dB³]

    Returns
    -------
    loss_db : ndarray
        Quantile of the loss [dB]

    Examples
    --------
    >>> float(loss_quantile_db(0.95, mean_db=0.05, sigma_db=0.05, third=2 * 0.05**3))
    0.1498
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"probability must lie between 0 and 1, got {probability}")
    mean, sigma, moment = np.broadcast_arrays(
        *(np.asarray(item, dtype=float) for item in (mean_db, sigma_db, third))
    )
    skewness = np.where(sigma > 0, moment / np.where(sigma > 0, sigma, 1.0) ** 3, 0.0)
    normal = NormalDist().inv_cdf(probability)
    skewed = skewness >= _SYMMETRIC
    if not np.any(skewed):
        return np.asarray(mean + sigma * normal)
    from scipy import special  # slow to import, and rarely needed

    shape = 4.0 / np.where(skewed, skewness, 1.0) ** 2
    bent = (special.gammaincinv(shape, probability) - shape) / np.sqrt(shape)
    z = np.where(skewed, bent, normal)
    return np.asarray(mean + sigma * z)
