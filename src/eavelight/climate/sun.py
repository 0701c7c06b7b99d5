"""Sun position, clear sky and sunlight on a plane; pvlib loads on first use only."""

import datetime
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.climate.humidity import pressure_at
from eavelight.errors import MissingFeatureError

Values = NDArray[np.float64]
PASCAL_PER_MBAR = 100.0
SECONDS_PER_DAY = 86_400.0
REFRACTION_AIR_C = 12.0
DELTA_T_S = 67.0
REFRACTION_AT_HORIZON_DEG = 0.5667
# A common year: only the day of the year matters for a design day.
DESIGN_YEAR = 2021
LOWEST_COSINE_OF_ZENITH = 0.01745


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SunPosition:
    """The sun in the sky with the intermediates of the algorithm; arrays over time.

    Right ascension, declination and hour angle are seen from the middle of the Earth.
    """

    julian_day: Values
    heliocentric_longitude_deg: Values
    heliocentric_latitude_deg: Values
    sun_distance_au: Values
    right_ascension_deg: Values
    declination_deg: Values
    hour_angle_deg: Values
    true_elevation_deg: Values
    elevation_deg: Values
    zenith_deg: Values
    azimuth_deg: Values
    equation_of_time_min: Values


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearDay:
    """A cloudless day at one place, in zone standard time; arrays over time."""

    latitude_deg: float
    elevation_m: float
    day_of_year: int
    time_h: Values
    zenith_deg: Values
    azimuth_deg: Values
    beam_w_per_m2: Values
    diffuse_w_per_m2: Values
    horizontal_w_per_m2: Values
    beyond_air_w_per_m2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneSun:
    """Sunlight on a plane by origin; the glow around the sun counts as beam."""

    beam_w_per_m2: Values
    sky_w_per_m2: Values
    ground_w_per_m2: Values

    @property
    def total_w_per_m2(self) -> Values:
        return self.beam_w_per_m2 + self.sky_w_per_m2 + self.ground_w_per_m2


@functools.cache
def _pvlib() -> Any:
    try:
        import pvlib
    except ImportError as error:
        raise MissingFeatureError("sun on the wall", "sun", str(error)) from error
    return pvlib


def sun_position(
    unix_s: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float = 0.0,
    pressure_pa: float | None = None,
    air_c: float = REFRACTION_AIR_C,
    delta_t_s: float = DELTA_T_S,
) -> SunPosition:
    """Position of the sun by the NREL solar position algorithm, ±0.0003°.

    Parameters
    ----------
    unix_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s]
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]
    elevation_m : float, optional
        Height above the sea [m]
    pressure_pa : float, optional
        Air pressure; default the standard atmosphere at this height [Pa]
    air_c : float, optional
        Air temperature, for refraction [°C]
    delta_t_s : float, optional
        Terrestrial time less universal time [s]

    Returns
    -------
    position : SunPosition
        Angles in degrees, azimuth from north clockwise; zenith after refraction [°]

    References
    ----------
    .. [1] I. Reda and A. Andreas, NREL/TP-560-34302 (2003, revised 2008).

    Examples
    --------
    >>> seen = sun_position(1066419030, latitude_deg=39.742476, longitude_deg=-105.1786,
    ...     elevation_m=1830.14, pressure_pa=82000.0, air_c=11.0)
    >>> float(seen.zenith_deg[0]), float(seen.azimuth_deg[0])
    (50.1116, 194.3402)
    """
    spa = _pvlib().spa
    seconds = np.atleast_1d(np.asarray(unix_s, dtype=float))
    pressure = pressure_at(elevation_m) if pressure_pa is None else pressure_pa
    jd = spa.julian_day(seconds)
    jme = spa.julian_ephemeris_millennium(
        spa.julian_ephemeris_century(spa.julian_ephemeris_day(jd, delta_t_s))
    )
    sidereal, ascension, declination = spa.solar_position(
        seconds, 0, 0, 0, 0, 0, delta_t_s, 0, sst=True
    )
    apparent_zenith, _, elevation, true_elevation, azimuth, equation = (
        spa.solar_position(
            seconds, latitude_deg, longitude_deg, elevation_m,
            pressure / PASCAL_PER_MBAR, air_c, delta_t_s, REFRACTION_AT_HORIZON_DEG,
        )
    )  # fmt: skip
    return SunPosition(
        julian_day=jd,
        heliocentric_longitude_deg=spa.heliocentric_longitude(jme),
        heliocentric_latitude_deg=spa.heliocentric_latitude(jme),
        sun_distance_au=spa.heliocentric_radius_vector(jme),
        right_ascension_deg=ascension,
        declination_deg=declination,
        hour_angle_deg=spa.local_hour_angle(sidereal, longitude_deg, ascension),
        true_elevation_deg=true_elevation,
        elevation_deg=elevation,
        zenith_deg=apparent_zenith,
        azimuth_deg=azimuth,
        equation_of_time_min=equation,
    )


def sun_rise_and_set(
    day_unix_s: float,
    *,
    latitude_deg: float,
    longitude_deg: float,
    delta_t_s: float = DELTA_T_S,
) -> Mapping[str, float]:
    """Times of transit, sunrise and sunset of one day.

    Parameters
    ----------
    day_unix_s : float
        Midnight UTC of the day [s]
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]
    delta_t_s : float, optional
        Terrestrial time less universal time [s]

    Returns
    -------
    times : dict of str to float
        "transit", "sunrise", "sunset" after that midnight; NaN without one [s]

    Examples
    --------
    >>> day = sun_rise_and_set(
    ...     1066348800, latitude_deg=39.742476, longitude_deg=-105.1786)
    >>> day["transit"] / 3600 - 7
    11.768
    """
    found = _pvlib().spa.transit_sunrise_sunset(
        np.array([float(day_unix_s)]), latitude_deg, longitude_deg, delta_t_s, 1
    )
    seconds = (float(item[0]) - day_unix_s for item in found)
    return dict(zip(("transit", "sunrise", "sunset"), seconds, strict=True))


def incidence(
    zenith_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    *,
    tilt_deg: float,
    facing_deg: float,
) -> Values:
    """Angle between the sun and the outward normal of a plane.

    Parameters
    ----------
    zenith_deg : array_like
        Sun from the vertical [°]
    azimuth_deg : array_like
        Sun from north, clockwise [°]
    tilt_deg : float
        Tilt of the plane, 0 faces up, 90 is a wall [°]
    facing_deg : float
        Direction the plane faces, from north, clockwise [°]

    Returns
    -------
    incidence_deg : ndarray
        Angle of incidence, above 90 when the sun is behind the plane [°]

    Examples
    --------
    >>> float(incidence(50.11162, 194.34024, tilt_deg=30.0, facing_deg=170.0))
    25.187
    """
    zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
    tilt, facing = np.radians(tilt_deg), np.radians(facing_deg)
    cosine = np.cos(zenith) * np.cos(tilt) + np.sin(zenith) * np.sin(tilt) * np.cos(
        azimuth - facing
    )
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def zone_offset(longitude_deg: float) -> int:
    """Hours ahead of UTC of the natural time zone: standard time, no summer time.

    Parameters
    ----------
    longitude_deg : float
        East positive [°]

    Returns
    -------
    offset_h : int
        Whole hours [h]

    Examples
    --------
    >>> zone_offset(-112.0)
    -7
    """
    return round(longitude_deg / 15.0)


def ground_height(latitude_deg: float, longitude_deg: float) -> float:
    """Height of the ground from the coarse map inside pvlib.

    Nine places in a hundred are off by more than 200 m; a stated height is better.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]

    Returns
    -------
    elevation_m : float
        Height above the sea [m]

    Examples
    --------
    >>> 250 < ground_height(33.43, -112.02) < 450
    True
    """
    return float(_pvlib().location.lookup_altitude(latitude_deg, longitude_deg))


def ground_height_around(
    latitude_deg: float, longitude_deg: float, *, step_deg: float = 1.0 / 12.0
) -> float:
    """Mean height of the ground in a quarter degree, to set a grid cell against.

    Parameters
    ----------
    latitude_deg : float
        Middle of the cell, north positive [°]
    longitude_deg : float
        Middle of the cell, east positive [°]
    step_deg : float, optional
        Spacing of the nine points that are looked up [°]

    Returns
    -------
    elevation_m : float
        Mean height above the sea [m]

    Examples
    --------
    >>> 250 < ground_height_around(33.375, -112.125) < 500
    True
    """
    steps = (-step_deg, 0.0, step_deg)
    heights = [
        ground_height(
            max(-90.0, min(90.0, latitude_deg + north)),
            (longitude_deg + east + 180.0) % 360.0 - 180.0,
        )
        for north in steps
        for east in steps
    ]
    return sum(heights) / len(heights)


@functools.lru_cache(maxsize=64)
def _monthly_turbidity(latitude_deg: float, longitude_deg: float) -> tuple[float, ...]:
    clearsky = _pvlib().clearsky
    # pandas comes with pvlib; nothing of ours depends on it.
    months = clearsky.pd.DatetimeIndex(
        [f"{DESIGN_YEAR}-{month:02d}-15" for month in range(1, 13)]
    )
    found = clearsky.lookup_linke_turbidity(
        months, latitude_deg, longitude_deg, interp_turbidity=False
    )
    return tuple(float(value) for value in found)


def _turbidity(latitude_deg: float, longitude_deg: float, day_of_year: int) -> float:
    months = _monthly_turbidity(latitude_deg, longitude_deg)
    middles = np.linspace(-15.0, 380.0, 14)
    return float(np.interp(day_of_year, middles, (months[-1], *months, months[0])))


def clear_day(
    latitude_deg: float,
    longitude_deg: float,
    *,
    elevation_m: float,
    day_of_year: int,
    step_s: float = 300.0,
    turbidity: float | None = None,
) -> ClearDay:
    """Sun and clear sky over one day in zone standard time.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]
    longitude_deg : float
        East positive [°]
    elevation_m : float
        Height above the sea [m]
    day_of_year : int
        1 is 1 January [1]
    step_s : float, optional
        Time step; must divide a day [s]
    turbidity : float, optional
        Linke turbidity; default the monthly map inside pvlib [1]

    Returns
    -------
    day : ClearDay
        Arrays over time from 0 to 24 h, both included [W/m²]

    References
    ----------
    .. [1] P. Ineichen and R. Perez, Solar Energy 73 (2002) 151-157.

    Examples
    --------
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> bool(900 < day.horizontal_w_per_m2.max() < 1030)
    True
    """
    if not (-90 <= latitude_deg <= 90 and -180 <= longitude_deg <= 180):
        raise ValueError(
            "latitude_deg must lie in -90 to 90 and longitude_deg in -180 to 180, got "
            f"{latitude_deg} and {longitude_deg}"
        )
    steps = round(SECONDS_PER_DAY / step_s)
    if abs(steps * step_s - SECONDS_PER_DAY) > 1e-6:
        raise ValueError(f"step_s must divide a day, got {step_s}")
    pvlib = _pvlib()
    midnight = datetime.datetime(DESIGN_YEAR, 1, 1, tzinfo=datetime.UTC).timestamp()
    midnight += (day_of_year - 1) * SECONDS_PER_DAY
    seconds = np.arange(steps + 1) * step_s
    position = sun_position(
        midnight + seconds - 3600.0 * zone_offset(longitude_deg),
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
    )
    if turbidity is None:
        turbidity = _turbidity(latitude_deg, longitude_deg, day_of_year)
    beyond = float(pvlib.irradiance.get_extra_radiation(day_of_year))
    air_mass = pvlib.atmosphere.get_absolute_airmass(
        pvlib.atmosphere.get_relative_airmass(position.zenith_deg),
        pressure_at(elevation_m),
    )
    with np.errstate(divide="ignore", invalid="ignore"):  # the sun on the horizon
        sky = pvlib.clearsky.ineichen(
            position.zenith_deg, air_mass, turbidity,
            altitude=elevation_m, dni_extra=beyond,
        )  # fmt: skip
    return ClearDay(
        latitude_deg=latitude_deg,
        elevation_m=elevation_m,
        day_of_year=day_of_year,
        time_h=np.asarray(seconds / 3600.0, dtype=float),
        zenith_deg=position.zenith_deg,
        azimuth_deg=position.azimuth_deg,
        beam_w_per_m2=np.nan_to_num(sky["dni"]),
        diffuse_w_per_m2=np.nan_to_num(sky["dhi"]),
        horizontal_w_per_m2=np.nan_to_num(sky["ghi"]),
        beyond_air_w_per_m2=beyond,
    )


def plane_sun(
    day: ClearDay, *, tilt_deg: float, facing_deg: float, albedo: float = 0.2
) -> PlaneSun:
    """Sunlight on a plane under an open horizon, Hay and Davies.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    tilt_deg : float
        Tilt of the plane, 0 faces up, 90 is a wall, 180 faces down [°]
    facing_deg : float
        Direction the plane faces, from north, clockwise [°]
    albedo : float, optional
        Share of sunlight that the ground sends back; snow about 0.7 [1]

    Returns
    -------
    sun : PlaneSun
        Beam, sky and ground part over time [W/m²]

    References
    ----------
    .. [1] J. Hay and J. Davies, Proc. First Canadian Solar Radiation Data
       Workshop (1980) 59-72.

    Examples
    --------
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> wall = plane_sun(day, tilt_deg=90.0, facing_deg=270.0)
    >>> bool(730 < wall.total_w_per_m2.max() < 830)
    True
    """
    cosine = np.cos(
        np.radians(
            incidence(
                day.zenith_deg, day.azimuth_deg,
                tilt_deg=tilt_deg, facing_deg=facing_deg,
            )
        )
    )  # fmt: skip
    ahead = np.maximum(cosine, 0.0)
    height = np.cos(np.radians(day.zenith_deg))
    clear_share = day.beam_w_per_m2 / day.beyond_air_w_per_m2
    glow = ahead / np.maximum(height, LOWEST_COSINE_OF_ZENITH) * clear_share
    seen_sky = 0.5 * (1.0 + np.cos(np.radians(tilt_deg)))
    return PlaneSun(
        beam_w_per_m2=day.beam_w_per_m2 * ahead + day.diffuse_w_per_m2 * glow,
        sky_w_per_m2=day.diffuse_w_per_m2 * (1.0 - clear_share) * seen_sky,
        ground_w_per_m2=day.horizontal_w_per_m2 * albedo * (1.0 - seen_sky),
    )
