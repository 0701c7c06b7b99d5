"""The sheet that stays with the customer: one page, plain words, no abbreviation.

Pure content. How it becomes a page stands beside it; both forms hold the same texts.
"""

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Annotated

from eavelight.assess.feed_facts import DAYS_PER_YEAR
from eavelight.assess.feed_hours import Case
from eavelight.assess.feed_runtime import STAYS_OFF_H, RuntimeStory, runtime_story
from eavelight.closeout.material import Material
from eavelight.closeout.readable import readable
from eavelight.model.finding import Verdict
from eavelight.model.plan import Battery, Feed
from eavelight.standards.batteries import battery_type
from eavelight.standards.cords import backup_rules

DAYS_FROM_H = 72.0
WEAK_H = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursBar:
    """One line of the hours: how long, from the shortest to the longest."""

    label: Annotated[str, "when"]
    text: Annotated[str, "the hours in words"]
    low_h: Annotated[float, "shortest, for drawing"]
    high_h: Annotated[float, "longest, for drawing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A heading with its sentences."""

    title: Annotated[str, "heading"]
    lines: Annotated[tuple[str, ...], "sentences"]
    lead: Annotated[str, "what matters most, larger; may be empty"] = ""
    numbered: Annotated[bool, "whether the order matters"] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerSheet:
    """Everything on the page, already in words."""

    language: Annotated[str, "language of the texts"]
    file_title: Annotated[str, "title of the file"]
    author: Annotated[str, "program and version that wrote it"]
    date: Annotated[datetime, "when the visit ended; never the time of printing"]
    title: Annotated[str, "heading of the page"]
    visit: Annotated[str, "visit, place and day"]
    unfinished: Annotated[str, "said where the visit is not ready; may be empty"]
    hours_title: Annotated[str, "what the large number is"]
    hours: Annotated[str, "the large number"]
    hours_notes: Annotated[tuple[str, ...], "what it rests on"]
    bars: Annotated[tuple[HoursBar, ...], "today, cold, old; may be empty"]
    parts: Annotated[tuple[Part, ...], "works, stops, test, replace, choice, safety"]
    footer: Annotated[str, "estimates, and who comes first"]


def customer_sheet(material: Material) -> CustomerSheet:
    """The sheet of one visit."""
    say, head = material.say, material.visit.head
    story = story_of(material)
    ready = material.assessment.state == "ready"
    sheet = CustomerSheet(
        language=material.language,
        file_title=say("customer.file_title", visit=head.id),
        author=say("closeout.author", version=material.version),
        date=head.ended or head.started,
        title=say("customer.title"),
        visit=say(
            "customer.visit",
            visit=head.id,
            site=material.visit.plan.site.key,
            date=day_text(material, head.started.date()),
        ),
        unfinished="" if ready else say("customer.unfinished"),
        hours_title=say("customer.hours.title"),
        hours=_headline(material, story),
        hours_notes=_notes(material, story),
        bars=_bars(material, story),
        parts=_parts(material, story),
        footer=say("customer.footer"),
    )
    return readable(sheet)


def story_of(material: Material) -> RuntimeStory | None:
    """Hours on what was shown; None without a battery, or where none can be told."""
    feed = material.visit.plan.feed
    if feed is None or feed.battery is None:
        return None
    try:
        return runtime_story(material.context, feed)
    except ValueError:
        return None


def _backup(material: Material) -> str:
    last = material.context.selection.latest("backup_choice", "supply")
    return "" if last is None else last.reading.text


def _failed(material: Material) -> set[tuple[str, str]]:
    return {
        (item.requirement, item.subject)
        for item in material.assessment.findings
        if item.verdict is Verdict.FAIL
    }


def _holds(material: Material) -> bool:
    """Whether anything speaks against the terminal staying up on battery."""
    names = {requirement for requirement, _ in _failed(material)}
    return not names & {"feed.cutoff", "feed.loaded", "feed.polarity"}


def _headline(material: Material, story: RuntimeStory | None) -> str:
    say, feed = material.say, material.visit.plan.feed
    if feed is None:
        return say("customer.hours.unknown")
    if feed.battery is None or _backup(material) == "declined":
        return say("customer.hours.none")
    if story is None:
        return say("customer.hours.unknown")
    if not _holds(material) or story.full.today.high_h < STAYS_OFF_H:
        return say("customer.hours.fails")
    return span_text(material, story.full.today)


def _notes(material: Material, story: RuntimeStory | None) -> tuple[str, ...]:
    say, feed = material.say, material.visit.plan.feed
    if feed is None:
        return (say("customer.hours.unknown_note"),)
    if _backup(material) == "declined":
        return (say("customer.hours.declined_note"),)
    if feed.battery is None:
        return (say("customer.hours.none_note"),)
    if story is None:
        return ()
    if not _shows_hours(material, story):
        return (say("customer.hours.fails_note"),)
    return _hours_notes(material, feed.battery, story)


def _hours_notes(
    material: Material, battery: Battery, story: RuntimeStory
) -> tuple[str, ...]:
    say = material.say
    notes = [say("customer.hours.unasked")]
    target = battery.target_hours
    if target:
        enough = story.full.today.low_h >= target
        hours = hours_text(material, target)
        notes.insert(0, say("customer.hours.asked", hours=hours, enough=enough))
    if not story.shown:
        notes.append(say("customer.hours.planned"))
    if story.weak:
        wait = hours_text(material, story.wait_h)
        notes.append(say("customer.hours.charge", hours=wait))
    if not story.full.cold.covered:
        notes.append(say("customer.case.outside"))
    if ("feed.limits", "battery") in _failed(material):
        notes.append(say("customer.hours.no_charge"))
    return (*notes, say("customer.hours.bars"))


def _shows_hours(material: Material, story: RuntimeStory | None) -> bool:
    return (
        story is not None
        and _backup(material) != "declined"
        and _holds(material)
        and story.full.today.high_h >= STAYS_OFF_H
    )


def _bars(material: Material, story: RuntimeStory | None) -> tuple[HoursBar, ...]:
    if story is None or not _shows_hours(material, story):
        return ()
    hours = story.full
    degrees = degrees_text(material, hours.cold.temperature_c)
    cases = {
        "today": hours.today,
        "cold": hours.cold,
        "old": hours.end_of_life,
        "worst": hours.cold_end_of_life,
    }
    return tuple(
        HoursBar(
            label=material.say(f"customer.case.{name}", degrees=degrees),
            text=span_text(material, case),
            low_h=case.low_h,
            high_h=case.high_h,
        )
        for name, case in cases.items()
    )


def span_text(material: Material, case: Case) -> str:
    """A band of hours in words, never more than there are at its low end.

    Between a day's hours nobody needs a fraction; beyond three days nobody needs hours.
    """
    if case.low_h >= DAYS_FROM_H:
        return material.say("customer.hours.days", days=math.floor(case.low_h / 24.0))
    if case.high_h < WEAK_H:
        return material.say("customer.hours.minutes")
    low, high = math.floor(case.low_h), math.floor(case.high_h)
    if low == high:
        return hours_text(material, low)
    return material.say("customer.hours.span", low=low, high=high)


def hours_text(material: Material, hours: float) -> str:
    """Whole hours in words."""
    if round(hours, 1) == 1.0:
        return material.say("customer.hours.one")
    shown = round(hours, 1)
    return material.say(
        "customer.hours.about", low=round(shown) if shown == round(shown) else shown
    )


def degrees_text(material: Material, celsius: float) -> str:
    """A temperature in words."""
    name = "below" if celsius < -0.5 else "above"
    return material.say(f"customer.case.{name}", value=abs(round(celsius)))


def day_text(material: Material, day: date) -> str:
    """A day in words."""
    return f"{day.day} {month_text(material, day)}"


def month_text(material: Material, day: date) -> str:
    """A month and its year in words."""
    return f"{material.say(f'customer.month.{day.month}')} {day.year}"


def _parts(material: Material, story: RuntimeStory | None) -> tuple[Part, ...]:
    say, feed = material.say, material.visit.plan.feed
    backed = _shows_hours(material, story)
    works = [say("customer.works.telephone"), say("customer.works.calls")]
    minutes = None if feed is None else shed_minutes(feed)
    if minutes is not None:
        works.append(say("customer.works.shed", minutes=minutes))
    parts = []
    if backed:
        parts.append(Part(title=say("customer.works_title"), lines=tuple(works)))
    stops = ("internet", "cordless", "alarms")
    parts.append(
        Part(
            title=say("customer.stops_title"),
            lines=tuple(say(f"customer.stops.{name}") for name in stops),
        )
    )
    if backed:
        parts.append(_test(material))
    if feed is not None and feed.battery is not None:
        parts.append(_replace(material, feed, feed.battery, story))
    parts.append(_choice(material))
    parts.append(_safety(material))
    rule = _rule(material)
    return (*parts, rule) if rule is not None else tuple(parts)


def shed_minutes(feed: Feed) -> int | None:
    """When the planned load first drops on purpose, None where it does not [min]."""
    profile = feed.battery.load_profile if feed.battery is not None else ()
    steps = sorted((step.from_h, step.watts) for step in profile)
    for (_, before), (hour, after) in pairwise(steps):
        if after < before:
            return max(1, round(60.0 * hour))
    return None


def _test(material: Material) -> Part:
    names = ("unplug", "call", "lamp", "fails")
    return Part(
        title=material.say("customer.test_title"),
        lines=tuple(material.say(f"customer.test.{name}") for name in names),
        numbered=True,
    )


def _replace(
    material: Material, feed: Feed, battery: Battery, story: RuntimeStory | None
) -> Part:
    """The date from the battery's temperature over the year at its place."""
    say = material.say
    lead, lines = "", [say("customer.replace.alarm")]
    if story is not None:
        low, high = replace_window(material, story)
        now = low <= material.visit.head.started.date()
        month = month_text(material, low)
        lead = say("customer.replace.now" if now else "customer.replace.by", date=month)
        window = say("customer.replace.overdue")
        if not now:
            until = month_text(material, high)
            window = say("customer.replace.window", low=month, high=until)
        lines.insert(0, window)
    kind = battery_type(battery.chemistry)
    volts = kind.cells(feed.supply_float_v) * kind.volts_per_cell
    lines.append(
        say(
            "customer.replace.kind",
            kind=say(f"customer.kind.{kind.id}"),
            volts=volts,
            hours=battery.capacity_ah,
        )
    )
    lines.append(say("customer.replace.recycle"))
    return Part(title=say("customer.replace_title"), lines=tuple(lines), lead=lead)


def replace_window(material: Material, story: RuntimeStory) -> tuple[date, date]:
    """First and last day on which the battery becomes due, as sources disagree."""
    start = material.visit.head.started.date()
    ends = [
        start + timedelta(days=(years - story.facts.age_years) * DAYS_PER_YEAR)
        for years in story.full.life_years
    ]
    return ends[0], ends[1]


def _choice(material: Material) -> Part:
    last = material.context.selection.latest("backup_choice", "supply")
    say = material.say
    if last is None:
        line = say("customer.choice.missing")
    else:
        day = day_text(material, last.reading.time.date())
        line = say(f"customer.choice.{last.reading.text}", date=day)
    return Part(title=say("customer.choice_title"), lines=(line,))


def _safety(material: Material) -> Part:
    names = ["depend", "outlet", "swollen", "open", "light", "storm"]
    feed = material.visit.plan.feed
    if feed is None or feed.battery is None:
        names.remove("swollen")
    return Part(
        title=material.say("customer.safety_title"),
        lines=tuple(material.say(f"customer.safety.{name}") for name in names),
    )


def _rule(material: Material) -> Part | None:
    """A rule on backup hours, only inside its dates and where it may hold."""
    site, day = material.visit.plan.site, material.visit.head.started.date()
    if site.latitude is None or site.longitude is None:
        return None
    lines = [
        material.say(
            f"customer.rule.{rule.kind}",
            where=rule.where,
            since=day_text(material, rule.starts),
            hours=hours_text(material, rule.hours),
            seen=rule.dates_confidence == "seen",
        )
        for rule in backup_rules()
        if rule.in_force(day) and rule.may_hold_at(site.latitude, site.longitude)
    ]
    if not lines:
        return None
    return Part(title=material.say("customer.rule_title"), lines=tuple(lines))
