"""The picture for people: untouched, with thin zone rings and sizes in words."""

import importlib.util
import io
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from eavelight.endface.face import Face
from eavelight.endface.fibre import Fibre
from eavelight.endface.marks import Mark
from eavelight.endface.picture import Picture
from eavelight.errors import MissingFeatureError

RING = (255, 255, 255)
COUNTS = (255, 150, 70)
FREE = (140, 200, 255)


# a close view is this wide, so that letters can still be read on a telephone
NEAR_PX, NEAR_LETTER_PX, LETTER_PX = 640, 24, 13
AROUND = 1.12


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Where to draw: the fibre's centre and scale on the picture, and letter size."""

    pen: Any
    row_px: float
    col_px: float
    um_per_px: float
    letter_px: int = LETTER_PX

    @property
    def line_px(self) -> int:
        return max(1, round(self.letter_px / LETTER_PX))


@cache
def _font(size_px: int) -> tuple[Any, bool]:
    """A font, and whether it has the sign for micro."""
    from PIL import ImageFont

    found = importlib.util.find_spec("matplotlib")
    if found is not None and found.origin is not None:
        path = Path(found.origin).parent / "mpl-data/fonts/ttf/DejaVuSans.ttf"
        if path.exists():
            return ImageFont.truetype(str(path), size_px), True
    return ImageFont.load_default(), False


def _text(sheet: _Sheet, place: tuple[float, float], words: str, ink: Any) -> None:
    font, micro = _font(sheet.letter_px)
    if not micro:
        words = words.replace("µ", "u").replace("≤", "<=")
    box = sheet.pen.textbbox(place, words, font=font)
    around = (box[0] - 2, box[1] - 1, box[2] + 2, box[3] + 1)
    sheet.pen.rectangle(around, fill=(0, 0, 0))
    sheet.pen.text(place, words, fill=ink, font=font)


def _zones(sheet: _Sheet, face: Face) -> None:
    row, col = sheet.row_px, sheet.col_px
    for zone in face.criteria.zones:
        r = zone.outer_um / 2 / sheet.um_per_px
        box = (col - r, row - r, col + r, row + r)
        sheet.pen.ellipse(box, outline=RING, width=sheet.line_px)
        _text(sheet, (col + 0.72 * r, row - 0.72 * r), zone.name, RING)


def _marks(sheet: _Sheet, face: Face) -> None:
    if face.grade is None:
        return
    counted = zip(face.marks, face.grade.counts, strict=True)
    for number, (mark, counts) in enumerate(counted, start=1):
        _ring(sheet, mark, counts=counts)
        if number <= 40:
            _size(sheet, mark, counts=counts)


def _ring(sheet: _Sheet, mark: Mark, *, counts: bool) -> None:
    """A ring around a mark, or a line beside a scratch that has no pixels."""
    ink, um = COUNTS if counts else FREE, sheet.um_per_px
    y, x = sheet.row_px + mark.row_um / um, sheet.col_px + mark.col_um / um
    if mark.kind == "scratch":
        points = [
            (sheet.col_px + p[1] / um, sheet.row_px + p[0] / um + 4)
            for p in mark.outline_um[::3]
        ]
        if mark.pixels.size == 0 and len(points) > 1:
            sheet.pen.line(points, fill=ink, width=sheet.line_px)
        return
    r = mark.size_um / 2 / um + 4
    width = sheet.line_px * (3 if counts else 1)
    sheet.pen.ellipse((x - r, y - r, x + r, y + r), outline=ink, width=width)


def _size(sheet: _Sheet, mark: Mark, *, counts: bool) -> None:
    um = sheet.um_per_px
    y, x = sheet.row_px + mark.row_um / um, sheet.col_px + mark.col_um / um
    sign = "≤ " if mark.at_limit else ""
    words = f"{sign}{mark.size_um:.1f} µm{'' if counts else ' free'}"
    place = (x + mark.size_um / 2 / um + 6, y - sheet.letter_px / 2)
    _text(sheet, place, words, COUNTS if counts else FREE)


def _near(image: Any, fibre: Fibre, radius_um: float) -> tuple[Any, _Sheet]:
    """The square around the zones, drawn up; the whole where it is no larger."""
    from PIL import Image, ImageDraw

    half = AROUND * radius_um / fibre.um_per_px
    left, top = max(fibre.col_px - half, 0.0), max(fibre.row_px - half, 0.0)
    right = min(fibre.col_px + half, float(image.width))
    low = min(fibre.row_px + half, float(image.height))
    scale = NEAR_PX / max(right - left, low - top)
    size = (round(scale * (right - left)), round(scale * (low - top)))
    cut = image.resize(size, Image.Resampling.LANCZOS, box=(left, top, right, low))
    sheet = _Sheet(
        pen=ImageDraw.Draw(cut),
        row_px=scale * (fibre.row_px - top),
        col_px=scale * (fibre.col_px - left),
        um_per_px=fibre.um_per_px / scale,
        letter_px=NEAR_LETTER_PX,
    )
    return cut, sheet


def _sheet(picture: Picture, face: Face, *, near: bool) -> tuple[Any, _Sheet]:
    """The grey picture, or its part around the zones, with a pen for it."""
    from PIL import Image, ImageDraw

    grey = np.clip(np.round(255 * picture.values), 0, 255).astype(np.uint8)
    image, fibre = Image.fromarray(grey), face.fibre
    if near and fibre is not None:
        outer_um = max(zone.outer_um for zone in face.criteria.zones)
        cut, sheet = _near(image.convert("RGB"), fibre, outer_um / 2)
        return cut, sheet
    image = image.convert("RGB")
    row, col, um = (fibre.row_px, fibre.col_px, fibre.um_per_px) if fibre else (0, 0, 1)
    pen = ImageDraw.Draw(image)
    return image, _Sheet(pen=pen, row_px=row, col_px=col, um_per_px=um)


def overlay_png(
    picture: Picture,
    face: Face,
    *,
    title: str = "",
    zones: bool = True,
    near: bool = False,
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
    near : bool, optional
        Only the zones, drawn up to 640 pixels; the whole picture where no fibre was
        found [1]

    Returns
    -------
    png : bytes
        The picture as a PNG file [1]
    """
    try:
        image, sheet = _sheet(picture, face, near=near)
    except ImportError as error:
        raise MissingFeatureError("face pictures", "image", str(error)) from error
    if face.fibre is not None:
        if zones:
            _zones(sheet, face)
        _marks(sheet, face)
    if title:
        _text(sheet, (8, 8), title, RING)
    buffer = io.BytesIO()
    image.save(buffer, format="PNG", compress_level=1)
    return buffer.getvalue()
