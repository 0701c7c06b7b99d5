"""Wall, box and place as the climate room takes them, from the plan.

Everything about the box starts here, for a verdict as for a plan: one way to find the
outside air, one hot day, one cold night. Only the hot day needs the sun.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from eavelight.climate.design_day import Box, Choice
from eavelight.climate.entry import Entry, entry_slack, sheath_movement
from eavelight.climate.extremes import (
    Extremes,
    best_extremes,
    grid_extremes,
    nearest_cell,
    night_humidity,
)
from eavelight.climate.house import House, Night, Rating, study_house
from eavelight.climate.housing import (
    ColdNight,
    HotDay,
    MeasuredPeak,
    Place,
    cold_night,
    hot_day,
    measured_peak_any_sky,
    rise_at,
)
from eavelight.climate.mounting import Change, changes
from eavelight.climate.paint import solar_absorptance
from eavelight.climate.sun import ground_height, ground_height_around, zone_offset
from eavelight.errors import MissingFeatureError
from eavelight.model.plan import Entry as PlannedEntry
from eavelight.model.plan import Housing, Plan, Site
from eavelight.standards.climate import (
    OutsideAir,
    climate_numbers,
    climate_practice,
    outside_air,
)
from eavelight.standards.profiles import Profile

VERDICT_STEP_S = 900.0
"""Time step of a hot day for a verdict: within 0.1 K of finer ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirEnd:
    """Hottest or coldest outside air: the value, how sure, and who says so."""

    value_c: float
    u_k: float
    rung: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteAir:
    """Both ends of the outside air; each may come from another source."""

    low: AirEnd
    high: AirEnd

    @property
    def extremes(self) -> Extremes:
        """The two ends as one pair, as little sure as the weaker of them."""
        low, high = self.low, self.high
        same = low.source == high.source
        return Extremes(
            low_c=low.value_c,
            high_c=high.value_c,
            rung=high.rung,
            source=high.source if same else f"{high.source}; low: {low.source}",
            u_k=max(low.u_k, high.u_k),
        )


def site_air(site: Site, profile: Profile, *, heights: bool = True) -> SiteAir:
    """Outside air at the site, each end from the best source there is.

    `heights` corrects the grid for the height of the house, where a map of heights is
    there.
    """
    grid = None
    if site.latitude is not None and site.longitude is not None:
        height = site.elevation_m if heights else None
        grid = _grid(site.latitude, site.longitude, height)
    base = best_extremes(
        {"grid": grid, "class": _class(outside_air(profile, "class"), "class_u_k")},
        last_resort=_last_resort(profile),
    )
    stated = _stated(site)
    low = stated.get("low") or _end(base, base.low_c)
    high = stated.get("high") or _end(base, base.high_c)
    if low.value_c >= high.value_c:
        low, high = sorted((low, high), key=lambda end: end.value_c)
    return SiteAir(low=low, high=high)


def _end(base: Extremes, value_c: float) -> AirEnd:
    return AirEnd(value_c=value_c, u_k=base.u_k, rung=base.rung, source=base.source)


def _stated(site: Site) -> dict[str, AirEnd]:
    source = site.extremes_source or "stated in the work order"
    u_k = climate_numbers()["stated.u_k"]
    return {
        name: AirEnd(value_c=value, u_k=u_k, rung="stated", source=source)
        for name, value in (("low", site.low_c), ("high", site.high_c))
        if value is not None
    }


def _class(air: OutsideAir | None, doubt: str) -> Extremes | None:
    if air is None:
        return None
    return Extremes(
        low_c=air.low.value,
        high_c=air.high.value,
        rung="class",
        source=air.source,
        u_k=climate_numbers()[f"last_resort.{doubt}"],
    )


def _last_resort(profile: Profile) -> Extremes:
    found = _class(outside_air(profile, "last_resort"), "u_k")
    if found is None:
        raise ValueError(
            f"limits: the profile {profile.id!r} lacks housing.last_resort.low and high"
        )
    return found


@lru_cache(maxsize=256)
def _grid(
    latitude: float, longitude: float, elevation_m: float | None
) -> Extremes | None:
    cell_elevation_m = None
    if elevation_m is not None:
        cell = nearest_cell(latitude, longitude)
        try:
            cell_elevation_m = ground_height_around(
                cell.latitude_deg, cell.longitude_deg
            )
        except MissingFeatureError:
            cell_elevation_m = None
    return grid_extremes(
        latitude,
        longitude,
        margins=climate_practice().grid,
        elevation_m=elevation_m,
        cell_elevation_m=cell_elevation_m,
    )


def place_of(site: Site) -> Place | None:
    """Where the house stands; its height from a map where the plan does not say."""
    if site.latitude is None or site.longitude is None:
        return None
    height = site.elevation_m
    if height is None:
        height = ground_height(site.latitude, site.longitude)
    return Place(
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=max(height, 0.0),
        snow=bool(site.snow),
    )


def box_of(housing: Housing) -> Box:
    """The box, with what stands between it and the sun."""
    return Box(
        width_m=housing.width_mm / 1000.0,
        height_m=housing.height_mm / 1000.0,
        depth_m=housing.depth_mm / 1000.0,
        power_w=housing.internal_w,
        shade=climate_practice().shades[housing.shade],
    )


def mounted_as(housing: Housing) -> Choice:
    """Wall and colour as planned."""
    return Choice(
        facing_deg=housing.facing_deg % 360.0,
        absorptance=solar_absorptance(housing.colour),
    )


def rating_of(housing: Housing) -> Rating | None:
    """The rating, where both ends and what it is about are known."""
    low, high = housing.rated_low_c, housing.rated_high_c
    if low is None or high is None or housing.rating_refers_to is None:
        return None
    return Rating(low_c=low, high_c=high, refers_to=housing.rating_refers_to)


def night_of(site: Site) -> Night | None:
    """An ordinary clear night of the grid's means; None where no cell is near."""
    if site.latitude is None or site.longitude is None:
        return None
    practice = climate_practice()
    cell = nearest_cell(site.latitude, site.longitude)
    if cell.distance_km > practice.grid.farthest_km:
        return None
    humidity = night_humidity(
        cell, night=practice.night, elevation_m=max(site.elevation_m or 0.0, 0.0)
    )
    return Night(
        air_c=cell.mean_c - practice.night.below_mean_k,
        relative_humidity=min(1.0, humidity),
    )


def hot_day_of(site: Site, housing: Housing, *, high_c: float) -> HotDay | None:
    """The hot design day of the box as planned; None without coordinates."""
    place = place_of(site)
    if place is None:
        return None
    return _hot_day(place, box_of(housing), mounted_as(housing), high_c)


@lru_cache(maxsize=256)
def _hot_day(place: Place, box: Box, mounted: Choice, high_c: float) -> HotDay:
    return hot_day(place, box, mounted=mounted, high_c=high_c, step_s=VERDICT_STEP_S)


def cold_night_of(housing: Housing, *, low_c: float) -> ColdNight:
    """The coldest clear night, with power and after a power cut."""
    return cold_night(low_c, box_of(housing))


def changes_of(site: Site, housing: Housing, *, high_c: float) -> tuple[Change, ...]:
    """What would cool the box on its hot day, what leaves it in place first."""
    place = place_of(site)
    if place is None:
        return ()
    return _changes(place, box_of(housing), mounted_as(housing), high_c)


@lru_cache(maxsize=256)
def _changes(
    place: Place, box: Box, mounted: Choice, high_c: float
) -> tuple[Change, ...]:
    hot = _hot_day(place, box, mounted, high_c)
    tried = climate_practice().mounting
    return changes(hot.day, hot.weather, box, mounted=mounted, tried=tried)


def peak_from_reading(
    site: Site,
    housing: Housing,
    hot: HotDay,
    *,
    inside_c: float,
    outside_c: float,
    time: datetime,
    u_k: float,
) -> MeasuredPeak | None:
    """The hot day carried over from a measured box, its sky unknown."""
    place = place_of(site)
    if place is None:
        return None
    day, hour = zone_time(time, place.longitude_deg)

    def rise(sky: str) -> float:
        return rise_at(
            place,
            box_of(housing),
            mounted=mounted_as(housing),
            day_of_year=day,
            time_h=hour,
            outside_c=outside_c,
            sky=sky,
            step_s=VERDICT_STEP_S,
        )

    return measured_peak_any_sky(
        inside_c,
        outside_c,
        clear_rise_k=rise("clear"),
        overcast_rise_k=rise("overcast"),
        model_rise_design_k=hot.air_c - hot.outside_c,
        design_outside_c=hot.outside_c,
        u_measured_k=u_k,
    )


def zone_time(time: datetime, longitude_deg: float) -> tuple[int, float]:
    """Day of the year and hour in the natural time zone of a place, no summer time.

    >>> zone_time(datetime(2026, 7, 21, 22, 30, tzinfo=UTC), -112.0)
    (202, 15.5)
    """
    local = time.astimezone(UTC) + timedelta(hours=zone_offset(longitude_deg))
    hour = local.hour + local.minute / 60.0 + local.second / 3600.0
    return min(local.timetuple().tm_yday, 365), hour


def study_of(plan: Plan, profile: Profile) -> House | None:
    """Everything about the box at once; None without a box or without coordinates."""
    housing = plan.housing
    if housing is None:
        return None
    place = place_of(plan.site)
    if place is None:
        return None
    return study_house(
        place,
        box_of(housing),
        mounted=mounted_as(housing),
        extremes=site_air(plan.site, profile).extremes,
        tried=climate_practice().mounting,
        rating=rating_of(housing),
        night=night_of(plan.site),
    )


def entry_of(entry: PlannedEntry) -> Entry:
    """A planned entry; a grommet without a stated end has none."""
    thickness = entry.outside_diameter_mm
    largest = entry.grommet_max_mm
    return Entry(
        outside_diameter_mm=thickness,
        grommet_min_mm=entry.grommet_min_mm or 0.0,
        grommet_max_mm=thickness if largest is None else largest,
        side=entry.from_,
        loop_width_mm=entry.loop_width_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slack:
    """Movement of the drop over the local extremes, and the cable to leave."""

    length_m: float
    low_c: float
    high_c: float
    clamped_mm: float
    sheath_mm: float
    slack_m: float


def slack_of(plan: Plan, profile: Profile) -> Slack | None:
    """What to leave at the entry for the longest cable of the drop."""
    lengths = [part.length_m for part in plan.plant.drop if part.length_m]
    if not lengths:
        return None
    air = site_air(plan.site, profile, heights=plan.housing is not None)
    numbers = climate_numbers()

    def moved(name: str) -> float:
        return sheath_movement(
            max(lengths),
            low_c=air.low.value_c,
            high_c=air.high.value_c,
            expansion_per_k=numbers[f"entry.{name}"],
        )

    clamped = moved("strength_member_per_k")
    return Slack(
        length_m=max(lengths),
        low_c=air.low.value_c,
        high_c=air.high.value_c,
        clamped_mm=clamped,
        sheath_mm=moved("sheath_per_k"),
        slack_m=entry_slack(clamped),
    )
