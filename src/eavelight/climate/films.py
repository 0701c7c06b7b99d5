"""Heat carried off a surface by air and by radiation: one function per published model.

All convective films take the magnitude of the temperature difference and return W/m²K.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.units import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_CELSIUS_K

Values = NDArray[np.float64]

# Wind profile of EnergyPlus: exponent and boundary layer [m] by terrain.
TERRAIN = {"open": (0.14, 270.0), "rough": (0.22, 370.0), "town": (0.33, 460.0)}
# Walton's roughness multipliers, smooth to rough.
ROUGHNESS_GLASS = 1.00
ROUGHNESS_SMOOTH_PLASTER = 1.11
ROUGHNESS_BRICK = 1.67
ROUGHNESS_STUCCO = 2.17


def film_iso_6946(wind_m_per_s: ArrayLike) -> Values:
    """Outside convection of the building standard, any surface.

    Parameters
    ----------
    wind_m_per_s : array_like
        Wind at the surface [m/s]

    Returns
    -------
    film_w_per_m2_k : ndarray
        Convective coefficient [W/m²K]

    References
    ----------
    .. [1] ISO 6946:2017, annex C.

    Examples
    --------
    >>> float(film_iso_6946(1.0))
    8.0
    """
    wind = np.asarray(wind_m_per_s, dtype=float)
    if np.any(wind < 0):
        raise ValueError(f"wind_m_per_s must not be negative, got {wind!r}")
    return np.asarray(4.0 + 4.0 * wind)


def film_radiation(mean_c: ArrayLike, *, emissivity: float = 0.9) -> Values:
    """Radiation between surfaces near one temperature, as a film.

    Parameters
    ----------
    mean_c : array_like
        Mean temperature of surface and surroundings [°C]
    emissivity : float, optional
        Emissivity of the surface [1]

    Returns
    -------
    film_w_per_m2_k : ndarray
        Radiative coefficient [W/m²K]

    Examples
    --------
    >>> float(film_radiation(10.0))
    4.63
    """
    kelvin = np.asarray(mean_c, dtype=float) + ZERO_CELSIUS_K
    return np.asarray(4 * emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * kelvin**3)


def surface_resistance_iso_6946(
    wind_m_per_s: ArrayLike, *, mean_c: float = 10.0, emissivity: float = 0.9
) -> Values:
    """External surface resistance Rse.

    Parameters
    ----------
    wind_m_per_s : array_like
        Wind at the surface [m/s]
    mean_c : float, optional
        Mean temperature of the surface and its surroundings [°C]
    emissivity : float, optional
        Emissivity of the surface [1]

    Returns
    -------
    resistance_m2_k_per_w : ndarray
        Surface resistance [m²K/W]

    References
    ----------
    .. [1] ISO 6946:2017, annex C.

    Examples
    --------
    >>> float(surface_resistance_iso_6946(4.0))
    0.0406
    """
    radiation = film_radiation(mean_c, emissivity=emissivity)
    return np.asarray(1.0 / (film_iso_6946(wind_m_per_s) + radiation))


def film_natural_tarp(difference_k: ArrayLike) -> Values:
    """Still air on a vertical surface.

    Parameters
    ----------
    difference_k : array_like
        Surface less air; the sign does not count [K]

    Returns
    -------
    film_w_per_m2_k : ndarray
        Convective coefficient [W/m²K]

    References
    ----------
    .. [1] G. Walton, NBSSIR 83-2655 (1983).

    Examples
    --------
    >>> float(film_natural_tarp(8.0))
    2.62
    """
    return np.asarray(1.31 * np.cbrt(np.abs(np.asarray(difference_k, dtype=float))))


def film_natural_tilted_tarp(
    difference_k: ArrayLike, *, tilt_deg: float, enhanced: bool
) -> Values:
    """Still air on a level or tilted surface.

    Parameters
    ----------
    difference_k : array_like
        Surface less air; the sign does not count [K]
    tilt_deg : float
        Tilt of the surface, 0 faces up, 180 faces down [°]
    enhanced : bool
        Whether warm air can rise from the surface (warm facing up, cold down) [1]

    Returns
    -------
    film_w_per_m2_k : ndarray
        Convective coefficient [W/m²K]

    References
    ----------
    .. [1] G. Walton, NBSSIR 83-2655 (1983).

    Examples
    --------
    >>> float(film_natural_tilted_tarp(8.0, tilt_deg=0.0, enhanced=True))
    3.018
    """
    root = np.cbrt(np.abs(np.asarray(difference_k, dtype=float)))
    level = abs(math.cos(math.radians(tilt_deg)))
    if enhanced:
        return np.asarray(9.482 * root / (7.283 - level))
    return np.asarray(1.810 * root / (1.382 + level))


def film_forced_tarp(
    wind_m_per_s: float,
    *,
    perimeter_m: float,
    area_m2: float,
    roughness: float = ROUGHNESS_GLASS,
    windward: bool = True,
) -> float:
    """Wind on a surface.

    Parameters
    ----------
    wind_m_per_s : float
        Wind at the height of the surface [m/s]
    perimeter_m : float
        Perimeter of the whole flat face that the wind sweeps [m]
    area_m2 : float
        Area of that face [m²]
    roughness : float, optional
        Roughness multiplier, 1 for glass to 2.17 for stucco [1]
    windward : bool, optional
        Whether the wind blows toward the face; half the film otherwise [1]

    Returns
    -------
    film_w_per_m2_k : float
        Forced part, to be added to the natural one [W/m²K]

    References
    ----------
    .. [1] G. Walton, NBSSIR 83-2655 (1983), after Sparrow et al. (1979).

    Examples
    --------
    >>> film_forced_tarp(0.3, perimeter_m=1.1, area_m2=0.075)
    5.32
    """
    side = 1.0 if windward else 0.5
    return 2.537 * side * roughness * math.sqrt(perimeter_m * wind_m_per_s / area_m2)


def film_mowitt(
    difference_k: ArrayLike, wind_m_per_s: float, *, windward: bool = True
) -> Values:
    """Natural and forced convection on smooth low buildings.

    Parameters
    ----------
    difference_k : array_like
        Surface less air; the sign does not count [K]
    wind_m_per_s : float
        Wind in the open, as at an airport [m/s]
    windward : bool, optional
        Whether the wind blows toward the face [1]

    Returns
    -------
    film_w_per_m2_k : ndarray
        Convective coefficient [W/m²K]

    References
    ----------
    .. [1] M. Yazdanian and J. Klems, ASHRAE Trans. 100 (1994) 1087-1096.

    Examples
    --------
    >>> float(film_mowitt(8.0, 1.0))
    3.668
    """
    factor, exponent = (3.26, 0.89) if windward else (3.55, 0.617)
    natural = 0.84 * np.cbrt(np.abs(np.asarray(difference_k, dtype=float)))
    return np.asarray(np.hypot(natural, factor * wind_m_per_s**exponent))


def film_combined_ashrae(wind_m_per_s: float, *, surface: str = "smooth") -> float:
    """Convection and radiation together by wind alone.

    Parameters
    ----------
    wind_m_per_s : float
        Wind at the surface [m/s]
    surface : str, optional
        "smooth" or "glass" [1]

    Returns
    -------
    film_w_per_m2_k : float
        Combined coefficient [W/m²K]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals (1989), chapter 22.

    Examples
    --------
    >>> film_combined_ashrae(2.0)
    16.42
    """
    if surface == "smooth":
        return 10.22 + 3.1 * wind_m_per_s
    if surface == "glass":
        return 8.23 + 3.33 * wind_m_per_s - 0.036 * wind_m_per_s**2
    raise ValueError(f"surface must be smooth or glass, got {surface!r}")


def wind_at_height(
    airport_m_per_s: float, *, height_m: float, terrain: str = "town"
) -> float:
    """Wind at the box, from the wind of a weather station in the open at 10 m.

    Parameters
    ----------
    airport_m_per_s : float
        Wind of the weather report [m/s]
    height_m : float
        Height of the box above the ground [m]
    terrain : str, optional
        Around the house: "open", "rough" or "town" [1]

    Returns
    -------
    wind_m_per_s : float
        Wind at the box, without shelter by the house itself [m/s]

    References
    ----------
    .. [1] EnergyPlus Engineering Reference, local wind speed.

    Examples
    --------
    >>> wind_at_height(1.0, height_m=1.5)
    0.24
    """
    if terrain not in TERRAIN:
        raise ValueError(f"terrain must be one of {sorted(TERRAIN)}, got {terrain!r}")
    open_exponent, open_layer_m = TERRAIN["open"]
    exponent, layer_m = TERRAIN[terrain]
    aloft = airport_m_per_s * (open_layer_m / 10.0) ** open_exponent
    return float(aloft * (height_m / layer_m) ** exponent)
