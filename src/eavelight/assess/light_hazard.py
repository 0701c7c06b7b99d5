"""Light that may be too strong at an end that somebody opens or looks into.

The conservative rule of the light room, on the strongest light that the plan allows and
on what was read. For cautions and the order of work; never a classification.
"""

from collections.abc import Iterator

from eavelight.assess.context import Context
from eavelight.assess.expectation import Expectation, expectation_of, plan_of_service
from eavelight.light.laser_hazard import HazardLevel, HazardLimits, hazard_level
from eavelight.light.levels import (
    Launch,
    expected_levels,
    known_launch,
    window_launch,
)
from eavelight.model.plan import Service
from eavelight.standards.pon_classes import load_pon_classes
from eavelight.standards.profiles import Profile

Light = tuple[float, float]
"""Level [dBm] and wavelength [nm]."""


def hazard_limits(profile: Profile) -> HazardLimits:
    """The limits of the rule as the profile chooses them."""
    return HazardLimits(
        level_1_dbm=profile.number("hazard.level_1"),
        level_1m_dbm=profile.number("hazard.level_1m"),
        level_1m_from_nm=profile.number("hazard.level_1m_from"),
    )


def read_hazard(context: Context, at: str) -> HazardLevel:
    """Hazard level of what was read at a connector, the guard band added."""
    return _level(context, list(_read(context, at)))


def planned_hazard(context: Context, at: str) -> HazardLevel:
    """Hazard level of the strongest that plan and readings allow at a connector."""
    read = {nm: dbm for dbm, nm in _read(context, at)}
    lights = [(max(dbm, read.pop(nm, dbm)), nm) for dbm, nm in _planned(context, at)]
    return _level(context, [*lights, *((dbm, nm) for nm, dbm in read.items())])


def _level(context: Context, lights: list[Light]) -> HazardLevel:
    levels, wavelengths = [dbm for dbm, _ in lights], [nm for _, nm in lights]
    return hazard_level(
        levels, wavelengths, limits=hazard_limits(context.profile)
    ).level


def _read(context: Context, at: str) -> Iterator[Light]:
    for item in context.current("level", at):
        reading = item.reading
        if not reading.below and reading.wavelength_nm is not None:
            guard = context.profile.guard_factor * context.u_of(reading)
            yield reading.number + guard, float(reading.wavelength_nm)


def _planned(context: Context, at: str) -> Iterator[Light]:
    """The strongest of each light; a path that only loses makes none stronger."""
    launches = list(_launches(context))
    sources = [(launch.most_dbm, nm) for nm, launch in launches]
    if not sources or _level(context, sources) == "1":
        return
    found = Expectation(
        plan=context.plan,
        profile=context.profile,
        further_nm=tuple(round(nm) for nm, _ in launches),
    )
    for nm, launch in launches:
        levels = expected_levels(found.path, launch)
        column = levels.wavelengths_nm.tolist().index(round(nm))
        yield float(levels.highest_dbm[levels.row(at), column]), nm


def _launches(context: Context) -> Iterator[tuple[float, Launch]]:
    """Every light toward the house with its wavelength."""
    own = expectation_of(context)
    if own.launch is not None:
        yield float(own.down_nm), own.launch
    for service in context.plan.plant.service:
        if service.pon_class not in load_pon_classes():
            yield _video(context.profile, service)
            continue
        plan = plan_of_service(context.plan, service)
        theirs = Expectation(plan=plan, profile=context.profile)
        if theirs.launch is not None:
            yield float(theirs.down_nm), theirs.launch


def _video(profile: Profile, service: Service) -> tuple[float, Launch]:
    nm = profile.number("overlay.wavelength")
    if service.launch_dbm is not None:
        return nm, known_launch(service.launch_dbm, profile.default_u("launch"))
    low = profile.number("overlay.launch_low")
    return nm, window_launch(low, profile.number("overlay.launch_high"))
