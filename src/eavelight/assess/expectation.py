"""What the plan leads one to expect at every place, as the light room computes it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from eavelight.assess.context import Context
from eavelight.assess.selection import Placed
from eavelight.light.levels import (
    Launch,
    LevelReading,
    Levels,
    expected_levels,
    known_launch,
    window_launch,
)
from eavelight.light.path import PartPlan, Path, build_path
from eavelight.model.plan import Part, Plan, Service
from eavelight.standards.fibre_types import attenuation_default
from eavelight.standards.pon_classes import Direction, PonClass, pon_class
from eavelight.standards.profiles import Profile

TEST_WAVELENGTHS_NM = (1310, 1490, 1550, 1625)


def planned_part(part: Part, wavelengths_nm: Iterable[int]) -> PartPlan:
    """A part of the plan as the light room takes it."""
    attenuation: dict[int, float] = {}
    if part.kind == "fibre" and part.fibre is not None:
        attenuation = dict(part.attenuation_db_per_km or {})
        if not attenuation:
            attenuation = {
                nm: attenuation_default(part.fibre, float(nm))[0]
                for nm in wavelengths_nm
            }
    return PartPlan(
        name=part.name,
        kind=part.kind,
        count=part.count,
        loss_db=part.loss_db,
        length_m=part.length_m or 0.0,
        attenuation_db_per_km=attenuation,
        ratio=part.ratio,
    )


def plan_path(plan: Plan, profile: Profile, wavelengths_nm: Iterable[int]) -> Path:
    """The whole light path at the given wavelengths."""
    asked = tuple(wavelengths_nm)
    parts = [planned_part(part, asked) for part in plan.plant.part]
    return build_path(parts, asked, defaults=profile.part_defaults())


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """Levels and losses that the plan leads one to expect, with its readings."""

    plan: Plan
    profile: Profile
    readings: tuple[LevelReading, ...] = ()
    further_nm: tuple[int, ...] = ()

    @cached_property
    def pon(self) -> PonClass:
        """The class of the plan."""
        return pon_class(self.plan.plant.pon_class)

    @property
    def down_nm(self) -> int:
        """Wavelength toward the house."""
        return round(self.pon.down.wavelength_nm)

    @property
    def up_nm(self) -> int:
        """Wavelength toward the line terminal."""
        return round(self.pon.up.wavelength_nm)

    @cached_property
    def wavelengths_nm(self) -> tuple[int, ...]:
        """Test and service wavelengths, those of readings included, ascending."""
        return tuple(
            sorted({*TEST_WAVELENGTHS_NM, self.down_nm, self.up_nm, *self.further_nm})
        )

    @cached_property
    def path(self) -> Path:
        """All parts at all wavelengths."""
        return plan_path(self.plan, self.profile, self.wavelengths_nm)

    @cached_property
    def launch(self) -> Launch | None:
        """What the line terminal launches, or None where nothing is known."""
        plant = self.plan.plant
        return _launch(plant.launch_dbm, plant.launch_u_db, self.pon.down, self.profile)

    @cached_property
    def terminal_launch(self) -> Launch | None:
        """What the house terminal launches, or None where nothing is known."""
        plant = self.plan.plant
        return _launch(
            plant.terminal_launch_dbm,
            plant.terminal_launch_u_db,
            self.pon.up,
            self.profile,
        )

    @cached_property
    def levels(self) -> Levels | None:
        """Levels toward the house at every place."""
        if self.launch is None:
            return None
        return expected_levels(self.path, self.launch, readings=self.readings)

    @cached_property
    def upstream(self) -> Levels | None:
        """Levels toward the line terminal; its last row is the hub."""
        if self.terminal_launch is None:
            return None
        return expected_levels(
            self.path.reversed(), self.terminal_launch, source="terminal light"
        )

    def loss(self, subject: str, wavelength_nm: int) -> tuple[float, float]:
        """Expected loss of `drop` or `path` with its standard uncertainty [dB]."""
        path = self.path if subject == "path" else self.path.drop()
        column = path.column(wavelength_nm)
        return float(path.total_db[column]), float(path.total_u_db[column])

    def least_loss(self, subject: str, wavelength_nm: int) -> float:
        """Smallest loss that is physically possible [dB]."""
        path = self.path if subject == "path" else self.path.drop()
        return float(path.total_least_db[path.column(wavelength_nm)])


def _launch(
    stated: float | None, u: float | None, side: Direction, profile: Profile
) -> Launch | None:
    window = side.launch_window_dbm
    if stated is not None:
        spread = u if u is not None else profile.default_u("launch")
        return known_launch(stated, spread, window_dbm=window)
    return None if window is None else window_launch(*window)


def service_light(context: Context, item: Placed) -> bool:
    """Whether a level reading is of the light that the plan's launch describes."""
    down = round(pon_class(context.plan.plant.pon_class).down.wavelength_nm)
    return item.reading.wavelength_nm == down


def expectation_of(context: Context) -> Expectation:
    """The expectation for a visit, conditioned on its level readings."""
    readings = tuple(
        LevelReading(
            at=None if item.reading.at == "hub" else item.reading.at,
            wavelength_nm=float(item.reading.wavelength_nm or 0),
            value_dbm=item.reading.number,
            u_db=context.u_of(item.reading),
        )
        for item in context.current("level")
        if service_light(context, item) and not item.reading.below
    )
    further = tuple(
        reading.wavelength_nm
        for reading in context.observations.readings
        if reading.wavelength_nm is not None
    )
    return Expectation(
        plan=context.plan,
        profile=context.profile,
        readings=readings,
        further_nm=further,
    )


def plan_of_service(plan: Plan, service: Service) -> Plan:
    """The plan as another service on the same fibre sees it."""
    plant = replace(
        plan.plant,
        pon_class=service.pon_class,
        launch_dbm=service.launch_dbm,
        launch_u_db=None,
    )
    return replace(plan, plant=plant)
