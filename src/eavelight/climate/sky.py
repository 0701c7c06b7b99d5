"""Long-wave sky: emissivity and temperature of a clear or clouded sky, sol-air.

A vertical wall sees half the sky, and the horizon half of that is as warm as the air.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.units import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_CELSIUS_K

Values = NDArray[np.float64]
DEW_POINT_SCALE_K = 273.0


def sky_emissivity_clark_allen(
    dew_point_c: ArrayLike, *, cloud_tenths: ArrayLike = 0.0
) -> Values:
    """Emissivity of the whole sky against the air near the ground.

    Parameters
    ----------
    dew_point_c : array_like
        Dew point of the outside air [°C]
    cloud_tenths : array_like, optional
        Clouded part of the sky, 0 to 10 [1/10]

    Returns
    -------
    emissivity : ndarray
        Emissivity of the sky [1]

    References
    ----------
    .. [1] G. Clark and C. Allen, Proc. 2nd National Passive Solar Conf. (1978);
       cloud factor of G. Walton, NBSSIR 83-2655 (1983).

    Examples
    --------
    >>> float(sky_emissivity_clark_allen(10.0))
    0.815
    """
    n = np.asarray(cloud_tenths, dtype=float)
    if np.any(~((n >= 0) & (n <= 10))):
        raise ValueError(f"cloud_tenths must lie in 0 to 10, got {n!r}")
    dew_k = np.asarray(dew_point_c, dtype=float) + ZERO_CELSIUS_K
    clear = 0.787 + 0.764 * np.log(dew_k / DEW_POINT_SCALE_K)
    return np.asarray(clear * (1 + 0.0224 * n - 0.0035 * n**2 + 0.00028 * n**3))


def sky_radiation(
    air_c: ArrayLike, dew_point_c: ArrayLike, *, cloud_tenths: ArrayLike = 0.0
) -> Values:
    """Long-wave radiation of the sky on a horizontal surface.

    Parameters
    ----------
    air_c : array_like
        Outside air [°C]
    dew_point_c : array_like
        Its dew point [°C]
    cloud_tenths : array_like, optional
        Clouded part of the sky, 0 to 10 [1/10]

    Returns
    -------
    radiation_w_per_m2 : ndarray
        Horizontal infrared irradiance [W/m²]

    Examples
    --------
    >>> float(sky_radiation(20.0, 10.0))
    341.2
    """
    emissivity = sky_emissivity_clark_allen(dew_point_c, cloud_tenths=cloud_tenths)
    kelvin = np.asarray(air_c, dtype=float) + ZERO_CELSIUS_K
    return np.asarray(emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * kelvin**4)


def sky_temperature(
    air_c: ArrayLike, dew_point_c: ArrayLike, *, cloud_tenths: ArrayLike = 0.0
) -> Values:
    """Temperature of a black sky that radiates as this one does.

    Parameters
    ----------
    air_c : array_like
        Outside air [°C]
    dew_point_c : array_like
        Its dew point [°C]
    cloud_tenths : array_like, optional
        Clouded part of the sky, 0 to 10 [1/10]

    Returns
    -------
    sky_c : ndarray
        Equivalent temperature of the sky [°C]

    Examples
    --------
    >>> float(sky_temperature(20.0, 10.0))
    5.4
    """
    emissivity = sky_emissivity_clark_allen(dew_point_c, cloud_tenths=cloud_tenths)
    kelvin = np.asarray(air_c, dtype=float) + ZERO_CELSIUS_K
    return np.asarray(kelvin * emissivity**0.25 - ZERO_CELSIUS_K)


def sky_view(tilt_deg: float) -> float:
    """Share of long-wave exchange that goes to the cold part of the sky.

    The rest goes to ground and horizon, both taken at air temperature.

    Parameters
    ----------
    tilt_deg : float
        Tilt of the surface, 0 faces up, 90 is a wall [°]

    Returns
    -------
    view : float
        View factor times the part of the sky that counts as sky [1]

    References
    ----------
    .. [1] EnergyPlus Engineering Reference, outside surface heat balance.

    Examples
    --------
    >>> sky_view(90.0)
    0.35355
    """
    seen = 0.5 * (1.0 + math.cos(math.radians(tilt_deg)))
    return seen * math.sqrt(seen)


def sol_air_temperature(
    air_c: ArrayLike,
    irradiance_w_per_m2: ArrayLike,
    *,
    absorptance: float,
    film_w_per_m2_k: float = 17.0,
    sky_loss_k: float = 0.0,
) -> Values:
    """Air temperature that would warm a surface as air and sun together do.

    Parameters
    ----------
    air_c : array_like
        Outside air [°C]
    irradiance_w_per_m2 : array_like
        Sun on the surface [W/m²]
    absorptance : float
        Share of sunlight that the surface takes in [1]
    film_w_per_m2_k : float, optional
        Outside convection and radiation together [W/m²K]
    sky_loss_k : float, optional
        Loss to a clear sky over the film; about 4 for a roof, 0 for a wall [K]

    Returns
    -------
    sol_air_c : ndarray
        Sol-air temperature [°C]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals, cooling load chapter.

    Examples
    --------
    >>> float(sol_air_temperature(35.0, 700.0, absorptance=0.442))
    53.2
    """
    sun = absorptance * np.asarray(irradiance_w_per_m2, dtype=float)
    air = np.asarray(air_c, dtype=float)
    return np.asarray(air + sun / film_w_per_m2_k - sky_loss_k)
