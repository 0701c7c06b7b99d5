import io

import numpy as np
from PIL import Image

from eavelight.demo.endface_simulator import Disc, Line, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.overlay import overlay_png
from eavelight.standards.endface_criteria import load


def shown(**options):
    marks = (
        Disc(row_um=20, col_um=20, diameter_um=8),
        Line(row_um=-20, col_um=0, angle_deg=30, length_um=50, width_um=1.5),
    )
    picture = picture_from_array(draw(Scene(marks=marks), np.random.default_rng(1)))
    face = grade_picture(picture, load("pc"))
    png = overlay_png(picture, face, title="fail", **options)
    return np.asarray(Image.open(io.BytesIO(png)))


def test_overlay_has_the_size_of_the_picture() -> None:
    assert shown().shape == (960, 1280, 3)


def test_zone_rings_can_be_switched_off() -> None:
    assert (shown() != shown(zones=False)).any()


def test_same_face_gives_the_same_picture() -> None:
    assert (shown() == shown()).all()


def test_refused_picture_still_gets_an_overlay() -> None:
    picture = picture_from_array(np.full((200, 300), 90, np.uint8))
    png = overlay_png(picture, grade_picture(picture, load("pc")), title="refused")
    assert png.startswith(b"\x89PNG")
