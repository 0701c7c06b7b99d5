"""A trace in the JSON of the contract: add, never rename."""

import math
from typing import Any

from eavelight.app.trace_files import TraceFile
from eavelight.trace.codec import StoredEvent, TraceRecord
from eavelight.trace.results import Event, Joined, JoinedEvent, Section

SCHEMA = "eavelight.trace/1"


def plain(value: float | None, digits: int = 6) -> float | None:
    """A number without noise digits; what is not finite is absent."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)


def trace_json(item: TraceFile) -> dict[str, Any]:
    """One file as plain data."""
    head: dict[str, Any] = {"schema": SCHEMA, "file": item.path}
    record, analysis = item.record, item.analysis
    if record is None or analysis is None:
        return head | {"error": item.error or "not read"}
    return head | {
        "wavelength_nm": plain(analysis.wavelength_nm, 2),
        "pulse_ns": plain(analysis.pulse_ns, 3),
        "group_index": plain(analysis.group_index),
        "sample_spacing_m": plain(analysis.sample_spacing_m),
        "backscatter_db": plain(analysis.backscatter_db, 3),
        "events": [event_json(event) for event in analysis.events],
        "sections": [section_json(section) for section in analysis.sections],
        "length_m": plain(analysis.length_m, 3),
        "length_u_m": plain(analysis.length_u_m, 3),
        "loss_db": plain(analysis.loss_db, 4),
        "loss_u_db": plain(analysis.loss_u_db, 4),
        "orl_db": plain(analysis.orl_db, 3),
        "noise_floor_db": plain(analysis.noise_floor_db, 3),
        "points": analysis.points,
        "stored_events": [stored_json(event) for event in record.stored_events],
        "acquired": record.acquired.isoformat() if record.acquired else None,
        "notes": [*analysis.notes, *record_notes(record)],
    }


def record_notes(record: TraceRecord) -> list[str]:
    """What the reader tolerated."""
    return [str(note) for note in record.notes]


def event_json(event: Event) -> dict[str, Any]:
    """One event of the analysis."""
    return {
        "position_m": plain(event.position_m, 4),
        "position_u_m": plain(event.position_u_m, 4),
        "kind": event.kind,
        "reflective": bool(event.reflective),
        "loss_db": plain(event.loss_db, 5),
        "loss_u_db": plain(event.loss_u_db, 5),
        "reflectance_db": plain(event.reflectance_db, 3),
        "reflectance_u_db": plain(event.reflectance_u_db, 3),
        "reflectance_is_bound": bool(event.reflectance_is_bound),
        "merged": bool(event.merged),
        "start_m": plain(event.start_m, 4),
        "end_m": plain(event.end_m, 4),
    }


def section_json(section: Section) -> dict[str, Any]:
    """One stretch of fibre."""
    return {
        "from_m": plain(section.from_m, 4),
        "to_m": plain(section.to_m, 4),
        "attenuation_db_per_km": plain(section.attenuation_db_per_km),
        "u": plain(section.u),
    }


def stored_json(event: StoredEvent) -> dict[str, Any]:
    """One event as the file stores it; shown, never trusted."""
    return {
        "position_m": plain(event.position_m, 4),
        "loss_db": plain(event.loss_db, 4),
        "reflectance_db": plain(event.reflectance_db, 3),
        "code": event.code,
        "comment": event.comment,
    }


def joined_json(joined: Joined) -> dict[str, Any]:
    """Several traces of one line, read as one."""
    return {
        "events": [joined_event_json(event) for event in joined.events],
        "length_m": plain(joined.length_m, 3),
        "end_moved_m": plain(joined.end_moved_m, 3),
        "notes": list(joined.notes),
    }


def joined_event_json(event: JoinedEvent) -> dict[str, Any]:
    """One place in the light of all traces."""
    return {
        "position_m": plain(event.position_m, 4),
        "position_u_m": plain(event.position_u_m, 4),
        "kind": event.kind,
        "reflective": bool(event.reflective),
        "merged": bool(event.merged),
        "loss_db": {
            str(nm): {"value": plain(loss.value, 5), "u": plain(loss.u, 5)}
            for nm, loss in sorted(event.loss_db.items())
        },
        "two_way_loss_db": plain(event.two_way_loss_db, 5),
        "two_way_loss_u_db": plain(event.two_way_loss_u_db, 5),
        "mode_field_step_db": plain(event.mode_field_step_db, 5),
        "true_loss_db": plain(event.true_loss_db, 5),
        "true_loss_u_db": plain(event.true_loss_u_db, 5),
        "bend_probability": plain(event.bend_probability, 5),
        "change": event.change,
        "change_db": plain(event.change_db, 5),
        "change_u_db": plain(event.change_u_db, 5),
    }
