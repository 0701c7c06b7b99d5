"""The box of one house: hot day, bright winter day, cold night, and its rating.

A temperature from the model is good to ±5 K. A measured pair of box and outside
temperature, with its time and sky, replaces the model as far as it reaches.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavelight.climate.design_day import (
    GROUND_ALBEDO,
    SNOW_ALBEDO,
    Box,
    Choice,
    DayRun,
    Weather,
    air_over_day,
    hottest_day,
    run_day,
    winter_days,
)
from eavelight.climate.heat import outside_film, steady_box
from eavelight.climate.sky import sky_temperature
from eavelight.climate.sun import ClearDay, clear_day

Values = NDArray[np.float64]

MODEL_HALF_WIDTH_K = 5.0
"""Every modelled temperature is stated as this much either way."""
MODEL_U_K = 2.5
"""The same as a standard uncertainty: the half width taken as two of them [K]."""
DAILY_RANGE_K = 12.0
HOT_STEP_S = 300.0
COLD_WIND_M_PER_S = 3.0
BRIGHT_WINTER_AIR_C = -5.0
WINTER_STEP_S = 600.0
WINTER_DEW_BELOW_AIR_K = 5.0
RATING_REFERS_TO = ("outside air", "air in box", "case")
# A module's case above the air around it: film of the module and a typical surface.
CASE_FILM_W_PER_M2_K, CASE_AREA_M2 = 10.0, 0.05
SKIES = ("clear", "overcast", "night")
OVERCAST_SHARE = 0.25
SMALLEST_SCALED_RISE_K = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the house stands; snow on the ground brightens the winter day."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    snow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HotDay:
    """The hot design day of one box as planned."""

    air_c: float
    skin_c: float
    outside_c: float
    time_h: float
    day: ClearDay
    weather: Weather
    run: DayRun


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WinterDay:
    """The bright winter day with the widest swing, at steady outside air."""

    day_of_year: int
    outside_c: float
    high_c: float
    swing_k: float
    run: DayRun


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdNight:
    """The coldest clear night, with the electronics on and after a power cut."""

    outside_c: float
    air_c: float
    unpowered_air_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What a rating is held against, and the margin; negative is beyond the rating."""

    compared_c: float
    margin_k: float
    u_k: float
    refers_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPeak:
    """A design temperature that rests on a measurement, and how far it reaches."""

    air_c: float
    u_k: float
    scale: float
    coverage: float


def hot_day(
    place: Place,
    box: Box,
    *,
    mounted: Choice,
    high_c: float,
    range_k: float = DAILY_RANGE_K,
    dew_point_c: float = 12.0,
    wind_m_per_s: float = 1.0,
    step_s: float = HOT_STEP_S,
) -> HotDay:
    """Inside air and skin on the hottest clear day.

    Parameters
    ----------
    place : Place
        Coordinates and height [°]
    box : Box
        Size, electronics, shade and cover [m]
    mounted : Choice
        Wall and colour as planned [1]
    high_c : float
        Highest outside air [°C]
    range_k : float, optional
        Highest less lowest of the day [K]
    dew_point_c : float, optional
        Dew point of the outside air [°C]
    wind_m_per_s : float, optional
        Wind at the box; 0 in a sheltered corner [m/s]
    step_s : float, optional
        Time step; 900 is three times as fast and within 0.1 K [s]

    Returns
    -------
    hot : HotDay
        Peaks and the curves behind them; good to ±5 K [°C]

    Examples
    --------
    >>> place = Place(latitude_deg=33.43, longitude_deg=-112.02, elevation_m=337.0)
    >>> west = Choice(facing_deg=270.0, absorptance=0.5)
    >>> round(hot_day(place, Box(), mounted=west, high_c=43.4).air_c)
    64
    """
    day = clear_day(
        place.latitude_deg,
        place.longitude_deg,
        elevation_m=place.elevation_m,
        day_of_year=hottest_day(place.latitude_deg),
        step_s=step_s,
    )
    weather = Weather(
        outside_c=air_over_day(high_c, range_k, time_h=day.time_h),
        dew_point_c=dew_point_c,
        wind_m_per_s=wind_m_per_s,
    )
    run = run_day(day, weather, box, choices=[mounted])
    peak = run.peak(0)
    return HotDay(
        air_c=peak.air_c,
        skin_c=float(max(run.front_c.max(), run.others_c.max())),
        outside_c=high_c,
        time_h=peak.time_h,
        day=day,
        weather=weather,
        run=run,
    )


def bright_winter_day(
    place: Place,
    box: Box,
    *,
    mounted: Choice,
    outside_c: float = BRIGHT_WINTER_AIR_C,
) -> WinterDay:
    """How far a bright winter day swings the box: daily cycling, not heat.

    Parameters
    ----------
    place : Place
        Coordinates, height, and whether snow lies [°]
    box : Box
        Size, electronics, shade and cover [m]
    mounted : Choice
        Wall and colour as planned [1]
    outside_c : float, optional
        Outside air, steady [°C]

    Returns
    -------
    winter : WinterDay
        Highest inside air and swing over the day; good to ±5 K [°C]

    Examples
    --------
    >>> place = Place(
    ...     latitude_deg=64.93, longitude_deg=25.35, elevation_m=15.0, snow=True)
    >>> south = Choice(facing_deg=180.0, absorptance=0.5)
    >>> bright_winter_day(place, Box(), mounted=south).swing_k > 20.0
    True
    """
    tried = [
        _winter_day(place, box, mounted=mounted, outside_c=outside_c, day_of_year=date)
        for date in winter_days(place.latitude_deg)
    ]
    return max(tried, key=lambda item: item.swing_k)


def _winter_day(
    place: Place, box: Box, *, mounted: Choice, outside_c: float, day_of_year: int
) -> WinterDay:
    day = clear_day(
        place.latitude_deg,
        place.longitude_deg,
        elevation_m=place.elevation_m,
        day_of_year=day_of_year,
        step_s=WINTER_STEP_S,
    )
    air = np.full(day.time_h.shape, outside_c)
    run = run_day(
        day,
        Weather(outside_c=air, dew_point_c=outside_c - WINTER_DEW_BELOW_AIR_K),
        box,
        choices=[mounted],
        albedo=SNOW_ALBEDO if place.snow else GROUND_ALBEDO,
    )
    return WinterDay(
        day_of_year=day_of_year,
        outside_c=outside_c,
        high_c=run.peak(0).air_c,
        swing_k=float(np.ptp(run.air_c[:, 0])),
        run=run,
    )


def cold_night(
    low_c: float, box: Box, *, wind_m_per_s: float = COLD_WIND_M_PER_S
) -> ColdNight:
    """Inside air on the coldest clear night, with power and without.

    Parameters
    ----------
    low_c : float
        Lowest outside air [°C]
    box : Box
        Size and electronics [m]
    wind_m_per_s : float, optional
        Wind at the box [m/s]

    Returns
    -------
    cold : ColdNight
        Outside, inside with power, inside after a power cut [°C]

    Examples
    --------
    >>> cold_night(-40.0, Box(power_w=10.0)).air_c
    -27.5
    """
    sky = float(sky_temperature(low_c, low_c))

    def air(power_w: float) -> float:
        return steady_box(
            outside_c=low_c,
            sky_c=sky,
            absorbed_w=[0.0],
            power_w=power_w,
            area_m2=[box.front_m2 + box.others_m2],
            film=outside_film(wind_m_per_s),
            resistance_m2_k_per_w=box.resistance_m2_k_per_w,
            emissivity=box.emissivity,
        ).air_c

    return ColdNight(outside_c=low_c, air_c=air(box.power_w), unpowered_air_c=air(0.0))


def case_rise(
    power_w: float,
    *,
    area_m2: float = CASE_AREA_M2,
    film_w_per_m2_k: float = CASE_FILM_W_PER_M2_K,
) -> float:
    """How much warmer the case of a module is than the air in the box.

    Parameters
    ----------
    power_w : float
        Heat of the module [W]
    area_m2 : float, optional
        Surface of its case [m²]
    film_w_per_m2_k : float, optional
        Convection and radiation from the case [W/m²K]

    Returns
    -------
    rise_k : float
        Case above air [K]

    Examples
    --------
    >>> case_rise(6.0)
    12.0
    """
    return power_w / (film_w_per_m2_k * area_m2)


def held_against(
    rated_c: float,
    *,
    refers_to: str,
    outside_c: float,
    air_c: float,
    power_w: float,
    hot: bool,
    u_k: float = MODEL_U_K,
    outside_u_k: float = 0.0,
) -> Held:
    """Hold a rating against the temperature that it is about.

    An operating temperature can mean the outside air, the air in the box, or the case
    of the module: three different things, tens of kelvin apart.

    Parameters
    ----------
    rated_c : float
        Highest or lowest temperature of the rating [°C]
    refers_to : str
        "outside air", "air in box" or "case" [1]
    outside_c : float
        Outside air [°C]
    air_c : float
        Air in the box [°C]
    power_w : float
        Heat of the electronics, for the case [W]
    hot : bool
        Whether the rating is the upper one [1]
    u_k : float, optional
        Standard uncertainty of the model, or of what replaces it [K]
    outside_u_k : float, optional
        Standard uncertainty of the outside air; all there is for a rating about it [K]

    Returns
    -------
    held : Held
        Temperature compared and margin, positive inside the rating [K]

    Examples
    --------
    >>> held_against(60.0, refers_to="air in box", outside_c=43.0, air_c=64.0,
    ...     power_w=6.0, hot=True).margin_k
    -4.0
    """
    if refers_to not in RATING_REFERS_TO:
        raise ValueError(
            f"refers_to must be one of {RATING_REFERS_TO}, got {refers_to!r}"
        )
    compared, uncertainty = air_c, math.hypot(u_k, outside_u_k)
    if refers_to == "outside air":
        compared, uncertainty = outside_c, outside_u_k
    elif refers_to == "case":
        rise = case_rise(power_w)
        compared = air_c + rise
        uncertainty = math.hypot(uncertainty, 0.3 * rise)
    return Held(
        compared_c=compared,
        margin_k=rated_c - compared if hot else compared - rated_c,
        u_k=uncertainty,
        refers_to=refers_to,
    )


def rise_at(
    place: Place,
    box: Box,
    *,
    mounted: Choice,
    day_of_year: int,
    time_h: float,
    outside_c: float,
    sky: str,
    step_s: float = HOT_STEP_S,
) -> float:
    """What the model says for the moment of a measurement.

    Parameters
    ----------
    place : Place
        Coordinates, height, and whether snow lies [°]
    box : Box
        Size, electronics, shade and cover [m]
    mounted : Choice
        Wall and colour as found [1]
    day_of_year : int
        1 is 1 January [1]
    time_h : float
        Zone standard time [h]
    outside_c : float
        Outside air measured then [°C]
    sky : str
        "clear", "overcast" or "night" [1]
    step_s : float, optional
        Time step [s]

    Returns
    -------
    rise_k : float
        Inside air above outside air at that moment [K]

    Examples
    --------
    >>> place = Place(latitude_deg=33.43, longitude_deg=-112.02, elevation_m=337.0)
    >>> west = Choice(facing_deg=270.0, absorptance=0.5)
    >>> 19.0 < rise_at(place, Box(), mounted=west, day_of_year=202, time_h=15.5,
    ...     outside_c=43.0, sky="clear") < 22.0
    True
    """
    if sky not in SKIES:
        raise ValueError(f"sky must be one of {SKIES}, got {sky!r}")
    day = clear_day(
        place.latitude_deg,
        place.longitude_deg,
        elevation_m=place.elevation_m,
        day_of_year=day_of_year,
        step_s=step_s,
    )
    if sky != "clear":
        day = overcast(day)
    shape = air_over_day(0.0, DAILY_RANGE_K, time_h=day.time_h)
    outside = outside_c + shape - float(np.interp(time_h, day.time_h, shape))
    run = run_day(
        day,
        Weather(outside_c=outside, cloud_tenths=10.0 if sky == "overcast" else 0.0),
        box,
        choices=[mounted],
        albedo=SNOW_ALBEDO if place.snow else GROUND_ALBEDO,
    )
    return float(np.interp(time_h, day.time_h, run.air_c[:, 0] - outside))


def overcast(day: ClearDay) -> ClearDay:
    """The same day under a closed cover of clouds: a quarter of the light, no beam.

    Parameters
    ----------
    day : ClearDay
        Sun and clear sky [W/m²]

    Returns
    -------
    grey : ClearDay
        All light diffuse [W/m²]

    References
    ----------
    .. [1] F. Kasten and G. Czeplak, Solar Energy 24 (1980) 177-189.

    Examples
    --------
    >>> day = clear_day(52.4, 13.1, elevation_m=40.0, day_of_year=202)
    >>> float(overcast(day).beam_w_per_m2.max())
    0.0
    """
    grey = OVERCAST_SHARE * day.horizontal_w_per_m2
    return ClearDay(
        latitude_deg=day.latitude_deg,
        elevation_m=day.elevation_m,
        day_of_year=day.day_of_year,
        time_h=day.time_h,
        zenith_deg=day.zenith_deg,
        azimuth_deg=day.azimuth_deg,
        beam_w_per_m2=np.zeros_like(grey),
        diffuse_w_per_m2=grey,
        horizontal_w_per_m2=grey,
        beyond_air_w_per_m2=day.beyond_air_w_per_m2,
    )


def measured_peak(
    inside_c: float,
    outside_c: float,
    *,
    model_rise_then_k: float,
    model_rise_design_k: float,
    design_outside_c: float,
    u_measured_k: float = 1.4,
) -> MeasuredPeak:
    """Design temperature from a measured box instead of the model alone.

    The measured rise is carried over in proportion to what the model says for that
    moment and for the design day. The nearer the moment was to the design day, the
    more of the answer is measured; at night only the share of the electronics is.

    Parameters
    ----------
    inside_c : float
        Air in the box, measured [°C]
    outside_c : float
        Outside air at the same time, in the shade [°C]
    model_rise_then_k : float
        Modelled rise for that moment, from `rise_at` [K]
    model_rise_design_k : float
        Modelled rise at the peak of the design day [K]
    design_outside_c : float
        Outside air at that peak [°C]
    u_measured_k : float, optional
        Standard uncertainty of the measured difference [K]

    Returns
    -------
    measured : MeasuredPeak
        Design temperature with the uncertainty that remains [°C]

    Examples
    --------
    >>> measured_peak(60.0, 42.0, model_rise_then_k=20.0, model_rise_design_k=20.0,
    ...     design_outside_c=45.0).air_c
    63.0
    """
    rise = inside_c - outside_c
    if model_rise_then_k >= SMALLEST_SCALED_RISE_K:
        scale = max(0.0, rise / model_rise_then_k)
        design = scale * model_rise_design_k
        carried = u_measured_k * model_rise_design_k / model_rise_then_k
        reach = model_rise_then_k / max(model_rise_design_k, SMALLEST_SCALED_RISE_K)
    else:
        scale = 1.0
        design = model_rise_design_k + rise - model_rise_then_k
        carried, reach = u_measured_k, 0.0
    coverage = min(1.0, max(0.0, reach))
    # Beyond reach the model's own doubt stays, and a small measured rise tells little.
    u = math.hypot(min(carried, MODEL_U_K), MODEL_U_K * (1.0 - coverage))
    return MeasuredPeak(
        air_c=design_outside_c + design, u_k=u, scale=scale, coverage=coverage
    )


def measured_peak_any_sky(
    inside_c: float,
    outside_c: float,
    *,
    clear_rise_k: float,
    overcast_rise_k: float,
    model_rise_design_k: float,
    design_outside_c: float,
    u_measured_k: float = 1.4,
) -> MeasuredPeak:
    """Design temperature from a measured box when nobody stated the sky.

    A rise above that of a clear sky can only mean a warmer box; one below that of a
    closed cover of clouds only a cooler one. In between, clouds may explain it as well:
    the answer lies anywhere between that of a clear sky and that of the model.

    Parameters
    ----------
    inside_c : float
        Air in the box, measured [°C]
    outside_c : float
        Outside air at the same time, in the shade [°C]
    clear_rise_k : float
        Modelled rise for that moment under a clear sky, from `rise_at` [K]
    overcast_rise_k : float
        The same under a closed cover of clouds [K]
    model_rise_design_k : float
        Modelled rise at the peak of the design day [K]
    design_outside_c : float
        Outside air at that peak [°C]
    u_measured_k : float, optional
        Standard uncertainty of the measured difference [K]

    Returns
    -------
    measured : MeasuredPeak
        Design temperature, its uncertainty wide enough for both skies [°C]

    Examples
    --------
    >>> cool = measured_peak_any_sky(52.0, 42.0, clear_rise_k=20.0, overcast_rise_k=7.0,
    ...     model_rise_design_k=20.0, design_outside_c=45.0)
    >>> cool.air_c, cool.u_k
    (60.0, 3.8)
    """

    def under(then_k: float) -> MeasuredPeak:
        return measured_peak(
            inside_c,
            outside_c,
            model_rise_then_k=then_k,
            model_rise_design_k=model_rise_design_k,
            design_outside_c=design_outside_c,
            u_measured_k=u_measured_k,
        )

    rise = inside_c - outside_c
    darkest, brightest = sorted((overcast_rise_k, clear_rise_k))
    lower = under(brightest)
    if rise >= brightest:
        return lower
    upper = under(darkest)
    if rise > darkest:
        upper = MeasuredPeak(
            air_c=design_outside_c + model_rise_design_k,
            u_k=MODEL_U_K,
            scale=1.0,
            coverage=0.0,
        )
    apart = upper.air_c - lower.air_c
    return MeasuredPeak(
        air_c=lower.air_c + apart / 2.0,
        u_k=math.hypot(upper.u_k, apart / math.sqrt(12.0)),
        scale=(lower.scale + upper.scale) / 2.0,
        coverage=min(lower.coverage, upper.coverage),
    )
