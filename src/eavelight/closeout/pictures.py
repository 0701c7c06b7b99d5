"""Photos and end faces, made small enough for a page and freed of hidden data."""

import io
from collections.abc import Iterable
from typing import Any

from eavelight.closeout.document import Block, Paragraph, Picture, Pictures
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import side_name
from eavelight.model.observation import FileObservation

LONGEST_SIDE_PX = 880
FORMATS = ("JPEG", "PNG", "TIFF", "BMP", "WEBP")
MOST_PIXELS = 120_000_000
QUALITY = 82


class UnshownPictureError(Exception):
    """A picture that cannot be put on a page; the text is the id of the reason."""


def smaller(data: bytes) -> tuple[bytes, str]:
    """The picture for the page with its media type, upright and without metadata.

    Grey and lossless pictures stay lossless, so that an end face shows no artefacts
    of storing; where a photo was taken stays out of the document.
    """
    try:
        from PIL import Image, ImageOps
    except ImportError:
        raise UnshownPictureError("no_library") from None
    try:
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
        if picture.width * picture.height > MOST_PIXELS:
            raise UnshownPictureError("too_large")
        lossless = picture.format != "JPEG"
        picture.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
        upright = ImageOps.exif_transpose(picture)
        plain = _plain(upright)
        plain.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
        return _encoded(plain, lossless=lossless)
    except UnshownPictureError:
        raise
    except (OSError, ValueError, SyntaxError, MemoryError, ArithmeticError) as error:
        raise UnshownPictureError("unknown_format") from error
    except Exception as error:  # a picture library may raise anything on broken bytes
        raise UnshownPictureError("unknown_format") from error


def _plain(picture: Any) -> Any:
    """Grey or colour of eight bits, on white where it was transparent."""
    from PIL import Image

    if picture.mode in {"L", "RGB"}:
        return picture.copy()
    if picture.mode.startswith(("I", "F")):
        return picture.convert("F").point(_scale(picture)).convert("L")
    if picture.mode == "1":
        return picture.convert("L")
    if picture.mode in {"RGBA", "LA", "PA", "P"}:
        over = picture.convert("RGBA")
        ground = Image.new("RGBA", over.size, "white")
        return Image.alpha_composite(ground, over).convert("RGB")
    return picture.convert("RGB")


def _scale(picture: Any) -> Any:
    low, high = picture.getextrema()
    span = (high - low) or 1
    return lambda value: value * (255.0 / span) - low * 255.0 / span


def _encoded(picture: Any, *, lossless: bool) -> tuple[bytes, str]:
    stream = io.BytesIO()
    if lossless:
        picture.save(stream, "PNG", compress_level=3)
        if stream.tell() < 900_000:
            return stream.getvalue(), "image/png"
        stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=QUALITY, optimize=True)
    return stream.getvalue(), "image/jpeg"


def pictures_of(material: Material, files: Iterable[FileObservation]) -> list[Block]:
    """Pictures side by side; what cannot be shown says why."""
    shown: list[Picture] = []
    unshown: list[Block] = []
    for item in files:
        try:
            shown.append(_picture(material, item))
        except UnshownPictureError as error:
            reason = material.say(f"closeout.picture.{error}")
            text = material.say(
                "closeout.picture.unshown", file=item.evidence.file, error=reason
            )
            unshown.append(Paragraph(text=text))
    blocks: list[Block] = [Pictures(items=tuple(shown))] if shown else []
    return [*blocks, *unshown]


def _picture(material: Material, item: FileObservation) -> Picture:
    evidence = item.evidence
    raw = material.pictures.get(evidence.file)
    if raw is None:
        raise UnshownPictureError("absent")
    data, media_type = smaller(raw)
    place = material.place(evidence.at) if evidence.at else ""
    if evidence.what == "photo":
        view = material.say(f"closeout.view.{evidence.view or 'other'}")
        values = {"file": evidence.file, "view": view, "place": place}
        return Picture(
            data=data,
            media_type=media_type,
            alt=material.say("closeout.picture.alt_photo", **values),
            caption=material.say("closeout.picture.photo", **values),
        )
    cleaned = ""
    if evidence.cleaned is not None or evidence.cleaning:
        after = bool(evidence.cleaned or evidence.cleaning)
        cleaned = ", " + material.say(
            f"closeout.picture.{'after' if after else 'before'}"
        )
    values = {
        "file": evidence.file,
        "side": side_name(material, evidence.side or "plug"),
        "place": place,
        "cleaned": cleaned,
    }
    graded = "face_graded" if item.analysis is not None else "face"
    return Picture(
        data=data,
        media_type=media_type,
        alt=material.say("closeout.picture.alt_face", **values),
        caption=material.say(f"closeout.picture.{graded}", **values),
    )
