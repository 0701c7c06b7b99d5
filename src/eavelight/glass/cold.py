"""What frost does to gel joints and cable: real, small, and not an excuse."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass import kihara_1996
from eavelight.glass.connector import fresnel_reflectance

Floats = NDArray[np.float64]


def gel_index(
    temperature_c: ArrayLike,
    *,
    index_at_20: float = kihara_1996.GEL_INDEX_AT_20_C,
    slope_per_k: float = kihara_1996.GEL_INDEX_SLOPE_PER_K,
) -> Floats:
    """Refractive index of matching gel at a temperature.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, -40 to 80 [°C]
    index_at_20 : float, optional
        Index at 20 degrees [1]
    slope_per_k : float, optional
        Change of the index with temperature [1/K]

    Returns
    -------
    index : ndarray
        Index at 1.3 µm [1]

    References
    ----------
    .. [1] M. Kihara et al., J. Lightwave Technol. 14 (1996) 1986.
    """
    return np.asarray(index_at_20 + slope_per_k * (np.asarray(temperature_c) - 20.0))


def gel_joint_reflectance(temperature_c: ArrayLike, *, fibre_index: float) -> Floats:
    """Reflectance of a flat gel joint, one surface.

    The level hangs on the fibre index, up to 24 dB; the rise in frost does not.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, -40 to 80 [°C]
    fibre_index : float
        Phase index of the fibre [1]

    Returns
    -------
    reflectance_db : ndarray
        Reflected power, negative [dB]

    Examples
    --------
    >>> float(gel_joint_reflectance(-40.0, fibre_index=1.4515))
    -39.0
    """
    return fresnel_reflectance(fibre_index, other_index=gel_index(temperature_c))


def gel_match_temperature(
    fibre_index: float,
    *,
    index_at_20: float = kihara_1996.GEL_INDEX_AT_20_C,
    slope_per_k: float = kihara_1996.GEL_INDEX_SLOPE_PER_K,
) -> float:
    """Temperature at which gel and fibre have the same index.

    Parameters
    ----------
    fibre_index : float
        Phase index of the fibre [1]
    index_at_20 : float, optional
        Index of the gel at 20 degrees [1]
    slope_per_k : float, optional
        Change of the gel's index with temperature [1/K]

    Returns
    -------
    temperature_c : float
        Temperature of least reflection [°C]
    """
    return 20.0 + (fibre_index - index_at_20) / slope_per_k


def cable_change(length_m: ArrayLike, *, change_db_per_km: float) -> Floats:
    """Largest seasonal change of loss that a sound cable shows.

    Parameters
    ----------
    length_m : array_like
        Length of the cable [m]
    change_db_per_km : float
        Allowed change over the temperature range [dB/km]

    Returns
    -------
    change_db : ndarray
        Change of loss [dB]

    Examples
    --------
    >>> float(cable_change(100.0, change_db_per_km=0.05))
    0.005
    """
    length = np.asarray(length_m, dtype=float)
    if np.any(~(length >= 0)):
        raise ValueError(f"length_m must not be negative, got {length_m!r}")
    return np.asarray(length / 1e3 * change_db_per_km)


def change_beyond_glass(
    change_db: float, *, length_m: float, change_db_per_km: float, u_db: float
) -> bool:
    """Whether a seasonal change is more than sound cable and the meters explain.

    Then look for a bend that tightens, a connector gap, ice, or cable shrinkage.

    Parameters
    ----------
    change_db : float
        Loss now less loss in another season [dB]
    length_m : float
        Length of the cable [m]
    change_db_per_km : float
        Allowed change over the temperature range [dB/km]
    u_db : float
        Standard uncertainty of the change [dB]

    Returns
    -------
    beyond : bool
        True where glass cannot explain it, 5 % one-sided [1]
    """
    explained = float(cable_change(length_m, change_db_per_km=change_db_per_km))
    return bool(abs(change_db) > explained + 1.645 * u_db)
