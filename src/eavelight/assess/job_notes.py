"""What weather and place do to the work: said only when the conditions call for it."""

from collections.abc import Iterator

from eavelight.assess.context import Context
from eavelight.climate.job import (
    Conditions,
    Note,
    battery_at_place,
    copper_ratio,
    notes_for_the_day,
    seasonal_glass_change,
)
from eavelight.model.message import Message
from eavelight.model.plan import Plan
from eavelight.standards.climate import climate_practice
from eavelight.standards.profiles import Profile

NOT_SO_EXACT = 1


def notes_of_the_day(
    plan: Plan, *, outside_c: float, skin_c: float | None = None
) -> tuple[Message, ...]:
    """Dangers first, then splicing, cleaning, materials.

    `skin_c` is the skin of the box, from the hot day of the plan or a reading.
    """
    conditions = Conditions(
        air_c=outside_c, elevation_m=plan.site.elevation_m, skin_c=skin_c
    )
    notes = notes_for_the_day(conditions, thresholds=climate_practice().day)
    return tuple(_message(item) for item in notes)


def day_notes(context: Context) -> tuple[Message, ...]:
    """Notes for the outside air that was read; none where nobody read it."""
    read = context.current("temperature", "outside")
    if not read:
        return ()
    return notes_of_the_day(context.plan, outside_c=read[-1].reading.number)


def place_notes(plan: Plan, profile: Profile) -> tuple[Message, ...]:
    """What the seasons do to glass, copper and battery of this house."""
    return tuple(_place_notes(plan, profile))


def _place_notes(plan: Plan, profile: Profile) -> Iterator[Message]:
    practice = climate_practice()
    lengths = [part.length_m for part in plan.plant.drop if part.length_m]
    if lengths:
        change = seasonal_glass_change(
            sum(lengths), change_db_per_km=practice.season_db_per_km
        )
        yield Message("job.seasons", {"change": round(change, 3)})
    if plan.feed is not None and plan.feed.shares_sheath_with is not None:
        from eavelight.assess.wall import site_air

        air = site_air(plan.site, profile, heights=plan.housing is not None)
        low, high = air.low.value_c, air.high.value_c
        yield Message(
            "job.copper",
            {
                "low": low,
                "high": high,
                "cold": round(copper_ratio(low), 2),
                "hot": round(copper_ratio(high), 2),
            },
        )
    yield from _battery_notes(plan)


def _battery_notes(plan: Plan) -> Iterator[Message]:
    """The battery is judged by its own place: the garage is not the wall."""
    feed = plan.feed
    if feed is None or feed.battery is None:
        return
    for place in plan.supply_place:
        if place.name == feed.place:
            for note in battery_at_place(
                feed.battery.chemistry,
                low_c=place.low_c,
                high_c=place.high_c,
                known=climate_practice().battery,
            ):
                yield _message(note)


def _message(note: Note) -> Message:
    values: dict[str, object] = {
        name: round(value, NOT_SO_EXACT) for name, value in note.numbers.items()
    }
    for name in ("capacity_share", "life_share"):
        if name in note.numbers:
            values["share"] = 100.0 * note.numbers[name]
    return Message(f"job.note.{note.note.replace(' ', '_')}", values)
