import io

import numpy as np
from PIL import Image

from eavelight.demo.endface_simulator import Disc, Line, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.overlay import overlay_png
from eavelight.standards.endface_criteria import load


def shown(*, title="fail", **options):
    marks = (
        Disc(row_um=20, col_um=20, diameter_um=8),
        Line(row_um=-20, col_um=0, angle_deg=30, length_um=50, width_um=1.5),
    )
    picture = picture_from_array(draw(Scene(marks=marks), np.random.default_rng(1)))
    face = grade_picture(picture, load("pc"))
    png = overlay_png(picture, face, title=title, **options)
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


def test_a_close_view_shows_the_zones_and_nothing_far_from_them() -> None:
    near = shown(near=True, title="")
    assert max(near.shape[:2]) == 640
    # the rings of the outermost zone stand close to all four sides, whole
    ring = (near == 255).all(axis=2)
    rows, columns = np.flatnonzero(ring.any(axis=1)), np.flatnonzero(ring.any(axis=0))
    for found in (rows, columns):
        assert 10 < found[0] < 60
        assert 580 < found[-1] < 630


def test_a_close_view_of_nothing_found_is_the_whole_picture() -> None:
    picture = picture_from_array(np.full((200, 300), 90, np.uint8))
    png = overlay_png(picture, grade_picture(picture, load("pc")), near=True)
    assert Image.open(io.BytesIO(png)).size == (300, 200)
