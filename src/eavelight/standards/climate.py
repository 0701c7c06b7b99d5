"""Numbers of judgement about wall, box and day, from the data, for the climate room."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from eavelight.climate.practice import (
    BatteryPlace,
    DampNight,
    DayThresholds,
    GridMargins,
    Hood,
    Mounting,
    Practice,
    Shade,
    StationSteps,
)
from eavelight.errors import EvidenceError
from eavelight.standards.clauses import (
    CONFIDENCE,
    Clause,
    data_files,
    read_toml,
    refuse_unknown,
)
from eavelight.standards.profiles import Profile

FILE = "climate.toml"
LABELS = (*CONFIDENCE, "judgement")
_KEYS = {"value", "label", "source"}


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideAir:
    """Lowest and highest outside air of a climatic class, each with its clause."""

    low: Clause
    high: Clause

    @property
    def source(self) -> str:
        """Document and class, with how well they are known."""
        return f"{self.low.document}, {self.low.where} ({self.low.confidence})"


@cache
def climate_numbers() -> Mapping[str, float]:
    """Every number of the file by its place, such as `grid.hot_k`.

    >>> climate_numbers()["grid.cold_k"]
    3.0
    """
    text = next(text for name, text in data_files("parameters") if name == FILE)
    return MappingProxyType(parse_numbers(text, file=FILE))


def parse_numbers(text: str, *, file: str) -> dict[str, float]:
    """Numbers of a text; one without label or source is refused."""
    found: dict[str, float] = {}
    _collect(read_toml(text, file=file), "", found, file=file)
    return found


def _collect(
    table: Mapping[str, Any], prefix: str, found: dict[str, float], *, file: str
) -> None:
    for key, entry in table.items():
        name = f"{prefix}.{key}" if prefix else key
        if not isinstance(entry, dict):
            raise EvidenceError(
                file, name, "value, label and source", repr(entry), advice="add them"
            )
        if "value" not in entry:
            _collect(entry, name, found, file=file)
            continue
        refuse_unknown(entry, _KEYS, file=file, place=name)
        refuse_unknown(
            [str(entry.get("label"))], LABELS, file=file, place=f"{name}: label"
        )
        if not str(entry.get("source", "")).strip():
            raise EvidenceError(file, name, "a source", "none", advice="say whence")
        found[name] = float(entry["value"])


def _group(name: str) -> dict[str, float]:
    """Numbers right below one name, without those of deeper names."""
    start = f"{name}."
    return {
        key.removeprefix(start): value
        for key, value in climate_numbers().items()
        if key.startswith(start) and "." not in key.removeprefix(start)
    }


@cache
def climate_practice() -> Practice:
    """All of it, as the climate room takes it.

    >>> climate_practice().shades["partial"].beam_passes
    0.5
    """
    shades = {name: Shade(**_group(f"shade.{name}")) for name in _names("shade")}
    lead = {float(key): share for key, share in _group("battery.lead_share").items()}
    return Practice(
        shades=MappingProxyType(shades),
        grid=GridMargins(**_group("grid")),
        station=StationSteps(**_group("station")),
        night=DampNight(**_group("night")),
        mounting=Mounting(
            hood=Hood(**_group("mounting.hood")),
            full_shade=shades["full"],
            **_group("mounting"),
        ),
        day=DayThresholds(**_group("day")),
        battery=BatteryPlace(
            lead_share=MappingProxyType(dict(sorted(lead.items()))),
            **_group("battery"),
        ),
        season_db_per_km=climate_numbers()["season.db_per_km"],
    )


def _names(group: str) -> tuple[str, ...]:
    start = f"{group}."
    names = (key.split(".")[1] for key in climate_numbers() if key.startswith(start))
    return tuple(dict.fromkeys(names))


def outside_air(profile: Profile, rung: str) -> OutsideAir | None:
    """The climatic class of a rung of the ladder, None where the profile names none.

    A number that is only uncertainly known never counts.

    >>> from eavelight.standards.profiles import load_profile
    >>> outside_air(load_profile(), "last_resort").low.value
    -45.0
    >>> outside_air(load_profile(), "class") is None
    True
    """
    ends = [profile.limits.get(f"housing.{rung}.{end}") for end in ("low", "high")]
    low, high = ends
    if low is None or high is None:
        return None
    if "uncertain" in {low.confidence, high.confidence}:
        return None
    return OutsideAir(low=low, high=high)
