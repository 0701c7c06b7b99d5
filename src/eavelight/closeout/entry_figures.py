"""The drip loops of a plan as drawings, with the words of the catalogue."""

from eavelight.assess.wall import entry_of
from eavelight.climate.entry import check_entry
from eavelight.closeout.figures.entry_loop import EntryLoop
from eavelight.model.message import Message
from eavelight.model.plan import Plan
from eavelight.wording import say


def entry_loops(plan: Plan, *, language: str = "en") -> dict[str, EntryLoop]:
    """One drawing per planned entry, by its name."""
    found = {}
    for entry in plan.entry:
        needed = check_entry(entry_of(entry)).loop_needed_mm
        values: dict[str, object] = {
            "entry": entry.name,
            "diameter": entry.outside_diameter_mm,
            "needed": needed,
            "width": entry.loop_width_mm,
        }

        def word(name: str, values: dict[str, object] = values) -> str:
            return say(Message(f"housing.picture.{name}", values), language)

        found[entry.name] = EntryLoop(
            diameter_mm=entry.outside_diameter_mm,
            needed_mm=needed,
            planned_mm=entry.loop_width_mm,
            title=word("loop_title"),
            entry_label=word("loop_entry"),
            needed_label=word("loop_needed"),
            planned_label=word("loop_planned"),
            lowest_label=word("loop_lowest"),
            scale_label=say(Message("housing.picture.loop_scale"), language),
        )
    return found
