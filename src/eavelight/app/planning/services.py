"""Other light on the fibre: what a meter reads, the loss that suits all, hazard."""

from dataclasses import dataclass, replace

from eavelight.app.names import VIDEO
from eavelight.app.planning.levels import ByWavelength, LightPlan, level_spans
from eavelight.app.planning.numbers import Span
from eavelight.assess.expectation import Expectation
from eavelight.assess.light_hazard import hazard_limits
from eavelight.light.coexistence import (
    broadband_reading_dbm,
    isolation_needed_db,
    loss_window_db,
    shared_loss_window_db,
)
from eavelight.light.laser_hazard import Hazard, hazard_level
from eavelight.light.levels import Launch, expected_levels, known_launch, window_launch
from eavelight.model.plan import Plan, Service
from eavelight.standards.pon_classes import pon_class
from eavelight.standards.profiles import Profile

ENDS = ("hub", "port", "terminal")
# a filtered meter is good enough when the other light adds no more than this
LEAK_DB = 0.1
Window = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceLight:
    """One light toward the house, with its level after every part."""

    name: str
    wavelength_nm: int
    launch: Launch
    levels: dict[str, Span]
    loss_db: float
    window_db: Window | None
    receive_dbm: tuple[float | None, float | None]
    isolation_db: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coexistence:
    """All services together; `shared_db` None where no window is known."""

    services: tuple[ServiceLight, ...]
    broadband_dbm: dict[str, float]
    shared_db: Window | None

    @property
    def suits_all(self) -> bool | None:
        """Whether the expected loss suits every service, None without windows."""
        if self.shared_db is None:
            return None
        low, high = self.shared_db
        return all(low <= item.loss_db <= high for item in self.services)


def service_wavelengths(plan: Plan, profile: Profile) -> tuple[int, ...]:
    """Wavelengths of the other services."""
    return tuple(_wavelength(item, profile) for item in plan.plant.service)


def _wavelength(service: Service, profile: Profile) -> int:
    if service.pon_class == VIDEO:
        return round(profile.number("overlay.wavelength"))
    return round(pon_class(service.pon_class).down.wavelength_nm)


def plan_services(plan: Plan, profile: Profile, light: LightPlan) -> Coexistence | None:
    """Coexistence, None where the plan names no other service."""
    if not plan.plant.service or light.launch is None:
        return None
    own = _light(
        light,
        light.window.name,
        nm=light.down_nm,
        launch=light.launch,
        window=(
            light.window.odn_min_db,
            min(light.window.odn_max_db, light.up_window.odn_max_db),
        ),
        receive=(light.window.floor_dbm, light.window.ceiling_dbm),
    )
    others = [_other(plan, profile, item, light) for item in plan.plant.service]
    lights = [own, *(item for item in others if item is not None)]
    windows = [item.window_db for item in lights if item.window_db is not None]
    return Coexistence(
        services=tuple(_with_isolation(item, lights) for item in lights),
        broadband_dbm={
            place: broadband_reading_dbm([item.levels[place].value for item in lights])
            for place in ENDS
        },
        shared_db=shared_loss_window_db(windows) if windows else None,
    )


def _other(
    plan: Plan, profile: Profile, service: Service, light: LightPlan
) -> ServiceLight | None:
    nm = _wavelength(service, profile)
    if service.pon_class == VIDEO:
        return _video(profile, service, light, nm)
    plant = replace(
        plan.plant,
        pon_class=service.pon_class,
        launch_dbm=service.launch_dbm,
        launch_u_db=None,
    )
    theirs = Expectation(plan=replace(plan, plant=plant), profile=profile)
    if theirs.launch is None:
        return None
    side = theirs.pon.down
    odn = (side.odn_min_db, min(side.odn_max_db, theirs.pon.up.odn_max_db))
    return _light(
        light,
        theirs.pon.name,
        nm=nm,
        launch=theirs.launch,
        window=odn if theirs.pon.usable else None,
        receive=(side.rx_floor_dbm, side.rx_ceiling_dbm),
    )


def _video(
    profile: Profile, service: Service, light: LightPlan, nm: int
) -> ServiceLight:
    number = profile.number
    receive = (number("overlay.receive_low"), number("overlay.receive_high"))
    if service.launch_dbm is None:
        launch = window_launch(
            number("overlay.launch_low"), number("overlay.launch_high")
        )
    else:
        launch = known_launch(service.launch_dbm, profile.default_u("launch"))
    # the loss must suit the weakest and the strongest launch
    weak, strong = (
        loss_window_db(level, receive_low_dbm=receive[0], receive_high_dbm=receive[1])
        for level in (launch.least_dbm, launch.most_dbm)
    )
    return _light(
        light,
        VIDEO,
        nm=nm,
        launch=launch,
        window=(strong[0], weak[1]),
        receive=receive,
    )


def _light(
    light: LightPlan,
    name: str,
    *,
    nm: int,
    launch: Launch,
    window: Window | None,
    receive: tuple[float | None, float | None],
) -> ServiceLight:
    path = light.expectation.path
    levels = expected_levels(path, launch)
    return ServiceLight(
        name=name,
        wavelength_nm=nm,
        launch=launch,
        levels={place: spans[nm] for place, spans in level_spans(levels).items()},
        loss_db=float(path.total_db[path.column(nm)]),
        window_db=window,
        receive_dbm=receive,
        isolation_db={},
    )


def _with_isolation(item: ServiceLight, lights: list[ServiceLight]) -> ServiceLight:
    """The filter that this service needs against each other one, at the terminal."""
    mine = item.levels["terminal"].value
    return replace(
        item,
        isolation_db={
            other.name: isolation_needed_db(
                mine, other.levels["terminal"].value, error_db=LEAK_DB
            )
            for other in lights
            if other is not item
        },
    )


def all_levels(
    light: LightPlan, services: Coexistence | None
) -> dict[str, ByWavelength]:
    """Levels of the plan, with each other service's own light at its wavelength."""
    lights = services.services[1:] if services is not None else ()
    own = {item.wavelength_nm: item for item in reversed(lights)}
    own.pop(light.down_nm, None)
    return {
        place: {
            nm: own[nm].levels[place] if nm in own else span
            for nm, span in spans.items()
        }
        for place, spans in light.levels.items()
    }


def plan_hazard(
    profile: Profile, light: LightPlan, services: Coexistence | None
) -> dict[str, Hazard]:
    """Hazard level at the ends that can be opened, from the strongest light there."""
    if light.launch is None:
        return {}
    lights = services.services if services is not None else ()
    found = {}
    for place in ENDS:
        down = light.levels[place][light.down_nm].worst_high
        levels, wavelengths = [down], [float(light.down_nm)]
        for item in lights[1:]:
            levels.append(item.levels[place].worst_high)
            wavelengths.append(float(item.wavelength_nm))
        upward = _upward(light, place)
        if upward is not None:
            levels.append(upward)
            wavelengths.append(float(light.up_nm))
        found[place] = hazard_level(levels, wavelengths, limits=hazard_limits(profile))
    return found


def _upward(light: LightPlan, place: str) -> float | None:
    """The strongest that the house terminal's own light can be at a place."""
    levels = light.expectation.upstream
    if levels is None:
        return None
    column = levels.wavelengths_nm.tolist().index(light.up_nm)
    row = {"terminal": 0, "hub": -1}.get(place)
    return float(levels.highest_dbm[levels.row(place) if row is None else row, column])
