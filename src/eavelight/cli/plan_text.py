"""A plan as one page of text: what a technician needs before driving."""

import re
import textwrap
from collections.abc import Iterable, Iterator

from eavelight.app.plan_visit import PlannedVisit
from eavelight.cli.plan_text_light import (
    hazard_lines,
    level_lines,
    loss_lines,
    service_lines,
    slack_lines,
)
from eavelight.cli.plan_text_site import (
    battery_lines,
    conductor_lines,
    entry_lines,
    feed_lines,
    place_lines,
    tray_lines,
    wall_lines,
)
from eavelight.model.message import Message
from eavelight.wording import say

WIDTH, NARROWEST = 100, 72
LABEL = 12
TOGETHER = re.compile(
    r"(?<=[\d∞]) (?=(?:°C|V|W|dB|dBm|nm|m|mm|mm²|cm²|Ω|MΩ|K|h|Ah|AWG|in)\b)|"
    r"(?<=in) (?=\d)"
)
"""Blanks at which a line is not broken: between a number and its unit."""


def plan_text(
    planned: PlannedVisit, *, everything: bool = False, width: int = WIDTH
) -> str:
    """The whole page, no wider than `width` where words can wrap."""
    wide = max(NARROWEST, min(width, WIDTH))
    sections: tuple[tuple[str, Iterable[str]], ...] = (
        ("order", _order(planned)),
        ("port", [_port(planned)]),
        ("fibre", _fibre(planned)),
        ("level", level_lines(planned, everything=everything)),
        ("loss", loss_lines(planned, everything=everything)),
        ("slack", slack_lines(planned)),
        ("services", service_lines(planned)),
        ("light", hazard_lines(planned)),
        ("feed", feed_lines(planned)),
        ("battery", battery_lines(planned)),
        ("places", place_lines(planned)),
        ("conductors", conductor_lines(planned)),
        ("wall", wall_lines(planned, everything=everything)),
        ("entries", entry_lines(planned)),
        ("tray", tray_lines(planned)),
        ("season", [" ".join(map(say, planned.advice)) if everything else ""]),
        ("bring", ["; ".join(say(item) for item in planned.bring)]),
        ("cautions", [" ".join(say(item) for item in planned.cautions)]),
    )
    lines = [_head(planned, wide)]
    for name, texts in sections:
        lines += _section(say(Message(f"plan.label.{name}")), texts, wide)
    return "\n".join(line.rstrip() for line in lines)


def _head(planned: PlannedVisit, wide: int) -> str:
    visit = planned.opened.visit
    head = visit.head
    words = [head.id, head.purpose, visit.plan.site.key, head.crew or ""]
    left = " · ".join(word for word in words if word)
    title = say(Message("plan.title"))
    return f"{left}{title:>{max(len(title) + 2, wide - len(left))}}"


def _section(label: str, texts: Iterable[str], wide: int) -> Iterator[str]:
    """Texts beside their label; a text with a tab is a row and stays as it is."""
    first = f"  {label:<{LABEL}}"
    rest = " " * len(first)
    for text in texts:
        if "\t" in text:
            yield first + text.replace("\t", "")
        else:
            lines = textwrap.wrap(
                TOGETHER.sub("\u00a0", text),
                wide,
                initial_indent=first,
                subsequent_indent=rest,
                break_on_hyphens=False,
            )
            yield from (line.replace("\u00a0", " ") for line in lines)
        first = rest


def _order(planned: PlannedVisit) -> Iterator[str]:
    if planned.incomplete:
        yield say(Message("plan.incomplete", {"missing": planned.incomplete}))
    else:
        yield say(Message("plan.complete"))


def _port(planned: PlannedVisit) -> str:
    found = planned.identity
    return say(
        Message(
            "plan.identity.port",
            {"hub": found.hub, "port": found.port, "serial": found.serial},
        )
    )


def _fibre(planned: PlannedVisit) -> Iterator[str]:
    found = planned.identity
    fibre = found.fibre
    if fibre is None:
        yield say(Message("plan.identity.none", {"scheme": found.scheme}))
        return
    words: list[str] = []
    name = say(
        Message(
            "plan.identity.fibre",
            {
                "tube": found.tube,
                "tube_colour": fibre.tube_colour or "",
                "fibre": fibre.fibre,
                "colour": fibre.fibre_colour,
                "code": fibre.code if found.tube else fibre.fibre_code,
                "position": fibre.position if found.tube else None,
                "scheme": found.scheme,
            },
        )
    )
    others = dict.fromkeys(item.colour for item in found.confusable)
    if others:
        values = {"colour": fibre.fibre_colour, "others": tuple(others)}
        words.append(say(Message("plan.identity.confusable", values)))
    if found.copper:
        words.append(say(Message("plan.identity.copper")))
    yield " ".join([f"{name}.", *words])
