"""Which layouts can be read here, and why another one cannot."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from eavelight.errors import EvidenceError
from eavelight.trace.codec.record import TraceRecord
from eavelight.trace.codec.sr4731 import decode_sr4731, recognises


class Decoder(Protocol):
    """Makes a record of bytes, or raises one EvidenceError."""

    def __call__(
        self, data: bytes, *, name: str, strict: bool = False
    ) -> TraceRecord: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Codec:
    """One layout: how to tell it, how to read it, or why that is impossible here."""

    title: str
    suffixes: tuple[str, ...]
    recognises: Callable[[bytes], bool]
    decode: Decoder | None
    unavailable_because: str | None = None

    @property
    def available(self) -> bool:
        """Records of this layout can be read here."""
        return self.decode is not None


CODECS: tuple[Codec, ...] = (
    Codec(
        title="SR-4731, versions 1 and 2",
        suffixes=(".sor",),
        recognises=recognises,
        decode=decode_sr4731,
    ),
)


def decode(
    data: bytes,
    *,
    name: str = "record",
    strict: bool = False,
    codecs: tuple[Codec, ...] = CODECS,
) -> TraceRecord:
    """Read the bytes of a trace file with the first layout that recognises them.

    Parameters
    ----------
    data : bytes
        Content of a file [byte]
    name : str, optional
        What to call the file in an error [text]
    strict : bool, optional
        Refuse what a tolerant reading only notes [1]
    codecs : tuple of Codec, optional
        Layouts to try, in order [1]

    Returns
    -------
    record : TraceRecord
        The reading, with notes of what was tolerated [1]

    Raises
    ------
    EvidenceError
        If no layout can read the bytes; says at which byte, and what each lacks.
    """
    lacking = []
    for codec in codecs:
        if not codec.recognises(data):
            lacking.append(codec.title)
        elif codec.decode is None:
            lacking.append(f"{codec.title} (not here: {codec.unavailable_because})")
        else:
            return codec.decode(data, name=name, strict=strict)
    wanted = "a trace record (" + "; ".join(lacking) + ")"
    shown = data[:4].hex(" ") or "an empty file"
    raise EvidenceError(name, "byte 0", wanted, shown)


def samples_digest(record: TraceRecord) -> str:
    """SHA-256 over the samples alone: equal for copies under another header.

    Parameters
    ----------
    record : TraceRecord
        A decoded record [1]

    Returns
    -------
    digest : str
        64 hexadecimal digits [text]
    """
    digest = hashlib.sha256()
    for part in record.data.sets:
        digest.update(part.raw)
    return digest.hexdigest()
