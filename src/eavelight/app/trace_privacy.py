"""Traces without the names and places that their header may hold; samples untouched."""

from dataclasses import replace
from typing import Any

from eavelight.errors import EvidenceError
from eavelight.trace.codec import TraceRecord, decode, encode, samples_digest
from eavelight.trace.codec.blocks import (
    Checksum,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvents,
    SupplierParameters,
)

EMPTIED = (
    "cable_id", "fibre_id", "originating_location", "terminating_location",
    "cable_code", "operator", "comment",
)  # fmt: skip
KEPT = (FixedParameters, DataPoints, KeyEvents, SupplierParameters, Checksum)


def without_names(data: bytes) -> bytes | None:
    """The record with its texts about people and places emptied, landmarks left out.

    None where it cannot be rewritten safely.
    """
    try:
        record = decode(data)
        emptied = encode(_emptied(record))
        same = samples_digest(decode(emptied)) == samples_digest(record)
    except (EvidenceError, ValueError):
        return None
    return emptied if same else None


def _emptied(record: TraceRecord) -> TraceRecord:
    blocks = []
    for block in record.blocks:
        if isinstance(block.body, GeneralParameters):
            emptied: dict[str, Any] = dict.fromkeys(EMPTIED, b"")
            body = replace(block.body, **emptied)
            blocks.append(replace(block, body=body))
        elif isinstance(block.body, KeyEvents):
            events = tuple(replace(e, comment=b"") for e in block.body.events)
            blocks.append(replace(block, body=replace(block.body, events=events)))
        elif isinstance(block.body, KEPT):
            blocks.append(block)
    return replace(record, blocks=tuple(blocks), trailing=b"")
