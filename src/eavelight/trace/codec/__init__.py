"""Trace records: bytes to a reading and back, byte for byte."""

from eavelight.trace.codec.build import Settings, new_record
from eavelight.trace.codec.record import Curve, Note, StoredEvent, TraceRecord
from eavelight.trace.codec.registry import CODECS, Codec, decode, samples_digest
from eavelight.trace.codec.sr4731 import encode

__all__ = [
    "CODECS",
    "Codec",
    "Curve",
    "Note",
    "Settings",
    "StoredEvent",
    "TraceRecord",
    "decode",
    "encode",
    "new_record",
    "samples_digest",
]
