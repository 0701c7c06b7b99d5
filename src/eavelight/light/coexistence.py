"""Several services on one fibre: what a meter reads, and the loss they share.

A meter without a filter adds the powers of all services and can hide the fault of
one. A filter keeps the others out by its isolation; what leaks adds to the reading.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.units import combined_level_dbm

Array = NDArray[np.float64]


def broadband_reading_dbm(
    levels_dbm: Sequence[float], *, response_db: Sequence[float] | None = None
) -> float:
    """Level that a meter without a filter shows.

    Parameters
    ----------
    levels_dbm : sequence of float
        Levels of all services [dBm]
    response_db : sequence of float, optional
        Response of the detector at each, against the wavelength it is set to [dB]

    Returns
    -------
    reading_dbm : float
        Level of the summed power [dBm]

    Examples
    --------
    >>> broadband_reading_dbm([-28.0, -28.0])
    -24.9897
    """
    levels = np.asarray(levels_dbm, dtype=float)
    if response_db is not None:
        levels = levels + np.asarray(response_db, dtype=float)
    return combined_level_dbm(levels)


def leakage_db(
    signal_dbm: ArrayLike, interferer_dbm: ArrayLike, *, isolation_db: ArrayLike
) -> Array:
    """How much too high a filtered meter reads because of another service.

    Parameters
    ----------
    signal_dbm : array_like
        Level of the wanted service [dBm]
    interferer_dbm : array_like
        Level of the other one [dBm]
    isolation_db : array_like
        Isolation of the filter at the other's wavelength [dB]

    Returns
    -------
    error_db : ndarray
        Reading less true level, never negative [dB]

    Examples
    --------
    >>> float(leakage_db(-24.0, -2.0, isolation_db=30.0))
    0.6389
    """
    over = (
        np.asarray(interferer_dbm, dtype=float)
        - np.asarray(isolation_db, dtype=float)
        - np.asarray(signal_dbm, dtype=float)
    )
    return np.asarray(10.0 * np.log10(1.0 + 10.0 ** (over / 10.0)))


def filtered_reading_dbm(
    signal_dbm: float, others_dbm: Sequence[float], *, isolation_db: Sequence[float]
) -> float:
    """Level that a meter with a filter shows.

    Parameters
    ----------
    signal_dbm : float
        Level of the wanted service [dBm]
    others_dbm : sequence of float
        Levels of the other services [dBm]
    isolation_db : sequence of float
        Isolation of the filter at each of them [dB]

    Returns
    -------
    reading_dbm : float
        Level with what leaks [dBm]

    Examples
    --------
    >>> filtered_reading_dbm(-24.0, [-2.0], isolation_db=[40.0])
    -23.9318
    """
    if len(others_dbm) != len(isolation_db):
        raise ValueError("isolation_db needs one value for each of others_dbm")
    leaked = [a - b for a, b in zip(others_dbm, isolation_db, strict=True)]
    return combined_level_dbm([signal_dbm, *leaked])


def isolation_needed_db(
    signal_dbm: float, interferer_dbm: float, *, error_db: float
) -> float:
    """Isolation that keeps the error of a filtered reading.

    Parameters
    ----------
    signal_dbm : float
        Level of the wanted service [dBm]
    interferer_dbm : float
        Level of the other one [dBm]
    error_db : float
        Largest error allowed, above zero [dB]

    Returns
    -------
    isolation_db : float
        Smallest isolation, at least zero [dB]

    Examples
    --------
    >>> isolation_needed_db(-24.0, -2.0, error_db=0.1)
    38.3277
    """
    if error_db <= 0:
        raise ValueError(f"error_db must be above zero, got {error_db}")
    residue = 10.0 * math.log10(10.0 ** (error_db / 10.0) - 1.0)
    return max(interferer_dbm - signal_dbm - residue, 0.0)


def service_level_dbm(reading_dbm: float, others_dbm: Sequence[float]) -> float:
    """Level of one service from a broadband reading and the known others.

    Parameters
    ----------
    reading_dbm : float
        Reading without a filter [dBm]
    others_dbm : sequence of float
        Known levels of the other services [dBm]

    Returns
    -------
    level_dbm : float
        Level left for the one; minus infinity where the others explain it all [dBm]

    Examples
    --------
    >>> service_level_dbm(-21.461, [-24.0])
    -25.0001
    """
    power = 10.0 ** (reading_dbm / 10.0)
    left = power - sum(10.0 ** (level / 10.0) for level in others_dbm)
    return 10.0 * math.log10(left) if left > 0 else -math.inf


def service_level_u_db(
    reading_dbm: float,
    others_dbm: Sequence[float],
    *,
    reading_u_db: float,
    others_u_db: Sequence[float],
) -> float:
    """Standard uncertainty of a service level left over from a broadband reading.

    First order: each uncertainty is multiplied by its power over what is left.

    Parameters
    ----------
    reading_dbm : float
        Reading without a filter [dBm]
    others_dbm : sequence of float
        Known levels of the other services [dBm]
    reading_u_db : float
        Standard uncertainty of the reading [dB]
    others_u_db : sequence of float
        Standard uncertainties of the others [dB]

    Returns
    -------
    u_db : float
        Standard uncertainty; infinite where nothing is left [dB]

    Examples
    --------
    >>> service_level_u_db(-21.461, [-24.0], reading_u_db=0.19, others_u_db=[0.19])
    0.4914
    """
    level = service_level_dbm(reading_dbm, others_dbm)
    if math.isinf(level):
        return math.inf
    terms = [reading_u_db * 10.0 ** ((reading_dbm - level) / 10.0)]
    terms += [
        u * 10.0 ** ((other - level) / 10.0)
        for other, u in zip(others_dbm, others_u_db, strict=True)
    ]
    return math.hypot(*terms)


def loss_window_db(
    launch_dbm: float, *, receive_low_dbm: float, receive_high_dbm: float
) -> tuple[float, float]:
    """Path losses that bring a launch into a receive window.

    Parameters
    ----------
    launch_dbm : float
        Launch of the service [dBm]
    receive_low_dbm : float
        Lowest level at the receiver [dBm]
    receive_high_dbm : float
        Highest level at the receiver [dBm]

    Returns
    -------
    window : tuple of float
        Smallest and largest loss [dB]

    Examples
    --------
    >>> loss_window_db(18.0, receive_low_dbm=-8.0, receive_high_dbm=2.0)
    (16.0, 26.0)
    """
    if receive_low_dbm > receive_high_dbm:
        raise ValueError("receive_low_dbm must not exceed receive_high_dbm")
    return launch_dbm - receive_high_dbm, launch_dbm - receive_low_dbm


def shared_loss_window_db(
    windows_db: Sequence[tuple[float, float]],
) -> tuple[float, float]:
    """Path losses that suit every service on the fibre.

    Parameters
    ----------
    windows_db : sequence of tuple of float
        Smallest and largest loss of each service, at least one [dB]

    Returns
    -------
    window : tuple of float
        Smallest and largest loss; the first exceeds the second where none suits [dB]

    Examples
    --------
    >>> shared_loss_window_db([(13.0, 28.0), (16.0, 26.0)])
    (16.0, 26.0)
    """
    if not windows_db:
        raise ValueError("windows_db must hold at least one window")
    return max(low for low, _ in windows_db), min(high for _, high in windows_db)
