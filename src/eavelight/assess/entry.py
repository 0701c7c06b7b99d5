"""Cable entries of the box, from what was seen there."""

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message


def assess_entry(context: Context) -> list[Finding]:
    """`housing.entry` for every planned entry, and for any other that was seen."""
    requirement = "housing.entry"
    seen = context.current("entry_seen", "box")
    if not seen:
        names = tuple(entry.name for entry in context.plan.entry)
        return [not_measured(context, requirement, "box", values={"entries": names})]
    bad = [item for item in seen if item.reading.text.casefold() != "good"]
    looked = {item.reading.entry for item in seen}
    missing = tuple(
        entry.name
        for entry in context.plan.entry
        if entry.name not in looked and None not in looked
    )
    values = {
        "seen": tuple(
            f"{item.reading.entry}: {item.reading.text}"
            if item.reading.entry
            else item.reading.text
            for item in (bad or seen)
        ),
        "missing": missing,
    }
    unseen = Verdict.UNDECIDED if missing else Verdict.PASS
    verdict = Verdict.FAIL if bad else unseen
    return [
        finding(
            context,
            requirement,
            "box",
            verdict=verdict,
            because=Message(f"{requirement}.{verdict}", values),
            measured=Quantity(value=(bad or list(seen))[-1].reading.text, unit=""),
            decide_by=(
                Message(f"{requirement}.decide_by", values)
                if verdict is Verdict.UNDECIDED
                else None
            ),
            observations=ids(seen),
        )
    ]
