"""Cable entries of the box: what was seen there, and whether the plan can be dry.

Planned geometry counts as much as a look: a cable that does not fit its grommet lets
water in however good it looks.
"""

from collections.abc import Iterator

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Entry

REQUIREMENT = "housing.entry"
GOOD = "good"


def assess_entry(context: Context) -> list[Finding]:
    """`housing.entry` over every planned entry, and any other that was seen."""
    seen = context.current("entry_seen", "box")
    faults = tuple(
        fault for entry in context.plan.entry for fault in entry_faults(entry)
    )
    missing = _missing(context, seen)
    values: dict[str, object] = {
        "entries": tuple(entry.name for entry in context.plan.entry),
        "faults": faults,
        "missing": missing,
        **_slack(context),
    }
    if not seen and not faults:
        return [not_measured(context, REQUIREMENT, "box", values=values)]
    bad = [item for item in seen if item.reading.text.casefold() != GOOD]
    values["seen"] = tuple(_told(item) for item in (bad or seen))
    open_end = Verdict.UNDECIDED if missing else Verdict.PASS
    verdict = Verdict.FAIL if bad or faults else open_end
    name = f"{REQUIREMENT}.{verdict}"
    if faults:
        name += ".planned" if not bad else ".both"
    return [
        finding(
            context,
            REQUIREMENT,
            "box",
            verdict=verdict,
            because=Message(name, values),
            measured=_measured(seen, bad),
            decide_by=(
                Message(f"{REQUIREMENT}.decide_by", values)
                if verdict is Verdict.UNDECIDED
                else None
            ),
            observations=ids(seen),
            broken_by=ids(bad),
        )
    ]


def _missing(context: Context, seen: tuple[Placed, ...]) -> tuple[str, ...]:
    looked = {item.reading.entry for item in seen}
    if None in looked:
        return ()
    return tuple(entry.name for entry in context.plan.entry if entry.name not in looked)


def _told(item: Placed) -> str:
    reading = item.reading
    return f"{reading.entry}: {reading.text}" if reading.entry else reading.text


def _measured(seen: tuple[Placed, ...], bad: list[Placed]) -> Quantity | None:
    if not seen:
        return None
    return Quantity(value=(bad or list(seen))[-1].reading.text, unit="")


def entry_faults(entry: Entry) -> Iterator[Message]:
    """What the plan itself gets wrong about an entry."""
    from eavelight.assess.wall import entry_of
    from eavelight.climate.entry import check_entry

    check = check_entry(entry_of(entry))
    values = {
        "entry": entry.name,
        "diameter": entry.outside_diameter_mm,
        "low": entry.grommet_min_mm,
        "high": entry.grommet_max_mm,
        "width": entry.loop_width_mm,
        "needed": check.loop_needed_mm,
    }
    for fault in check.faults:
        yield Message(f"{REQUIREMENT}.fault.{fault.replace(' ', '_')}", values)


def _slack(context: Context) -> dict[str, object]:
    """Cable to leave at the entries, where the plan has entries and a drop."""
    if not context.plan.entry:
        return {"slack": None}
    from eavelight.assess.wall import slack_of

    slack = slack_of(context.plan, context.profile)
    if slack is None:
        return {"slack": None}
    return {"slack": slack.slack_m, "movement": slack.clamped_mm}
