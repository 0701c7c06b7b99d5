"""Decibel, dBm and linear scales, and constants of nature. Nothing else.

Levels are absolute (dBm), losses are ratios (dB), and two levels are never added.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
"""Exact by definition of the metre (CODATA 2022) [m/s]."""

BOLTZMANN_J_PER_K = 1.380_649e-23
"""Exact (CODATA 2022) [J/K]."""

PLANCK_J_S = 6.626_070_15e-34
"""Exact (CODATA 2022) [J s]."""

STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670_374_419e-8
"""CODATA 2022 [W m-2 K-4]."""

ZERO_CELSIUS_K = 273.15
"""0 degrees Celsius, exact [K]."""


def db_from_ratio(ratio: ArrayLike) -> NDArray[np.float64]:
    """Power ratio as decibels.

    Parameters
    ----------
    ratio : array_like
        Power out over power in, positive [1]

    Returns
    -------
    ratio_db : ndarray
        Ten times the decimal logarithm [dB]

    Examples
    --------
    >>> float(db_from_ratio(0.5))
    -3.0103
    """
    values = np.asarray(ratio, dtype=float)
    if np.any(~(values > 0)):
        raise ValueError(f"ratio must be positive, got {ratio!r}")
    return np.asarray(10.0 * np.log10(values))


def ratio_from_db(ratio_db: ArrayLike) -> NDArray[np.float64]:
    """Decibels as a power ratio.

    Parameters
    ----------
    ratio_db : array_like
        Ratio in decibels [dB]

    Returns
    -------
    ratio : ndarray
        Power ratio [1]

    Examples
    --------
    >>> float(ratio_from_db(-3.0103))
    0.5
    """
    return np.asarray(10.0 ** (np.asarray(ratio_db, dtype=float) / 10.0))


def dbm_from_mw(power_mw: ArrayLike) -> NDArray[np.float64]:
    """Optical power as a level.

    Parameters
    ----------
    power_mw : array_like
        Power, positive [mW]

    Returns
    -------
    level_dbm : ndarray
        Level referred to one milliwatt [dBm]

    Examples
    --------
    >>> float(dbm_from_mw(2.0))
    3.0103
    """
    return db_from_ratio(power_mw)


def mw_from_dbm(level_dbm: ArrayLike) -> NDArray[np.float64]:
    """Level as an optical power.

    Parameters
    ----------
    level_dbm : array_like
        Level referred to one milliwatt [dBm]

    Returns
    -------
    power_mw : ndarray
        Power [mW]

    Examples
    --------
    >>> float(mw_from_dbm(-30.0))
    0.001
    """
    return ratio_from_db(level_dbm)


def combined_level_dbm(levels_dbm: ArrayLike) -> float:
    """Level that one detector without a filter reads from several lights.

    Parameters
    ----------
    levels_dbm : array_like
        Levels that arrive together, at least one [dBm]

    Returns
    -------
    level_dbm : float
        Level of the summed power [dBm]

    Examples
    --------
    >>> combined_level_dbm([-25.0, -24.0])
    -21.461
    """
    levels = np.atleast_1d(np.asarray(levels_dbm, dtype=float))
    if levels.size == 0:
        raise ValueError("levels_dbm must hold at least one level")
    return float(dbm_from_mw(mw_from_dbm(levels).sum()))
