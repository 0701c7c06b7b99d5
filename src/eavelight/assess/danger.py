"""What can hurt a person or destroy equipment, told before everything else.

Foreign voltage on the pair, plus and minus swapped, more volts than the terminal may
have, light too strong to look into, a supply where water or gas meets it. The order is
common practice, no source; local code and licensed trades come first.
"""

from collections.abc import Iterator, Sequence

from eavelight.assess.context import Context
from eavelight.assess.feed_facts import place_in_use
from eavelight.assess.feed_polarity import pair_dangers
from eavelight.assess.light_hazard import planned_hazard, read_hazard
from eavelight.assess.proposal import Proposal, told
from eavelight.light.laser_hazard import HazardLevel
from eavelight.model.finding import Finding, Standing, Verdict
from eavelight.model.message import Message
from eavelight.model.plan import Feed

# What makes of a place a danger; what only makes it a bad one is left to the plan.
UNSAFE_PLACES = {"splash", "floods", "sealed space", "fuel appliance"}
OF_LEVEL: dict[HazardLevel, str] = {"1M": "no-magnifier", "3B": "light-off"}
TOUCHES_PAIR = {"swap-conductors"}
PAIR = "feed.polarity"


def dangers(
    context: Context,
    findings: Sequence[Finding],
    proposals: Sequence[Proposal],
    *,
    powered: bool,
) -> list[Proposal]:
    """Everything dangerous.

    `proposals` tell which fibre ends are to be opened; `powered` whether the power of
    the terminal was ever on.
    """
    found = list(_light(context, proposals))
    feed = context.plan.feed
    if feed is None:
        return found
    pair = list(_pair(context, feed, findings))
    if any(item.action in TOUCHES_PAIR for item in pair):
        found += foreign_unread(context, Standing.DANGER)
    found += [*pair, *_overvoltage(context, feed)]
    return found if powered else [*found, *_unsafe_place(context)]


def foreign_unread(context: Context, standing: Standing) -> list[Proposal]:
    """Look for foreign voltage, where ac or dc was not looked for."""
    kinds = {item.reading.kind for item in context.current("foreign_volts")}
    missing = [kind for kind in ("ac", "dc") if kind not in kinds]
    if not missing:
        return []
    item = Finding(
        requirement=PAIR,
        subject="supply",
        verdict=Verdict.NOT_MEASURED,
        because=Message(f"before.foreign_{missing[0]}"),
    )
    return [
        Proposal(
            action="measure-foreign",
            at="supply",
            item=item,
            standing=standing,
            guards="plug in",
        )
    ]


def _unsafe_place(context: Context) -> Iterator[Proposal]:
    """A supply that hangs where water or gas meets it, before its power is on."""
    place = place_in_use(context.plan)
    for hazard in () if place is None else place.hazards:
        if hazard in UNSAFE_PLACES:
            why = Message(f"danger.place.{hazard.replace(' ', '_')}")
            yield _danger("move-supply", "supply", why)


def _danger(
    action: str, at: str, why: Message, verdict: Verdict = Verdict.FAIL
) -> Proposal:
    item = Finding(requirement=PAIR, subject=at, verdict=verdict, because=why)
    return Proposal(action=action, at=at, item=item, standing=Standing.DANGER)


def _pair(
    context: Context, feed: Feed, findings: Sequence[Finding]
) -> Iterator[Proposal]:
    """Whatever stands wrong on the pair, unless somebody accepted that very thing."""
    settled = {
        name
        for item in findings
        if item.requirement == PAIR
        and item.exception is not None
        and item.exception.accepted_by is not None
        for name in told(item.because)
    }
    for at, why, verdict in pair_dangers(context, feed):
        if why.id not in settled:
            foreign = why.id.endswith(".foreign")
            name = "stop-foreign-voltage" if foreign else "swap-conductors"
            yield _danger(name, at, why, verdict)


def _overvoltage(context: Context, feed: Feed) -> Iterator[Proposal]:
    """The last volts read above what the terminal may have, on the safe side."""
    for at in ("terminal", "supply"):
        readings = context.selection.all_of("volts", at)
        if readings and abs(readings[-1].reading.number) > feed.terminal_max_v:
            volts = abs(readings[-1].reading.number)
            values = {"at": at, "value": volts, "high": feed.terminal_max_v}
            yield _danger("stop-overvoltage", at, Message("danger.overvoltage", values))
            return


def _light(context: Context, proposals: Sequence[Proposal]) -> Iterator[Proposal]:
    """Light that was read too strong, or may be so at an end that is to be opened."""
    opened = {item.at for item in proposals if item.kind.opens}
    for part in context.plan.plant.part:
        if part.kind != "connector":
            continue
        level, name = read_hazard(context, part.name), "read"
        if level == "1" and part.name in opened | _of_drop(opened):
            level, name = planned_hazard(context, part.name), "planned"
        if level in OF_LEVEL:
            values = {"at": part.name, "level": level}
            why = Message(f"danger.light_{name}", values)
            yield _danger(OF_LEVEL[level], part.name, why)


def _of_drop(opened: set[str]) -> set[str]:
    """Both ends of the drop where a measurement of the whole drop opens them."""
    return {"port", "terminal"} if opened & {"drop", "path", "box"} else set()
