"""Contexts for findings on the feed: the invented plan, changed as a test wants."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from pydantic import TypeAdapter

from eavelight.assess.assessment import context_of
from eavelight.assess.context import Context
from eavelight.demo.plans import FEED, PLACES, plant_table
from eavelight.model.observation import Observations, Reading
from eavelight.model.plan import Plan
from eavelight.standards.profiles import load_profile

START = datetime.fromisoformat("2026-04-14T08:30:00-05:00")
UNITS = {
    "volts": "V", "foreign_volts": "V", "loop_resistance": "ohm", "insulation": "Mohm",
    "temperature": "°C", "level": "dBm",
}  # fmt: skip


def reading(number: int, what: str, at: str, value: object, **extra: Any) -> Reading:
    """One reading, a minute after the one before it."""
    if isinstance(extra.get("state"), str):
        extra["state"] = (extra["state"],)
    return Reading(
        id=f"r{number}",
        what=what,
        at=at,
        value=value,
        unit=UNITS.get(what),
        time=START + timedelta(minutes=number),
        **extra,
    )


def build(
    *readings: tuple[Any, ...],
    battery: dict[str, Any] | None = None,
    places: bool = True,
    purpose: str = "turn-up",
    **feed: Any,
) -> Context:
    """The invented feed with changes; `battery` changes its battery, {} removes it."""
    table: dict[str, Any] = {**FEED, **feed}
    if battery == {}:
        del table["battery"]
    elif battery is not None:
        table["battery"] = {**FEED["battery"], **battery}
    plan = TypeAdapter(Plan).validate_python(
        {
            "purpose": purpose,
            "site": {"key": "S-1"},
            "plant": plant_table(drop_m=30.0),
            "feed": table,
            "supply_place": PLACES if places else [],
        }
    )
    listed = []
    for number, entry in enumerate(readings):
        what, at, value, *rest = entry
        listed.append(reading(number, what, at, value, **(rest[0] if rest else {})))
    seen = Observations(started=START, readings=tuple(listed))
    return context_of("T-1", plan, seen, load_profile())


@pytest.fixture
def case():
    """The builder of contexts."""
    return build
