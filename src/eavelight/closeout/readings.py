"""All readings, superseded ones marked, none left out."""

from datetime import datetime

from eavelight.assess.selection import Placed, Selection, thing
from eavelight.closeout.document import Paragraph, Row, Section, Table
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import column, side_name
from eavelight.model.observation import Reading
from eavelight.wording import quantity, with_uncertainty
from eavelight.wording.numbers import clock


def reading_section(material: Material) -> Section | None:
    """Every reading in order of time; None where there are none."""
    selection = material.context.selection
    if not selection.everything:
        return None
    dates = {item.reading.time.date() for item in selection.everything}
    one_day = len(dates) == 1
    rows = tuple(
        _row(material, selection, item, one_day=one_day)
        for item in selection.everything
    )
    name = "title_day" if one_day else "title"
    table = Table(
        title=material.say(f"closeout.readings.{name}", day=min(dates).isoformat()),
        columns=(
            column(material, "time", weight=0.7 if one_day else 1.25),
            column(material, "what", weight=2.1),
            column(material, "where", weight=1.2),
            column(material, "value", weight=1.5, right=True),
            column(material, "state", weight=1.4),
            column(material, "tool", weight=0.8),
            column(material, "id", weight=1.1, code=True),
            column(material, "counts", weight=1.3),
        ),
        rows=rows,
    )
    intro = Paragraph(text=material.say("closeout.readings.intro"))
    return Section(
        title=material.say("closeout.section.readings"), blocks=(intro, table)
    )


def _row(
    material: Material, selection: Selection, item: Placed, *, one_day: bool
) -> Row:
    reading = item.reading
    counts = any(item is kept for kept in selection.current)
    return Row(
        cells=(
            f"{reading.time:%H:%M}" if one_day else clock(reading.time),
            _what(material, reading),
            material.place(reading.at),
            value_text(material, reading),
            material.word(", ".join(reading.state)),
            reading.tool or "",
            reading.id,
            _counts(material, selection, item, counts=counts),
        ),
        mark="" if counts else "superseded",
    )


def _counts(
    material: Material, selection: Selection, item: Placed, *, counts: bool
) -> str:
    if counts:
        return material.say("closeout.readings.counts")
    later = [
        kept.reading.id
        for kept in selection.current
        if thing(kept.reading) == thing(item.reading)
    ]
    if not later:
        return material.say("closeout.readings.superseded_plain")
    return material.say("closeout.readings.superseded", by=later[-1])


def _what(material: Material, reading: Reading) -> str:
    """Kind of reading with what tells it from others of its kind."""
    say = material.say
    words = [say(f"reading_name.{reading.what}")]
    if reading.wavelength_nm is not None:
        words.append(quantity(reading.wavelength_nm, "nm"))
    if reading.side is not None:
        words.append(side_name(material, reading.side))
    if reading.attempt is not None:
        words.append(say("closeout.readings.attempt", value=reading.attempt))
    if reading.strands is not None:
        words.append(say("closeout.readings.strands", value=reading.strands))
    if reading.load_w is not None:
        words.append(say("closeout.readings.load", value=reading.load_w))
    others = ("direction", "end", "colour", "tracer", "kind", "line", "lamp", "entry")
    given = (getattr(reading, name) for name in others)
    words += [material.word(str(item)) for item in given if item]
    return ", ".join(words)


def value_text(material: Material, reading: Reading) -> str:
    """The value with unit and twice its standard uncertainty."""
    value = reading.value
    if isinstance(value, bool):
        return material.say(f"closeout.readings.{'yes' if value else 'no'}")
    if isinstance(value, datetime):
        return clock(value)
    if isinstance(value, str):
        return material.word(value)
    if reading.below:
        text = quantity(reading.number, reading.unit or "")
        return material.say("closeout.readings.below", value=text)
    return with_uncertainty(reading.number, material.u_of(reading), reading.unit or "")
