"""Everything about the box of one house at once, and what to do first, as ids."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from eavelight.climate.design_day import GROUND_ALBEDO, Box, Choice, DayRun
from eavelight.climate.dew import DewRisk, dew_risk
from eavelight.climate.extremes import Extremes
from eavelight.climate.housing import (
    MODEL_U_K,
    ColdNight,
    Held,
    HotDay,
    Place,
    WinterDay,
    bright_winter_day,
    cold_night,
    held_against,
    hot_day,
)
from eavelight.climate.mounting import Change, Mount, changes, compare_walls
from eavelight.climate.practice import Mounting

GUARD = 1.645


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """Lowest and highest temperature of the equipment, and what they are about."""

    low_c: float
    high_c: float
    refers_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """An ordinary clear night of the damp season."""

    air_c: float
    relative_humidity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What was seen at the box; None when nobody looked.

    `sealed`: entries, seals and gasket good; `vented`: drain or vent at the lowest
    point.
    """

    sealed: bool | None = None
    vented: bool | None = None


UNSEEN = Cover()


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to do or to know, by id, with the numbers that call for it."""

    advice: str
    about: str
    numbers: Mapping[str, float | str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class House:
    """The box of one house; every temperature is a clear-sky estimate, ±5 K."""

    hot: HotDay
    winter: WinterDay
    cold: ColdNight
    dew: DewRisk | None
    hot_held: Held | None
    cold_held: Held | None
    walls: tuple[Mount, ...]
    walls_run: DayRun
    changes: tuple[Change, ...]
    advice: tuple[Advice, ...]


def study_house(
    place: Place,
    box: Box,
    *,
    mounted: Choice,
    extremes: Extremes,
    tried: Mounting,
    rating: Rating | None = None,
    night: Night | None = None,
    cover: Cover = UNSEEN,
) -> House:
    """Hot day, bright winter day, cold night, dew, walls and advice for one house.

    Parameters
    ----------
    place : Place
        Coordinates, height, and whether snow lies [°]
    box : Box
        Size, electronics, shade and cover [m]
    mounted : Choice
        Wall and colour as planned [1]
    extremes : Extremes
        Outside air, hottest and coldest [°C]
    tried : Mounting
        Cover and shade to try, and what is worth telling [K]
    rating : Rating, optional
        Of the equipment [°C]
    night : Night, optional
        For dew; without it nothing is said about dew [°C]
    cover : Cover, optional
        Entries, seals and vents as somebody saw them [1]

    Returns
    -------
    house : House
        All of it; advice is ordered, heat before cycling before dew [°C]

    Examples
    --------
    >>> from eavelight.climate.extremes import stated_extremes
    >>> from eavelight.climate.practice import Hood, Shade
    >>> tried = Mounting(
    ...     hood=Hood(reach_m=0.15, passes=0.1),
    ...     full_shade=Shade(beam_passes=0.0, sky_passes=0.5), worth_doing_k=1.0,
    ...     cycling_k=20.0, hot_without_rating_c=60.0)
    >>> house = study_house(
    ...     Place(latitude_deg=33.43, longitude_deg=-112.02, elevation_m=337.0),
    ...     Box(), mounted=Choice(facing_deg=270.0, absorptance=0.5), tried=tried,
    ...     extremes=stated_extremes(-3.0, 47.0, source="operator"))
    >>> [item.advice for item in house.advice][:2]
    ['shade the top', 'paint light']
    """
    hot = hot_day(place, box, mounted=mounted, high_c=extremes.high_c)
    winter = bright_winter_day(place, box, mounted=mounted)
    cold = cold_night(extremes.low_c, box)
    dew = None
    if night is not None:
        dew = dew_risk(
            night.air_c,
            night.relative_humidity,
            power_w=box.power_w,
            sealed=cover.sealed,
            vented=cover.vented,
        )
    hot_held, cold_held = _held(rating, box, extremes, hot=hot, cold=cold)
    walls, run = compare_walls(hot.day, hot.weather, box)
    found = changes(
        hot.day, hot.weather, box, mounted=mounted, tried=tried, albedo=GROUND_ALBEDO
    )
    return House(
        hot=hot,
        winter=winter,
        cold=cold,
        dew=dew,
        hot_held=hot_held,
        cold_held=cold_held,
        walls=walls,
        walls_run=run,
        changes=found,
        advice=(
            *_heat_advice(hot, hot_held, found, without_c=tried.hot_without_rating_c),
            *_cold_advice(cold_held),
            *_cycling_advice(place, winter, from_k=tried.cycling_k),
            *_dew_advice(dew),
        ),
    )


def _held(
    rating: Rating | None,
    box: Box,
    extremes: Extremes,
    *,
    hot: HotDay,
    cold: ColdNight,
) -> tuple[Held | None, Held | None]:
    if rating is None:
        return None, None
    upper = held_against(
        rating.high_c,
        refers_to=rating.refers_to,
        outside_c=hot.outside_c,
        air_c=hot.air_c,
        power_w=box.power_w,
        hot=True,
        outside_u_k=extremes.u_k,
    )
    # After a power cut the equipment starts cold: no help from its own heat.
    lower = held_against(
        rating.low_c,
        refers_to=rating.refers_to,
        outside_c=cold.outside_c,
        air_c=cold.unpowered_air_c,
        power_w=0.0,
        hot=False,
        outside_u_k=extremes.u_k,
    )
    return upper, lower


def _advice(advice: str, about: str, **numbers: float | str) -> Advice:
    return Advice(advice=advice, about=about, numbers=MappingProxyType(numbers))


def _heat_advice(
    hot: HotDay, held: Held | None, found: tuple[Change, ...], *, without_c: float
) -> list[Advice]:
    if held is None:
        spare = without_c - hot.air_c
        guard = GUARD * MODEL_U_K
    else:
        spare, guard = held.margin_k, GUARD * held.u_k
    if spare >= guard:
        return []
    return [
        _advice(
            item.change,
            "heat",
            gain_k=item.gain_k,
            air_c=item.air_c,
            margin_k=spare + item.gain_k,
            **item.details,
        )
        for item in found
    ]


def _cold_advice(held: Held | None) -> list[Advice]:
    if held is None or held.margin_k >= GUARD * held.u_k:
        return []
    return [_advice("cold start after a power cut", "cold", margin_k=held.margin_k)]


def _cycling_advice(place: Place, winter: WinterDay, *, from_k: float) -> list[Advice]:
    if not place.snow or winter.swing_k < from_k:
        return []
    return [
        _advice(
            "daily cycling",
            "winter",
            swing_k=winter.swing_k,
            high_c=winter.high_c,
            outside_c=winter.outside_c,
        )
    ]


def _dew_advice(dew: DewRisk | None) -> list[Advice]:
    if dew is None:
        return []
    return [
        _advice(
            item,
            "dew",
            lid_above_dew_k=dew.lid_above_dew_k,
            unpowered_above_dew_k=dew.unpowered_above_dew_k,
            wet_from_humidity=dew.unpowered.wet_from_humidity,
        )
        for item in dew.measures
    ]
