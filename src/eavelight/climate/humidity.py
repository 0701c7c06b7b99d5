"""Dew and frost point, water in the air of a box, and what it draws in by breathing."""

import functools
import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.errors import MissingFeatureError
from eavelight.units import ZERO_CELSIUS_K

Values = NDArray[np.float64]

# Magnus form with the coefficients of Sonntag (1990): pressure, factor, offset.
MAGNUS_WATER = (611.2, 17.62, 243.12)
MAGNUS_ICE = (611.2, 22.46, 272.62)
WATER_GAS_CONSTANT_J_PER_KG_K = 461.52
WATER_TO_AIR_MASS_RATIO = 0.621945


@functools.cache
def _psychrolib() -> Any:
    """The library with SI set; its unit system is one global and unset at first."""
    try:
        import psychrolib
    except ImportError as error:
        raise MissingFeatureError("moist air tables", "sun", str(error)) from error
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib


def _fraction(relative_humidity: ArrayLike) -> Values:
    values = np.asarray(relative_humidity, dtype=float)
    if np.any(~((values > 0) & (values <= 1))):
        raise ValueError(
            f"relative_humidity must be above 0 and at most 1, got {values!r}"
        )
    return values


def vapour_pressure(temperature_c: ArrayLike, *, over: str = "water") -> Values:
    """Saturation vapour pressure over water or ice, Magnus form.

    Valid from −45 to +60 °C over water, −65 to 0 °C over ice.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature [°C]
    over : str, optional
        Surface: "water" or "ice" [1]

    Returns
    -------
    pressure_pa : ndarray
        Vapour pressure at saturation [Pa]

    References
    ----------
    .. [1] D. Sonntag, Z. Meteorol. 70 (1990) 340-344.

    Examples
    --------
    >>> float(vapour_pressure(0.0))
    611.2
    """
    pressure, factor, offset = MAGNUS_ICE if over == "ice" else MAGNUS_WATER
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(pressure * np.exp(factor * t / (offset + t)))


def dew_point(temperature_c: ArrayLike, relative_humidity: ArrayLike) -> Values:
    """Temperature at which a surface gets wet; humidity over water, as meters read.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature [°C]
    relative_humidity : array_like
        Relative humidity over water, 0 to 1 [1]

    Returns
    -------
    dew_point_c : ndarray
        Dew point over water, also below freezing [°C]

    Examples
    --------
    >>> float(dew_point(30.0, 0.60))
    21.39
    """
    pressure = _fraction(relative_humidity) * vapour_pressure(temperature_c)
    return _saturated_at(pressure, MAGNUS_WATER)


def frost_point(
    temperature_c: ArrayLike, relative_humidity: ArrayLike, *, humidity_over: str
) -> Values:
    """Temperature at which a surface below freezing gets white.

    Hygrometers read humidity over water; some tables mean it over ice below freezing.
    The two answers differ by 0.6 K at −5 °C, so the reference has to be named.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature [°C]
    relative_humidity : array_like
        Relative humidity, 0 to 1 [1]
    humidity_over : str
        What the humidity refers to: "water" or "ice" [1]

    Returns
    -------
    frost_point_c : ndarray
        Temperature of saturation over ice [°C]

    Examples
    --------
    >>> float(frost_point(-5.0, 0.80, humidity_over="water"))
    -7.01
    """
    if humidity_over not in ("water", "ice"):
        raise ValueError(f"humidity_over must be water or ice, got {humidity_over!r}")
    over = vapour_pressure(temperature_c, over=humidity_over)
    return _saturated_at(_fraction(relative_humidity) * over, MAGNUS_ICE)


def _saturated_at(pressure_pa: Values, surface: tuple[float, float, float]) -> Values:
    reference, factor, offset = surface
    gamma = np.log(pressure_pa / reference)
    return np.asarray(offset * gamma / (factor - gamma))


def dew_point_ashrae(temperature_c: float, relative_humidity: float) -> float:
    """Dew point by the handbook's own vapour pressure curves, for comparison.

    Below freezing both the humidity and the answer refer to ice. Needs psychrolib.

    Parameters
    ----------
    temperature_c : float
        Air temperature [°C]
    relative_humidity : float
        Relative humidity, 0 to 1 [1]

    Returns
    -------
    dew_point_c : float
        Dew point, below freezing the frost point [°C]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals (2017), chapter 1, equations 5 and 6.

    Examples
    --------
    >>> dew_point_ashrae(-5.0, 0.80)
    -7.59
    """
    fraction = float(_fraction(relative_humidity))
    return float(_psychrolib().GetTDewPointFromRelHum(temperature_c, fraction))


def relative_humidity_from_specific(
    specific_humidity_g_per_kg: float, temperature_c: float, *, pressure_pa: float
) -> float:
    """Relative humidity over water of air that holds a known share of vapour.

    Parameters
    ----------
    specific_humidity_g_per_kg : float
        Vapour per kilogram of moist air [g/kg]
    temperature_c : float
        Air temperature [°C]
    pressure_pa : float
        Air pressure [Pa]

    Returns
    -------
    relative_humidity : float
        Humidity over water, at most 1: what is above falls out as fog or dew [1]

    Examples
    --------
    >>> relative_humidity_from_specific(7.0, 12.0, pressure_pa=101325.0)
    0.81
    """
    share = specific_humidity_g_per_kg / 1000.0
    if not 0 < share < 0.1:
        raise ValueError(
            "specific_humidity_g_per_kg must be above 0 and below 100, got "
            f"{specific_humidity_g_per_kg}"
        )
    vapour = (
        share
        * pressure_pa
        / (WATER_TO_AIR_MASS_RATIO + (1 - WATER_TO_AIR_MASS_RATIO) * share)
    )
    return min(1.0, float(vapour / vapour_pressure(temperature_c)))


def vapour_density(temperature_c: float, relative_humidity: float) -> float:
    """Water in a volume of air.

    Parameters
    ----------
    temperature_c : float
        Air temperature [°C]
    relative_humidity : float
        Relative humidity over water, 0 to 1 [1]

    Returns
    -------
    density_g_per_m3 : float
        Mass of vapour in a cubic metre [g/m³]

    Examples
    --------
    >>> vapour_density(25.0, 0.60)
    13.8
    """
    pressure = float(_fraction(relative_humidity) * vapour_pressure(temperature_c))
    kelvin = temperature_c + ZERO_CELSIUS_K
    return 1000.0 * pressure / (WATER_GAS_CONSTANT_J_PER_KG_K * kelvin)


def water_dropped(
    closed_at_c: float,
    relative_humidity: float,
    *,
    cooled_to_c: float,
    volume_m3: float,
) -> float:
    """Water that a tightly closed box drops when it cools.

    Parameters
    ----------
    closed_at_c : float
        Temperature of the air when the lid was closed [°C]
    relative_humidity : float
        Its relative humidity over water, 0 to 1 [1]
    cooled_to_c : float
        Coldest temperature after that [°C]
    volume_m3 : float
        Air in the box [m³]

    Returns
    -------
    water_g : float
        Liquid water, 0 if the box stays above its dew point [g]

    Examples
    --------
    >>> water_dropped(25.0, 0.60, cooled_to_c=0.0, volume_m3=0.0075)
    0.067
    """
    before = vapour_density(closed_at_c, relative_humidity)
    return max(0.0, (before - vapour_density(cooled_to_c, 1.0)) * volume_m3)


def breathing(
    warm_c: float, cold_c: float, *, pressure_pa: float
) -> tuple[float, float]:
    """What a box draws in when it cools, or the vacuum it holds if it is tight.

    Parameters
    ----------
    warm_c : float
        Air in the box before [°C]
    cold_c : float
        Air in the box after [°C]
    pressure_pa : float
        Air pressure [Pa]

    Returns
    -------
    breath : tuple of float
        Part of its volume that a vented box draws in, and the pressure below outside
        of a tight one in pascal [1; Pa]

    Examples
    --------
    >>> breathing(50.0, 20.0, pressure_pa=101325.0)
    (0.093, 9406.6)
    """
    share = 1.0 - (cold_c + ZERO_CELSIUS_K) / (warm_c + ZERO_CELSIUS_K)
    return share, share * pressure_pa


def pressure_at(elevation_m: float) -> float:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    elevation_m : float
        Height above the sea, below 11 km [m]

    Returns
    -------
    pressure_pa : float
        Air pressure [Pa]

    References
    ----------
    .. [1] ISO 2533:1975, standard atmosphere, troposphere.

    Examples
    --------
    >>> pressure_at(2000.0) / pressure_at(0.0)
    0.785
    """
    if not -1000 <= elevation_m < 11_000:
        raise ValueError(f"elevation_m must lie in -1000 to 11000, got {elevation_m}")
    return float(101_325.0 * math.pow(1 - 2.25577e-5 * elevation_m, 5.25588))
