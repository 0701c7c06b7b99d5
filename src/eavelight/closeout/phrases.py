"""Findings, numbers and limits as rows that people read."""

from collections.abc import Iterable

from eavelight.closeout.document import Block, Column, Paragraph, Row, Table
from eavelight.closeout.material import Material
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.wording import quantity, with_uncertainty

MARKS = {
    Verdict.PASS: "✓",
    Verdict.FAIL: "✕",
    Verdict.UNDECIDED: "?",
    Verdict.NOT_MEASURED: "·",
}
RATIO = "1"
FIRM = ("seen", "stated", "computed")


def clip(text: str, most: int) -> str:
    """The text, cut after so many characters; the whole stands elsewhere.

    >>> clip("a long reason", 7)
    'a long…'
    """
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def answer(material: Material, item: Finding) -> str:
    """The verdict as shape and word."""
    word = material.say(f"verdict.{item.verdict.value.replace(' ', '_')}")
    return f"{MARKS[item.verdict]} {word}"


def quantity_text(material: Material, value: Quantity | None) -> str:
    """A value with its unit and twice its standard uncertainty."""
    if value is None:
        return ""
    if isinstance(value.value, str):
        return material.word(value.value)
    if value.unit == RATIO:
        return number_text(value.value, RATIO)
    return with_uncertainty(value.value, value.u, value.unit)


def number_text(value: float | None, unit: str) -> str:
    """A number with its unit; a plain ratio has none and may be very small.

    >>> number_text(1.234e-13, "1")
    '1.2e-13'
    """
    if unit == RATIO and value is not None:
        return f"{value:.2g}"
    return quantity(value, unit)


def limit_text(material: Material, limit: Limit | None) -> str:
    """A limit in words, provisional ones named so."""
    if limit is None or (limit.low is None and limit.high is None):
        return ""
    low, high = number_text(limit.low, limit.unit), number_text(limit.high, limit.unit)
    if limit.low is not None and limit.high is not None:
        text = material.say("bound.range", low=low, high=high)
    elif limit.high is not None:
        text = material.say("bound.high", high=high)
    else:
        text = material.say("bound.low", low=low)
    if limit.confidence in FIRM:
        return text
    return material.say("bound.provisional", limit=text)


def what(material: Material, item: Finding, *, placed: bool = True) -> str:
    """What a finding is about: requirement, place, side, wavelength."""
    parts = [material.requirement(item.requirement)]
    if placed:
        parts.append(material.place(item.subject))
    side = item.because.values.get("side")
    if isinstance(side, str):
        parts.append(side_name(material, side))
    if item.wavelength_nm is not None:
        parts.append(quantity(item.wavelength_nm, "nm"))
    if item.advisory:
        parts.append(material.say("closeout.advice"))
    return " · ".join(parts)


def side_name(material: Material, side: str) -> str:
    """The side of a connector in words."""
    key = side.replace(" ", "_")
    known = ("plug", "adapter", "equipment_plug")
    return material.say(f"closeout.side.{key}") if key in known else side


def sentences(material: Material, item: Finding) -> tuple[str, ...]:
    """Why, what would decide it, and whether somebody went on anyway."""
    found = [material.told(item.because)]
    if item.decide_by is not None and item.verdict is not Verdict.PASS:
        text = material.told(item.decide_by)
        found.append(material.say("closeout.findings.decide", text=text))
    if item.exception is not None:
        who = item.exception.accepted_by or material.say("closeout.exception.nobody")
        reason = item.exception.reason
        found.append(
            material.say("closeout.findings.exception", reason=_closed(reason), who=who)
        )
    return tuple(found)


def _closed(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."


def finding_row(
    material: Material, item: Finding, *, notes: bool = True, placed: bool = True
) -> Row:
    """One finding as a row, its sentences under it."""
    measured, limit = (
        quantity_text(material, item.measured),
        limit_text(material, item.limit),
    )
    if item.expected is not None and not (measured and limit):
        value = quantity_text(material, item.expected)
        expected = material.say("bound.expected", value=value)
        measured, limit = (measured, expected) if not limit else (expected, limit)
    return Row(
        cells=(
            answer(material, item),
            what(material, item, placed=placed),
            measured,
            limit,
        ),
        mark=item.verdict.value,
        notes=sentences(material, item) if notes else (),
    )


def finding_table(
    material: Material,
    items: Iterable[Finding],
    *,
    title: str = "",
    notes: bool = True,
    placed: bool = True,
) -> Table:
    """Findings as a table."""
    return Table(
        title=title,
        columns=(
            column(material, "answer", weight=1.5),
            column(material, "what", weight=4.4),
            column(material, "measured", weight=1.7),
            column(material, "limit", weight=2.0),
        ),
        rows=tuple(
            finding_row(material, item, notes=notes, placed=placed) for item in items
        ),
    )


def finding_blocks(
    material: Material, items: Iterable[Finding], *, placed: bool = True
) -> list[Block]:
    """Findings as a table; those that nobody asked for and nobody saw in one line."""
    listed = list(items)
    silent = [
        item
        for item in listed
        if item.verdict is Verdict.NOT_MEASURED
        and not item.required
        and item.exception is None
        and item.measured is None
    ]
    told = [item for item in listed if item not in silent]
    blocks: list[Block] = []
    if told:
        blocks.append(finding_table(material, told, placed=placed))
    if silent:
        names = "; ".join(what(material, item, placed=placed) for item in silent)
        text = material.say("closeout.findings.silent", names=names)
        blocks.append(Paragraph(text=text))
    return blocks


def column(
    material: Material,
    name: str,
    *,
    weight: float = 1.0,
    right: bool = False,
    code: bool = False,
) -> Column:
    """A column by the name of its head."""
    return Column(
        title=material.say(f"closeout.column.{name}"),
        align="right" if right else "left",
        weight=weight,
        code=code,
    )
