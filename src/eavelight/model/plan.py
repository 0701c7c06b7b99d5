"""What should have been built: the immutable plan of one site.

Field names are the keys of the visit folder. The ranges are those of physical sense,
wide enough for every real job; a value outside them is a slip of the pen.
"""

from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Literal

from annotated_types import Ge, Gt, Le, MinLen

STRICT: dict[str, Any] = {"extra": "forbid", "allow_inf_nan": False}

RESERVED_PLACES = ("hub", "drop", "path", "supply", "battery", "box", "tray", "outside")

Text = Annotated[str, MinLen(1)]
Positive = Annotated[float, Gt(0)]
LevelDbm = Annotated[float, Ge(-80), Le(30)]
UncertaintyDb = Annotated[float, Gt(0), Le(10)]
LossDb = Annotated[float, Ge(0), Le(80)]
LengthM = Annotated[float, Ge(0), Le(200_000)]
TemperatureC = Annotated[float, Ge(-90), Le(100)]
Millimetres = Annotated[float, Gt(0), Le(10_000)]
WavelengthNm = Annotated[int, Ge(600), Le(1700)]
Fraction = Annotated[float, Gt(0), Le(1)]
Watts = Annotated[float, Ge(0), Le(500)]
Volts = Annotated[float, Gt(0), Le(400)]
Hours = Annotated[float, Ge(0), Le(10_000)]

PartKind = Literal["fibre", "splice", "connector", "splitter", "coupler", "attenuator"]
Polish = Literal["apc", "pc"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the house is: a key, never a name or a street."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    key: Text
    latitude: Annotated[float, Ge(-90), Le(90)] | None = None
    longitude: Annotated[float, Ge(-180), Le(180)] | None = None
    elevation_m: Annotated[float, Ge(-450), Le(9000)] | None = None
    low_c: TemperatureC | None = None
    high_c: TemperatureC | None = None
    extremes_source: str | None = None
    snow: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """What the work order says belongs to this house."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    hub: Text | None = None
    splitter: Text | None = None
    port: Text | None = None
    colour_scheme: Text | tuple[Text, ...] = "tia-598"
    tube: Annotated[int, Ge(1), Le(1000)] | None = None
    fibre: Annotated[int, Ge(1), Le(1000)] | None = None
    terminal_serial: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the light path, seen from the line terminal."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: Text
    kind: PartKind
    fibre: Text | None = None
    length_m: LengthM | None = None
    attenuation_db_per_km: (
        dict[WavelengthNm, Annotated[float, Gt(0), Le(20)]] | None
    ) = None
    mode_field_um: dict[WavelengthNm, Annotated[float, Gt(1), Le(30)]] | None = None
    count: Annotated[int, Ge(1), Le(1000)] = 1
    ratio: Annotated[int, Ge(1), Le(1024)] | None = None
    loss_db: LossDb | dict[WavelengthNm, LossDb] | None = None
    polish: Polish | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """Other light on the same fibre."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    pon_class: Text
    launch_dbm: LevelDbm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """Stored slack."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    at: Text
    fibre: Text
    radius_mm: Millimetres
    turns: Annotated[float, Gt(0), Le(1000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """The light path, in order from the line terminal to the house terminal."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    pon_class: Text
    part: Annotated[tuple[Part, ...], MinLen(1)]
    launch_dbm: LevelDbm | None = None
    launch_u_db: UncertaintyDb | None = None
    terminal_launch_dbm: LevelDbm | None = None
    terminal_launch_u_db: UncertaintyDb | None = None
    service: tuple[Service, ...] = ()
    loop: tuple[Loop, ...] = ()

    def part_named(self, name: str) -> Part | None:
        """The part of that name, or None."""
        return next((part for part in self.part if part.name == name), None)

    @property
    def drop(self) -> tuple[Part, ...]:
        """From the port connector to the terminal connector, both included."""
        names = [part.name for part in self.part]
        if "port" not in names:
            return ()
        return self.part[names.index("port") :]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tray:
    """The splice tray, for the tray planner."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    length_mm: Millimetres
    width_mm: Millimetres
    winding_radius_mm: Millimetres
    holder_offset_mm: Annotated[float, Ge(0), Le(10_000)]
    sleeve_mm: Millimetres
    strands: Annotated[int, Ge(1), Le(1000)] = 1
    pigtail_m: Annotated[float, Gt(0), Le(100)] = 1.5
    spare_attempts: Annotated[int, Ge(0), Le(100)] = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One cable entry of the box."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: Text
    outside_diameter_mm: Millimetres
    grommet_min_mm: Millimetres | None = None
    grommet_max_mm: Millimetres | None = None
    from_: Literal["below", "side", "back", "above"] = "below"
    loop_width_mm: Annotated[float, Ge(0), Le(10_000)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadStep:
    """A load that begins some hours after the mains failed."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    from_h: Hours
    watts: Watts


@dataclass(frozen=True, slots=True, kw_only=True)
class DischargePoint:
    """One row of the maker's discharge table."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    hours: Annotated[float, Gt(0), Le(10_000)]
    watts: Annotated[float, Gt(0), Le(10_000)]
    end_v: Volts


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """The battery of the supply."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    chemistry: Literal["vrla", "lfp"]
    capacity_ah: Annotated[float, Gt(0), Le(10_000)]
    rating_hours: Annotated[float, Gt(0), Le(1000)] = 20.0
    temperature_c: TemperatureC | None = None
    age_years: Annotated[float, Ge(0), Le(50)] = 0.0
    date_code: str | None = None
    target_hours: Hours | None = None
    usable_fraction: Fraction = 1.0
    discharge_table: tuple[DischargePoint, ...] = ()
    load_profile: tuple[LoadStep, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """From the indoor supply to the terminal."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    supply_float_v: Volts
    supply_cutoff_v: Volts
    length_m: Annotated[float, Gt(0), Le(5000)]
    terminal_idle_w: Watts
    terminal_peak_w: Annotated[float, Gt(0), Le(500)]
    terminal_min_v: Volts
    terminal_max_v: Volts
    supply_limit_w: Annotated[float, Gt(0), Le(5000)] | None = None
    place: str | None = None
    awg: Annotated[int, Ge(-3), Le(40)] | None = None
    area_mm2: Annotated[float, Gt(0), Le(1000)] | None = None
    material: Literal["copper", "copper-clad steel", "copper-clad aluminium"] = "copper"
    stranded: bool = False
    twisted: bool = False
    shares_sheath_with: str | None = None
    construction: (
        Literal["power pair and status", "equal pairs", "power only"] | None
    ) = None
    status_lines: Annotated[int, Ge(0), Le(16)] | None = None
    status_polarity: Literal["open is alarm", "closed is alarm"] | None = None
    return_shared: bool | None = None
    pairs: Annotated[int, Ge(1), Le(100)] = 1
    conductor_temperature_c: TemperatureC = 20.0
    battery: Battery | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyPlace:
    """A place where the supply could hang."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: Text
    length_m: Annotated[float, Gt(0), Le(5000)]
    low_c: TemperatureC
    high_c: TemperatureC
    hazards: tuple[
        Literal[
            "splash",
            "floods",
            "vehicles",
            "switched outlet",
            "sealed space",
            "fuel appliance",
            "sun",
        ],
        ...,
    ] = ()


Colour = Literal[
    "white",
    "white aged",
    "light grey",
    "beige",
    "mid grey",
    "dark grey",
    "dark brown",
    "dark green",
    "black",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Housing:
    """The box on the wall."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    width_mm: Millimetres
    height_mm: Millimetres
    depth_mm: Millimetres
    colour: Colour
    facing_deg: Annotated[float, Ge(0), Le(360)]
    internal_w: Watts
    shade: Literal["none", "partial", "full"] = "none"
    rated_low_c: TemperatureC | None = None
    rated_high_c: TemperatureC | None = None
    rating_refers_to: Literal["outside air", "air in box", "case"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything that was decided before the visit."""

    purpose: Literal["turn-up", "repair", "audit"]
    site: Site
    plant: Plant
    assignment: Assignment = field(default_factory=Assignment)
    tray: Tray | None = None
    entry: tuple[Entry, ...] = ()
    feed: Feed | None = None
    supply_place: tuple[SupplyPlace, ...] = ()
    housing: Housing | None = None
