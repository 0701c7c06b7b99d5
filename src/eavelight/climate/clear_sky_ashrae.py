"""ASHRAE's clear sky from two optical depths, for a design day without pvlib.

An edition's depths go only with its own exponents: mixed, diffuse is up to 8.6 % off.
"""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]
SOLAR_CONSTANT_W_PER_M2 = 1367.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AirMassExponents:
    """Coefficients of one edition: constant, beam, diffuse, both."""

    beam: tuple[float, float, float, float]
    diffuse: tuple[float, float, float, float]


EDITIONS = MappingProxyType(
    {
        # The handbook prints -0.852; its own example needs +0.852.
        "2009": AirMassExponents(
            beam=(1.219, -0.043, -0.151, -0.204),
            diffuse=(0.202, 0.852, -0.007, -0.357),
        ),
        "2013": AirMassExponents(
            beam=(1.454, -0.406, -0.268, 0.021),
            diffuse=(0.507, 0.205, -0.080, -0.190),
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearSky:
    """Beam toward the sun and diffuse on the ground, with the exponents used."""

    beam_w_per_m2: Values
    diffuse_w_per_m2: Values
    beam_exponent: Values
    diffuse_exponent: Values


def beyond_air(day_of_year: ArrayLike) -> Values:
    """Sunlight outside the atmosphere.

    Parameters
    ----------
    day_of_year : array_like
        1 is 1 January [1]

    Returns
    -------
    beyond_w_per_m2 : ndarray
        Extraterrestrial irradiance toward the sun [W/m²]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals (2009), chapter 14, equation 4.

    Examples
    --------
    >>> float(beyond_air(21))
    1410.0
    """
    day = np.asarray(day_of_year, dtype=float)
    swing = 0.033 * np.cos(np.radians(360.0 * (day - 3.0) / 365.0))
    return np.asarray(SOLAR_CONSTANT_W_PER_M2 * (1.0 + swing))


def declination(day_of_year: ArrayLike) -> Values:
    """Declination of the sun, after Cooper.

    Parameters
    ----------
    day_of_year : array_like
        1 is 1 January [1]

    Returns
    -------
    declination_deg : ndarray
        North positive [°]

    Examples
    --------
    >>> float(declination(202))
    20.4
    """
    day = np.asarray(day_of_year, dtype=float)
    return np.asarray(23.45 * np.sin(np.radians(360.0 * (284.0 + day) / 365.0)))


def solar_altitude(
    latitude_deg: float, day_of_year: ArrayLike, *, solar_h: ArrayLike = 12.0
) -> Values:
    """Height of the sun above the horizon at a solar time.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]
    day_of_year : array_like
        1 is 1 January [1]
    solar_h : array_like, optional
        Solar time [h]

    Returns
    -------
    altitude_deg : ndarray
        Angle above the horizon [°]

    Examples
    --------
    >>> float(solar_altitude(33.43, 202, solar_h=16.0))
    35.7
    """
    latitude = np.radians(latitude_deg)
    decline = np.radians(declination(day_of_year))
    hour = np.radians(15.0 * (np.asarray(solar_h, dtype=float) - 12.0))
    sine = np.cos(latitude) * np.cos(decline) * np.cos(hour) + np.sin(
        latitude
    ) * np.sin(decline)
    return np.asarray(np.degrees(np.arcsin(sine)))


def air_mass(altitude_deg: ArrayLike) -> Values:
    """Relative air mass, Kasten and Young.

    Parameters
    ----------
    altitude_deg : array_like
        Sun above the horizon, positive [°]

    Returns
    -------
    air_mass : ndarray
        Path through the air over the vertical path [1]

    Examples
    --------
    >>> float(air_mass(30.0))
    1.994
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    if np.any(altitude <= 0):
        raise ValueError(f"altitude_deg must be positive, got {altitude!r}")
    bent = 0.50572 * (6.07995 + altitude) ** -1.6364
    return np.asarray(1.0 / (np.sin(np.radians(altitude)) + bent))


def clear_sky_ashrae(
    tau_beam: ArrayLike,
    tau_diffuse: ArrayLike,
    *,
    day_of_year: ArrayLike,
    altitude_deg: ArrayLike,
    edition: str,
) -> ClearSky:
    """Beam and diffuse irradiance of a clear day.

    Parameters
    ----------
    tau_beam : array_like
        Optical depth for beam [1]
    tau_diffuse : array_like
        Optical depth for diffuse [1]
    day_of_year : array_like
        1 is 1 January [1]
    altitude_deg : array_like
        Sun above the horizon [°]
    edition : str
        Edition that the depths come from: "2009" or "2013" (also 2017) [1]

    Returns
    -------
    sky : ClearSky
        Beam, diffuse and the exponents [W/m²]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals (2009 and 2013), chapter 14.

    Examples
    --------
    >>> sky = clear_sky_ashrae(0.289, 2.641, day_of_year=21, altitude_deg=90.0,
    ...     edition="2009")
    >>> float(sky.beam_w_per_m2), float(sky.diffuse_w_per_m2)
    (1056.1, 100.5)
    """
    if edition not in EDITIONS:
        raise ValueError(f"edition must be one of {list(EDITIONS)}, got {edition!r}")
    tb = np.asarray(tau_beam, dtype=float)
    td = np.asarray(tau_diffuse, dtype=float)

    def exponent(c: tuple[float, float, float, float]) -> Values:
        return np.asarray(c[0] + c[1] * tb + c[2] * td + c[3] * tb * td)

    ab = exponent(EDITIONS[edition].beam)
    ad = exponent(EDITIONS[edition].diffuse)
    m = air_mass(altitude_deg)
    beyond = beyond_air(day_of_year)
    return ClearSky(
        beam_w_per_m2=beyond * np.exp(-tb * m**ab),
        diffuse_w_per_m2=beyond * np.exp(-td * m**ad),
        beam_exponent=ab,
        diffuse_exponent=ad,
    )


def wall_sun_ashrae(
    beam_w_per_m2: float,
    diffuse_w_per_m2: float,
    *,
    altitude_deg: float,
    off_normal_deg: float,
    albedo: float = 0.2,
) -> float:
    """Sunlight on a vertical wall.

    Parameters
    ----------
    beam_w_per_m2 : float
        Beam toward the sun [W/m²]
    diffuse_w_per_m2 : float
        Diffuse on the ground [W/m²]
    altitude_deg : float
        Sun above the horizon [°]
    off_normal_deg : float
        Azimuth of the sun less that of the wall [°]
    albedo : float, optional
        Share of sunlight that the ground sends back [1]

    Returns
    -------
    wall_w_per_m2 : float
        Beam, sky and ground together [W/m²]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals (2009), chapter 14, equations 26 to 31.

    Examples
    --------
    >>> wall_sun_ashrae(550.0, 181.0, altitude_deg=35.69, off_normal_deg=2.35)
    697.6
    """
    altitude = np.radians(altitude_deg)
    cosine = float(np.cos(altitude) * np.cos(np.radians(off_normal_deg)))
    seen = max(0.45, 0.55 + 0.437 * cosine + 0.313 * cosine**2)
    ground = (beam_w_per_m2 * float(np.sin(altitude)) + diffuse_w_per_m2) * albedo / 2.0
    return beam_w_per_m2 * max(0.0, cosine) + seen * diffuse_w_per_m2 + ground
