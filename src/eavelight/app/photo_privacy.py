"""Pictures without what they tell beside the picture: position, camera, owner.

Pixels are not touched. Of the metadata only how the picture is to be turned is kept.
A kind of file that is not understood here is not guessed at: None is returned.
"""

import struct
from collections.abc import Iterator

JPEG, PNG, WEBP = b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"RIFF"
ORIENTATION = 0x0112
SOI, SOS, EOI = 0xD8, 0xDA, 0xD9
# APP0 (JFIF), APP2 (colour profile) and APP14 (colour transform) are needed to draw
DRAWN_APPS = (0xE0, 0xE2, 0xEE)
COMMENT = 0xFE
PNG_TOLD = (b"eXIf", b"tEXt", b"zTXt", b"iTXt", b"tIME")
WEBP_TOLD = (b"EXIF", b"XMP ")


def without_position(data: bytes) -> bytes | None:
    """The same picture without its metadata; None for an unknown kind of file."""
    try:
        if data.startswith(JPEG):
            return _jpeg(data)
        if data.startswith(PNG):
            return _png(data)
        if data.startswith(WEBP) and data[8:12] == b"WEBP":
            return _webp(data)
    except (struct.error, IndexError, ValueError):
        return None
    return None


def _jpeg(data: bytes) -> bytes:
    out, turned = bytearray(data[:2]), None
    for marker, segment in _segments(data):
        if marker == 0xE1 and segment[4:10] == b"Exif\0\0":
            turned = _orientation(segment[10:]) or turned
        elif marker in DRAWN_APPS or not (0xE0 <= marker <= 0xEF or marker == COMMENT):
            out += segment
    if turned not in (None, 1):
        out[2:2] = _only_orientation(int(turned or 1))
    return bytes(out)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    place = 2
    while place < len(data):
        if data[place] != 0xFF:
            raise ValueError("data must be segments of a JPEG")
        marker = data[place + 1]
        if marker == 0xFF:
            place += 1
            continue
        if marker in {SOS, EOI}:
            end = data.rfind(b"\xff\xd9")
            # what follows the end of the picture is no picture
            stop = end + 2 if end >= place else len(data)
            yield marker, data[place:stop]
            return
        size = 2 + struct.unpack_from(">H", data, place + 2)[0]
        if place + size > len(data):
            raise ValueError("data must hold whole segments")
        yield marker, data[place : place + size]
        place += size


def _orientation(tiff: bytes) -> int | None:
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return None
    start = struct.unpack_from(f"{order}I", tiff, 4)[0]
    if start + 2 > len(tiff):
        return None
    count = struct.unpack_from(f"{order}H", tiff, start)[0]
    for index in range(count):
        place = start + 2 + 12 * index
        if place + 12 > len(tiff):
            return None
        if struct.unpack_from(f"{order}H", tiff, place)[0] == ORIENTATION:
            value = int(struct.unpack_from(f"{order}H", tiff, place + 8)[0])
            return value if 1 <= value <= 8 else None
    return None


def _only_orientation(value: int) -> bytes:
    """An Exif segment with one entry."""
    tiff = b"MM\0*\0\0\0\x08" + struct.pack(
        ">HHHIHHI", 1, ORIENTATION, 3, 1, value, 0, 0
    )
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _png(data: bytes) -> bytes:
    out, place = bytearray(PNG), len(PNG)
    while place < len(data):
        size = struct.unpack_from(">I", data, place)[0]
        kind, end = data[place + 4 : place + 8], place + 12 + size
        if end > len(data):
            raise ValueError("data must hold whole chunks")
        if kind not in PNG_TOLD:
            out += data[place:end]
        place = end
        if kind == b"IEND":
            break
    return bytes(out)


def _webp(data: bytes) -> bytes:
    chunks, place = bytearray(), 12
    while place + 8 <= len(data):
        kind = data[place : place + 4]
        size = struct.unpack_from("<I", data, place + 4)[0]
        end = place + 8 + size + size % 2
        chunk = bytearray(data[place:end])
        if kind == b"VP8X":
            # the flags that announce Exif and XMP
            chunk[8] &= 0xFF ^ 0x0C
        if kind not in WEBP_TOLD:
            chunks += chunk
        place = end
    return WEBP + struct.pack("<I", len(chunks) + 4) + b"WEBP" + bytes(chunks)
