"""Walking through bytes that may lie: bounds first, then one clear error or a note."""

import struct
from typing import Any, NoReturn

from eavelight.errors import EvidenceError
from eavelight.trace.codec.record import Note

MOST_NOTES = 64


class Source:
    """The bytes of one file, and what was noticed while reading them."""

    def __init__(self, data: bytes, name: str, *, strict: bool) -> None:
        self.data = data
        self.name = name
        self.strict = strict
        self.places: dict[str, int] = {}
        self._notes: dict[Note, None] = {}

    @property
    def notes(self) -> tuple[Note, ...]:
        return tuple(self._notes)

    def refuse(self, byte: int, expected: str, found: object) -> NoReturn:
        raise EvidenceError(self.name, f"byte {byte}", expected, str(found))

    def note(self, kind: str, byte: int, expected: str, *, found: object) -> None:
        if self.strict:
            self.refuse(byte, expected, found)
        if len(self._notes) < MOST_NOTES:
            note = Note(kind=kind, byte=byte, expected=expected, found=str(found))
            self._notes[note] = None


class Cursor:
    """A position between two ends of a source; never looks outside them."""

    def __init__(self, source: Source, start: int, end: int) -> None:
        self.source = source
        self.place = start
        self.end = end

    def take(self, size: int, what: str) -> bytes:
        left = self.end - self.place
        if size > left:
            self.source.refuse(self.place, f"{what} ({size} bytes)", f"{left} bytes")
        start, self.place = self.place, self.place + size
        return self.source.data[start : self.place]

    def numbers(self, form: str, what: str) -> tuple[Any, ...]:
        form = "<" + form
        return struct.unpack(form, self.take(struct.calcsize(form), what))

    def integer(self, form: str, what: str) -> int:
        return int(self.numbers(form, what)[0])

    def text(self, what: str) -> bytes:
        stop = self.source.data.find(b"\0", self.place, self.end)
        if stop < 0:
            self.source.refuse(
                self.place, f"{what}, closed by a zero byte", "no zero byte"
            )
        found = self.source.data[self.place : stop]
        self.place = stop + 1
        return found

    def rest(self) -> bytes:
        return self.take(self.end - self.place, "the rest")
