"""Traces as plots, with the events that are stored in them and those found here."""

from collections.abc import Sequence

import numpy as np

from eavelight.closeout.document import Block, Figure, Paragraph, Row, Table
from eavelight.closeout.figures import TraceMark, TracePlot
from eavelight.closeout.material import FoundEvent, Material
from eavelight.closeout.phrases import column
from eavelight.model.observation import FileObservation
from eavelight.trace.codec import StoredEvent, TraceRecord
from eavelight.wording import catalogue, quantity, with_uncertainty

BEYOND_END, LEAST_SHOWN_M = 0.15, 20.0
MOST_TOLD = 12
COLUMNS = ("number", "position", "kind", "event_loss", "reflectance")


def trace_blocks(material: Material, item: FileObservation) -> list[Block]:
    """The plot of one trace and the table under it."""
    record = item.content
    if not isinstance(record, TraceRecord):
        text = material.say(
            "closeout.trace.unread",
            file=item.evidence.file,
            error=item.error or material.say("closeout.picture.absent"),
        )
        return [Paragraph(text=text)]
    found = material.found_events.get(item.evidence.file, ())
    stored = record.stored_events
    shown: Sequence[StoredEvent | FoundEvent] = found or stored
    marks = tuple(
        _mark(number, event, offset_m=record.user_offset_m)
        for number, event in enumerate(shown, start=1)
    )
    plot = _plot(material, item, record, marks, own=bool(found))
    blocks: list[Block] = [_figure(material, item, record, plot, shown)]
    if found:
        blocks.append(_found_table(material, found))
    if stored:
        blocks.append(_stored_table(material, stored))
    return blocks


def _mark(
    number: int, event: StoredEvent | FoundEvent, *, offset_m: float
) -> TraceMark:
    """An event in the plot, from the instrument; stored ones count from its zero."""
    if isinstance(event, FoundEvent):
        return TraceMark(
            number=str(number), position_m=event.drawn_m, windows_m=event.windows_m
        )
    return TraceMark(number=str(number), position_m=event.position_m + offset_m)


def _plot(
    material: Material,
    item: FileObservation,
    record: TraceRecord,
    marks: tuple[TraceMark, ...],
    *,
    own: bool,
) -> TracePlot:
    curve = record.curves[0]
    positions = curve.positions_m
    end = _end(record, marks, float(positions[-1]) if positions.size else 1.0)
    say = material.say
    return TracePlot(
        positions_m=positions,
        samples_db=curve.samples_db,
        marks=marks,
        marks_label=say("closeout.trace.found" if own else "closeout.trace.stored"),
        x_label=say("closeout.trace.x"),
        y_label=say("closeout.trace.y"),
        from_m=float(positions[0]) if positions.size else 0.0,
        to_m=end,
        lead_m=item.evidence.lead_m,
        lead_label=say("closeout.trace.lead"),
    )


def _end(record: TraceRecord, marks: tuple[TraceMark, ...], last_m: float) -> float:
    """A little beyond the end of the fibre; everything where no end is known."""
    ends = [event.is_end for event in record.stored_events]
    if not marks or (len(ends) == len(marks) and not any(ends)):
        return last_m
    furthest = max(mark.position_m for mark in marks)
    room = max(BEYOND_END * furthest, LEAST_SHOWN_M)
    return min(last_m, furthest + room) if furthest > 0 else last_m


def _figure(
    material: Material,
    item: FileObservation,
    record: TraceRecord,
    plot: TracePlot,
    shown: Sequence[StoredEvent | FoundEvent],
) -> Figure:
    evidence = item.evidence
    found = bool(shown) and isinstance(shown[0], FoundEvent)
    name = "caption_found" if found else "caption" if shown else "caption_plain"
    values = {
        "file": evidence.file,
        "wavelength": record.wavelength_nm,
        "pulse": f"{record.pulse_ns[0]:g}" if record.pulse_ns else "?",
        "at": material.place(evidence.at) if evidence.at else "",
        "toward": material.place(evidence.toward) if evidence.toward else "",
    }
    told = " ".join(
        material.say(
            "closeout.trace.alt_event",
            number=mark.number,
            position=event.position_m,
            loss=event.loss_db,
            told=event.loss_db is not None,
        )
        for mark, event in list(zip(plot.marks, shown, strict=True))[:MOST_TOLD]
    )
    return Figure(
        name=f"trace-{item.sha256[:12]}",
        drawing=plot,
        alt=material.say(
            "closeout.trace.alt",
            file=evidence.file,
            wavelength=record.wavelength_nm,
            length=plot.to_m - plot.from_m,
            events=told or material.say("closeout.trace.alt_no_events"),
        ),
        caption=material.say(f"closeout.trace.{name}", **values),
    )


def _table(material: Material, title: str, rows: list[Row]) -> Table:
    weights = (0.5, 1.0, 1.4, 1.1, 1.3)
    return Table(
        title=material.say(title),
        columns=tuple(
            column(
                material,
                name,
                weight=weight,
                right=name in {"position", "event_loss", "reflectance"},
            )
            for name, weight in zip(COLUMNS, weights, strict=True)
        ),
        rows=tuple(rows),
    )


def _stored_table(material: Material, events: Sequence[StoredEvent]) -> Table:
    say = material.say
    rows = []
    for number, event in enumerate(events, start=1):
        kind = "kind_end" if event.is_end else "kind_plain"
        if event.reflective and not event.is_end:
            kind = "kind_reflective"
        if event.added_by_user:
            kind = "kind_user"
        reflectance = quantity(event.reflectance_db, "dB")
        if event.reflectance_db is None:
            reflectance = say("closeout.trace.none")
        elif event.saturated:
            reflectance = say("closeout.trace.bound", value=reflectance)
        rows.append(
            Row(
                cells=(
                    str(number),
                    quantity(event.position_m, "m"),
                    say(f"closeout.trace.{kind}"),
                    quantity(event.loss_db, "dB"),
                    reflectance,
                )
            )
        )
    return _table(material, "closeout.trace.table_stored", rows)


def _found_table(material: Material, events: Sequence[FoundEvent]) -> Table:
    rows = []
    for number, event in enumerate(events, start=1):
        rows.append(
            Row(
                cells=(
                    str(number),
                    with_uncertainty(event.position_m, event.position_u_m, "m"),
                    _kind(material, event.kind),
                    _decibels(event.loss_db, event.loss_u_db),
                    _reflectance(material, event),
                )
            )
        )
    return _table(material, "closeout.trace.table_found", rows)


def _kind(material: Material, kind: str) -> str:
    id = f"closeout.event_kind.{kind}"
    return material.say(id) if id in catalogue(material.language) else kind


def _decibels(value: float | None, u: float | None) -> str:
    if value is None or not np.isfinite(value):
        return ""
    return with_uncertainty(value, u, "dB")


def _reflectance(material: Material, event: FoundEvent) -> str:
    text = _decibels(event.reflectance_db, event.reflectance_u_db)
    if text and event.reflectance_is_bound:
        return material.say("closeout.trace.bound", value=text)
    return text
