"""What a file is, by its first bytes; the name that it came with plays no part."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """A kind of file that is taken."""

    ending: str
    media_type: str
    whats: tuple[str, ...]
    most_bytes: int


PICTURE = ("photo", "endface")
CONTENT: dict[str, Content] = {
    "jpeg": Content(
        ending="jpg", media_type="image/jpeg", whats=PICTURE, most_bytes=30_000_000
    ),
    "png": Content(
        ending="png", media_type="image/png", whats=PICTURE, most_bytes=30_000_000
    ),
    "webp": Content(
        ending="webp", media_type="image/webp", whats=PICTURE, most_bytes=30_000_000
    ),
    "bmp": Content(
        ending="bmp", media_type="image/bmp", whats=("endface",), most_bytes=30_000_000
    ),
    "tiff": Content(
        ending="tif", media_type="image/tiff", whats=("endface",), most_bytes=30_000_000
    ),
    "trace": Content(
        ending="sor",
        media_type="application/octet-stream",
        whats=("trace",),
        most_bytes=16_000_000,
    ),
}
STARTS = (
    (b"\xff\xd8\xff", "jpeg"),
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"BM", "bmp"),
    (b"II*\0", "tiff"),
    (b"MM\0*", "tiff"),
    (b"Map\0", "trace"),
)
SHOWN = {"image/jpeg", "image/png", "image/webp"}
"""Media types that a browser is given to show; anything else is only downloaded."""


def content_of(data: bytes) -> Content | None:
    """The kind of file that bytes are; None for what is not taken."""
    if data[:4] == b"RIFF":
        return CONTENT["webp"] if data[8:12] == b"WEBP" else None
    for start, name in STARTS:
        if data.startswith(start):
            return CONTENT[name]
    # the first format of traces has no map in front
    return CONTENT["trace"] if b"GenParams" in data[:4096] else None
