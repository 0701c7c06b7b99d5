"""A design day of a box on a wall: air, sky and sun over time, many choices at once."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.climate.heat import (
    PLASTIC_RESISTANCE_M2_K_PER_W,
    Shells,
    Surroundings,
    balance_over_time,
    outside_film,
)
from eavelight.climate.humidity import pressure_at
from eavelight.climate.practice import OPEN, Hood, Shade
from eavelight.climate.sky import sky_temperature, sol_air_temperature
from eavelight.climate.sun import ClearDay, PlaneSun, plane_sun

Values = NDArray[np.float64]

# Part of the daily range below the maximum, hours 1 to 24 of the ASHRAE design day.
RANGE_BELOW_HIGH = (
    0.88, 0.92, 0.95, 0.98, 1.0, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13,
    0.05, 0.0, 0.0, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82,
)  # fmt: skip
HOTTEST_DAY_NORTH, HOTTEST_DAY_SOUTH = 202, 21
# 21 January, 16 February, 16 March, and half a year later in the south.
WINTER_DAYS_NORTH = (21, 47, 75)
HALF_YEAR_DAYS = 184
SNOW_ALBEDO, GROUND_ALBEDO = 0.7, 0.2
WALLS_DEG = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A closed plastic box, with what stands between it and the sun."""

    width_m: float = 0.25
    height_m: float = 0.30
    depth_m: float = 0.10
    power_w: float = 8.0
    emissivity: float = 0.9
    resistance_m2_k_per_w: float = PLASTIC_RESISTANCE_M2_K_PER_W
    back_w_per_m2_k: float = 0.0
    behind_absorptance: float = 0.7
    shade: Shade = OPEN
    hood: Hood | None = None

    def __post_init__(self) -> None:
        sizes = (self.width_m, self.height_m, self.depth_m)
        if not all(math.isfinite(size) and size > 0 for size in sizes):
            raise ValueError(
                f"width_m, height_m and depth_m must be positive, got {sizes}"
            )
        if not (math.isfinite(self.power_w) and self.power_w >= 0):
            raise ValueError(f"power_w must not be negative, got {self.power_w}")

    @property
    def front_m2(self) -> float:
        return self.width_m * self.height_m

    @property
    def side_m2(self) -> float:
        return self.depth_m * self.height_m

    @property
    def top_m2(self) -> float:
        return self.width_m * self.depth_m

    @property
    def others_m2(self) -> float:
        return 2.0 * (self.side_m2 + self.top_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """Air over a day, in zone standard time, and wind at the box."""

    outside_c: Values
    dew_point_c: float = 12.0
    wind_m_per_s: float = 1.0
    cloud_tenths: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One way to mount the box: the wall, and what its colour takes in."""

    facing_deg: float
    absorptance: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Peak:
    """The hottest moment of one choice."""

    air_c: float
    time_h: float
    rise_k: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayRun:
    """Temperatures over a day, time first, choices second."""

    time_h: Values
    outside_c: Values
    air_c: Values
    front_c: Values
    others_c: Values
    front_sun_w_per_m2: Values

    def peak(self, choice: int) -> Peak:
        at = int(np.argmax(self.air_c[:, choice]))
        air = float(self.air_c[at, choice])
        return Peak(
            air_c=air,
            time_h=float(self.time_h[at]),
            rise_k=air - float(self.outside_c[at]),
        )


def air_over_day(high_c: float, range_k: float, *, time_h: ArrayLike) -> Values:
    """Outside air of the design day: highest near 15 h, lowest near 5 h.

    Parameters
    ----------
    high_c : float
        Highest temperature of the day [°C]
    range_k : float
        Highest less lowest [K]
    time_h : array_like
        Zone standard time [h]

    Returns
    -------
    outside_c : ndarray
        Air temperature [°C]

    References
    ----------
    .. [1] ASHRAE Handbook Fundamentals, design day temperature profile.

    Examples
    --------
    >>> air_over_day(40.0, 10.0, time_h=[5.0, 15.0]).tolist()
    [30.0, 40.0]
    """
    below = np.interp(
        np.asarray(time_h, dtype=float) % 24.0,
        np.arange(25.0),
        (RANGE_BELOW_HIGH[-1], *RANGE_BELOW_HIGH),
    )
    return np.asarray(high_c - range_k * below)


def hottest_day(latitude_deg: float) -> int:
    """Day of the hot design run, a month after midsummer.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]

    Returns
    -------
    day_of_year : int
        21 July or 21 January [1]

    Examples
    --------
    >>> hottest_day(33.4)
    202
    """
    return HOTTEST_DAY_NORTH if latitude_deg >= 0 else HOTTEST_DAY_SOUTH


def winter_days(latitude_deg: float) -> Sequence[int]:
    """Days tried for the bright winter run, from deep winter to bright snow.

    Parameters
    ----------
    latitude_deg : float
        North positive [°]

    Returns
    -------
    days_of_year : tuple of int
        Days of the year [1]

    Examples
    --------
    >>> winter_days(64.9)
    (21, 47, 75)
    """
    if latitude_deg >= 0:
        return WINTER_DAYS_NORTH
    return tuple(day + HALF_YEAR_DAYS for day in WINTER_DAYS_NORTH)


def hood_shading(
    day: ClearDay, *, facing_deg: float, reach_m: float, height_m: float
) -> tuple[Values, float]:
    """What a cover over the box keeps from a vertical face.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    facing_deg : float
        Direction the face looks, from north, clockwise [°]
    reach_m : float
        How far the cover reaches out from the face [m]
    height_m : float
        Height of the face [m]

    Returns
    -------
    shaded : tuple of ndarray and float
        Shaded part of the face over time, and the part of its sky that is hidden [1]

    Examples
    --------
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> hood_shading(day, facing_deg=270.0, reach_m=0.0, height_m=0.3)[1]
    0.0
    """
    elevation = np.radians(90.0 - day.zenith_deg)
    ahead = np.cos(np.radians(day.azimuth_deg - facing_deg))
    profile = np.tan(np.maximum(elevation, 0.0)) / np.maximum(ahead, 1e-3)
    shaded = np.clip(reach_m * profile / height_m, 0.0, 1.0)
    ratio = reach_m / height_m
    # Two planes that share an edge at right angles; the face sees half a sky.
    hidden = 1.0 + ratio - math.hypot(1.0, ratio)
    return shaded, min(1.0, hidden)


def box_sun(
    day: ClearDay, box: Box, *, facing_deg: float, albedo: float
) -> tuple[Values, Values]:
    """Sunlight on the front and mean sunlight on the other exposed faces.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    box : Box
        Size, shade and cover [m]
    facing_deg : float
        Outward normal of the wall, from north, clockwise [°]
    albedo : float
        Share of sunlight that the ground sends back [1]

    Returns
    -------
    sun : tuple of ndarray
        Front, and area mean of top, bottom and both sides, over time [W/m²]

    Examples
    --------
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> shady = Box(shade=Shade(beam_passes=0.0, sky_passes=0.5))
    >>> front, others = box_sun(day, shady, facing_deg=270.0, albedo=0.2)
    >>> bool(front.max() < 150.0)
    True
    """
    beam_passes, sky_passes = box.shade.beam_passes, box.shade.sky_passes
    reach_m = 0.0 if box.hood is None else box.hood.reach_m

    def face(normal_deg: float) -> Values:
        sun = plane_sun(day, tilt_deg=90.0, facing_deg=normal_deg, albedo=albedo)
        shaded, hidden = hood_shading(
            day, facing_deg=normal_deg, reach_m=reach_m, height_m=box.height_m
        )
        return mixed(sun, beam_passes * (1.0 - shaded), sky_passes * (1.0 - hidden))

    def mixed(sun: PlaneSun, beam: float | Values, sky: float) -> Values:
        through = sun.beam_w_per_m2 * beam + sun.sky_w_per_m2 * sky
        return np.asarray(through + sun.ground_w_per_m2 * sky_passes)

    top = mixed(
        plane_sun(day, tilt_deg=0.0, facing_deg=facing_deg, albedo=albedo),
        beam_passes,
        sky_passes,
    )
    if box.hood is not None:
        top = top * box.hood.passes
    bottom = albedo * day.horizontal_w_per_m2 * sky_passes
    sides = face(facing_deg - 90.0) + face(facing_deg + 90.0)
    others = box.top_m2 * (top + bottom) + box.side_m2 * sides
    return face(facing_deg), others / box.others_m2


def run_day(
    day: ClearDay,
    weather: Weather,
    box: Box,
    *,
    choices: Sequence[Choice],
    albedo: float = GROUND_ALBEDO,
    density_ratio: float | None = None,
) -> DayRun:
    """A whole day of the box for several walls and colours.

    Inside air is that of one shell at one temperature; front and other faces are those
    of two shells, because plastic does not carry the heat of the sunlit face sideways.

    Parameters
    ----------
    day : ClearDay
        Sun and sky of the day [W/m²]
    weather : Weather
        Outside air at the times of `day`, dew point and wind [°C]
    box : Box
        Size, electronics, shade and cover [m]
    choices : sequence of Choice
        Walls and colours to run side by side [1]
    albedo : float, optional
        Share of sunlight that the ground sends back [1]
    density_ratio : float, optional
        Density of the air over that at sea level; default from the height [1]

    Returns
    -------
    run : DayRun
        Temperatures over time, one column per choice [°C]

    Examples
    --------
    >>> from eavelight.climate.sun import clear_day
    >>> day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202)
    >>> air = air_over_day(43.4, 12.0, time_h=day.time_h)
    >>> west = [Choice(facing_deg=270.0, absorptance=0.5)]
    >>> run = run_day(day, Weather(outside_c=air), Box(), choices=west)
    >>> bool(63.0 < run.peak(0).air_c < 64.5)
    True
    """
    if density_ratio is None:
        density_ratio = pressure_at(day.elevation_m) / pressure_at(0.0)
    film = outside_film(weather.wind_m_per_s, density_ratio=density_ratio)
    suns = {
        facing: box_sun(day, box, facing_deg=facing, albedo=albedo)
        for facing in {choice.facing_deg for choice in choices}
    }
    alpha = np.array([choice.absorptance for choice in choices])
    front = np.stack([suns[choice.facing_deg][0] for choice in choices], axis=-1)
    others = np.stack([suns[choice.facing_deg][1] for choice in choices], axis=-1)
    absorbed = alpha[:, None] * np.stack(
        [front * box.front_m2, others * box.others_m2], axis=-1
    )
    behind = sol_air_temperature(
        weather.outside_c[:, None], front, absorptance=box.behind_absorptance
    )
    scene = _Scene(day=day, weather=weather, box=box, film=film, behind_c=behind)
    both = absorbed.sum(axis=-1, keepdims=True)
    one = _over_day(scene, both, np.array([box.front_m2 + box.others_m2]))
    two = _over_day(scene, absorbed, np.array([box.front_m2, box.others_m2]))
    return DayRun(
        time_h=day.time_h,
        outside_c=weather.outside_c,
        air_c=one[..., -1],
        front_c=two[..., 0],
        others_c=two[..., 1],
        front_sun_w_per_m2=front,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scene:
    day: ClearDay
    weather: Weather
    box: Box
    film: tuple[float, float]
    behind_c: Values


def _over_day(scene: _Scene, absorbed_w: Values, area_m2: Values) -> Values:
    box, weather = scene.box, scene.weather
    back = np.zeros(area_m2.size)
    back[-1] = box.back_w_per_m2_k * box.front_m2
    sky = sky_temperature(
        weather.outside_c, weather.dew_point_c, cloud_tenths=weather.cloud_tenths
    )
    shells = Shells(
        area_m2=area_m2,
        emissivity=box.emissivity,
        resistance_m2_k_per_w=box.resistance_m2_k_per_w,
        back_w_per_k=back,
    )
    moments = [
        Surroundings(
            outside_c=air,
            sky_c=cold,
            absorbed_w=sun,
            power_w=box.power_w,
            film=scene.film,
            behind_c=wall,
        )
        for air, cold, sun, wall in zip(
            weather.outside_c, sky, absorbed_w, scene.behind_c, strict=True
        )
    ]
    step_s = 3600.0 * float(scene.day.time_h[1] - scene.day.time_h[0])
    return balance_over_time(shells, moments, step_s=step_s)
