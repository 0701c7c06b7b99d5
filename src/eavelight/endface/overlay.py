"""The picture for people: untouched, with thin zone rings and sizes in words."""

import importlib.util
import io
from pathlib import Path
from typing import Any

import numpy as np

from eavelight.endface.face import Face
from eavelight.endface.picture import Picture
from eavelight.errors import MissingFeatureError

RING = (255, 255, 255)
COUNTS = (255, 150, 70)
FREE = (140, 200, 255)


def _font() -> tuple[Any, bool]:
    """A font, and whether it has the sign for micro."""
    from PIL import ImageFont

    found = importlib.util.find_spec("matplotlib")
    if found is not None and found.origin is not None:
        path = Path(found.origin).parent / "mpl-data/fonts/ttf/DejaVuSans.ttf"
        if path.exists():
            return ImageFont.truetype(str(path), 13), True
    return ImageFont.load_default(), False


def _text(draw: Any, place: tuple[float, float], words: str, ink: Any) -> None:
    font, micro = _font()
    if not micro:
        words = words.replace("µ", "u").replace("≤", "<=")
    box = draw.textbbox(place, words, font=font)
    draw.rectangle((box[0] - 2, box[1] - 1, box[2] + 2, box[3] + 1), fill=(0, 0, 0))
    draw.text(place, words, fill=ink, font=font)


def _zones(draw: Any, face: Face, um: float) -> None:
    if face.fibre is None:
        return
    row, col = face.fibre.row_px, face.fibre.col_px
    for zone in face.criteria.zones:
        r = zone.outer_um / 2 / um
        draw.ellipse((col - r, row - r, col + r, row + r), outline=RING)
        _text(draw, (col + 0.72 * r, row - 0.72 * r), zone.name, RING)


def _marks(draw: Any, face: Face, um: float) -> None:
    if face.fibre is None or face.grade is None:
        return
    row, col = face.fibre.row_px, face.fibre.col_px
    for number, (mark, counts) in enumerate(
        zip(face.marks, face.grade.counts, strict=True), start=1
    ):
        ink = COUNTS if counts else FREE
        y, x = row + mark.row_um / um, col + mark.col_um / um
        width = 3 if counts else 1
        if mark.kind == "scratch":
            points = [
                (col + p[1] / um, row + p[0] / um + 4) for p in mark.outline_um[::3]
            ]
            if mark.pixels.size == 0 and len(points) > 1:
                draw.line(points, fill=ink, width=1)
        else:
            r = mark.size_um / 2 / um + 4
            draw.ellipse((x - r, y - r, x + r, y + r), outline=ink, width=width)
        if number <= 40:
            sign = "≤ " if mark.at_limit else ""
            word = "" if counts else " free"
            words = f"{sign}{mark.size_um:.1f} µm{word}"
            _text(draw, (x + mark.size_um / 2 / um + 6, y - 6), words, ink)


def overlay_png(
    picture: Picture, face: Face, *, title: str = "", zones: bool = True
) -> bytes:
    """PNG of the face with zones and marks; words say what colours only repeat.

    Parameters
    ----------
    picture : Picture
        Grey values [1]
    face : Face
        What was found in them [1]
    title : str, optional
        A line at the top, made by the caller [1]
    zones : bool, optional
        Whether the zone rings are drawn [1]

    Returns
    -------
    png : bytes
        The picture as a PNG file [1]
    """
    try:
        from PIL import Image, ImageDraw
    except ImportError as error:
        raise MissingFeatureError("face pictures", "image", str(error)) from error
    grey = np.clip(np.round(255 * picture.values), 0, 255).astype(np.uint8)
    image = Image.fromarray(grey).convert("RGB")
    pen = ImageDraw.Draw(image)
    if face.fibre is not None:
        um = face.fibre.um_per_px
        if zones:
            _zones(pen, face, um)
        _marks(pen, face, um)
    if title:
        _text(pen, (8, 8), title, RING)
    buffer = io.BytesIO()
    image.save(buffer, format="PNG", compress_level=1)
    return buffer.getvalue()
