"""Tables of fields: one list drives both reading and writing of a block."""

import struct
from dataclasses import dataclass
from typing import Any

from eavelight.trace.codec._source import Cursor

MOST_PULSES = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field: `form` is a struct format, `text`, `count`, or ends in `*`.

    `count` is the length of the starred fields behind it and has no name of its own.
    Fields with `since` 2 are absent from blocks of revision 1xx.
    """

    name: str
    form: str
    since: int = 1


def fields(*rows: str) -> tuple[Field, ...]:
    """Fields from rows of `name form` or `name form 2`."""
    found = []
    for row in rows:
        name, form, *since = row.split()
        found.append(Field(name=name, form=form, since=int(since[0]) if since else 1))
    return tuple(found)


GENERAL = fields(
    "language 2s", "cable_id text", "fibre_id text", "fibre_type h 2",
    "nominal_wavelength h", "originating_location text",
    "terminating_location text", "cable_code text", "data_flag 2s",
    "user_offset i", "user_offset_distance i 2", "operator text", "comment text",
)  # fmt: skip
SUPPLIER = fields(
    "supplier text", "mainframe text", "mainframe_serial text", "module text",
    "module_serial text", "software text", "other text",
)  # fmt: skip
FIXED = fields(
    "time I", "distance_unit 2s", "wavelength h", "acquisition_offset i",
    "acquisition_offset_distance i 2", "- count", "pulse_widths h*",
    "data_spacings i*", "points i*", "group_index i", "backscatter h", "averages i",
    "averaging_time H 2", "acquisition_range i", "acquisition_range_distance i 2",
    "front_panel_offset i", "noise_floor H", "noise_floor_scale h",
    "power_offset H", "loss_threshold H", "reflectance_threshold H",
    "end_threshold H", "trace_type 2s 2", "window 4i 2",
)  # fmt: skip
EVENT = fields(
    "number h", "time i", "lead_in h", "loss h", "reflectance i", "code 6s",
    "method 2s", "markers 5i 2", "comment text",
)  # fmt: skip
TOTALS = fields(
    "end_to_end_loss i", "end_to_end_markers 2i", "return_loss H",
    "return_loss_markers 2i",
)  # fmt: skip
LANDMARK = fields(
    "number h", "code 2s", "location i", "related_event h", "longitude i",
    "latitude i", "fibre_correction h", "sheath_entering i", "sheath_leaving i",
    "units 2s", "mode_field_diameter h", "comment text",
)  # fmt: skip


def read_fields(
    cursor: Cursor, table: tuple[Field, ...], *, version: int, block: str
) -> dict[str, Any]:
    """Values by name; a field that this version lacks is None."""
    values: dict[str, Any] = {}
    count = 0
    for field in table:
        what = f"{block} {field.name.replace('_', ' ')}"
        if field.since > version:
            values[field.name] = None
            continue
        cursor.source.places[f"{block}.{field.name}"] = cursor.place
        if field.form == "text":
            values[field.name] = cursor.text(what)
        elif field.form == "count":
            count = cursor.integer("h", f"{block} number of pulse widths")
            if not 1 <= count <= MOST_PULSES:
                wanted = f"1 to {MOST_PULSES} pulse widths"
                cursor.source.refuse(cursor.place - 2, wanted, count)
        elif field.form.endswith("*"):
            values[field.name] = cursor.numbers(f"{count}{field.form[0]}", what)
        else:
            found = cursor.numbers(field.form, what)
            values[field.name] = found[0] if len(found) == 1 else found
    return values


def write_fields(body: Any, table: tuple[Field, ...], *, version: int) -> bytes:
    """The bytes that `read_fields` reads; a value that is None is written as zero."""
    parts = []
    for field in table:
        if field.since > version:
            continue
        if field.form == "count":
            parts.append(pack("h", (len(body.pulse_widths),), "number of pulse widths"))
            continue
        value = getattr(body, field.name)
        if field.form == "text":
            parts.append(closed_text(value, field.name))
        elif field.form.endswith("*"):
            if len(value) != len(body.pulse_widths):
                raise ValueError(
                    f"{field.name} must have one entry per pulse width "
                    f"({len(body.pulse_widths)}), got {len(value)}"
                )
            parts.append(pack(f"{len(value)}{field.form[0]}", value, field.name))
        else:
            parts.append(_packed(field, value))
    return b"".join(parts)


def _packed(field: Field, value: Any) -> bytes:
    if value is None:
        return bytes(struct.calcsize("<" + field.form))
    if field.form.endswith("s") and len(value) != int(field.form[:-1]):
        raise ValueError(f"{field.name} must hold {field.form[:-1]} bytes, got {value}")
    return pack(field.form, value if isinstance(value, tuple) else (value,), field.name)


def pack(form: str, values: tuple[Any, ...], name: str) -> bytes:
    """Little-endian bytes, or an error that names the field."""
    try:
        return struct.pack("<" + form, *values)
    except struct.error as error:
        raise ValueError(f"{name} does not fit its field: {values} ({error})") from None


def closed_text(value: bytes, name: str) -> bytes:
    """Text with its closing zero byte."""
    if b"\0" in value:
        raise ValueError(f"{name} must not hold a zero byte, got {value!r}")
    return value + b"\0"
