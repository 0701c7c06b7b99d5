"""Pictures: smaller, upright, free of hidden data, never a reason to fail."""

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from eavelight.app import evidence_files
from eavelight.closeout.pictures import LONGEST_SIDE_PX, UnshownPictureError, smaller


def stored(image, kind="PNG", **options):
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


@pytest.mark.parametrize(
    "mode", ["L", "RGB", "RGBA", "LA", "P", "1", "I;16", "I", "CMYK"]
)
def test_every_mode_of_a_picture_is_made_smaller(mode):
    image = Image.new(mode, (2000, 1000))
    kind = "JPEG" if mode == "CMYK" else "PNG"
    if mode == "I":
        kind = "TIFF"
    data, media_type = smaller(stored(image, kind))
    shown = Image.open(io.BytesIO(data))
    assert max(shown.size) == LONGEST_SIDE_PX
    assert media_type in {"image/png", "image/jpeg"}


def test_a_small_lossless_picture_keeps_its_pixels():
    image = Image.effect_noise((200, 200), 40)
    data, media_type = smaller(stored(image))
    assert media_type == "image/png"
    assert Image.open(io.BytesIO(data)).tobytes() == image.tobytes()


def test_place_and_camera_do_not_reach_the_document():
    exif = Image.Exif()
    exif[0x010F] = "a camera"
    exif[0x8825] = {1: "N", 2: (59.0, 0.0, 0.0)}
    raw = stored(Image.new("RGB", (300, 200)), "JPEG", exif=exif)
    assert b"a camera" in raw
    data, _ = smaller(raw)
    assert b"a camera" not in data
    assert not Image.open(io.BytesIO(data)).getexif()


def test_a_picture_held_sideways_is_turned_upright():
    exif = Image.Exif()
    exif[0x0112] = 6
    data, _ = smaller(stored(Image.new("RGB", (400, 200)), "JPEG", exif=exif))
    assert Image.open(io.BytesIO(data)).size == (200, 400)


def test_a_picture_of_absurd_size_is_refused_before_it_is_unpacked():
    raw = bytearray(stored(Image.new("L", (8, 8))))
    raw[16:24] = (60_000).to_bytes(4, "big") + (60_000).to_bytes(4, "big")
    with pytest.raises(UnshownPictureError, match=r"too_large|unknown_format"):
        smaller(bytes(raw))


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=200), st.integers(0, 600))
def test_broken_bytes_give_one_plain_error_or_a_picture(noise, cut):
    whole, reasons = stored(Image.effect_noise((40, 40), 30)), set()
    for raw in (noise, whole[:cut], whole[:cut] + noise + whole[cut + len(noise) :]):
        try:
            smaller(raw)
        except UnshownPictureError as error:
            reasons.add(str(error))
    assert reasons <= {"unknown_format", "too_large"}


def test_a_picture_that_cannot_be_shown_is_named_and_the_rest_goes_on(visit, rendered):
    folder = visit("incomplete")
    (folder / "evidence/house.jpg").write_bytes(b"not a picture")
    found = rendered(folder)
    assert "evidence/house.jpg is attached; it could not be shown" in found.html


def test_a_face_says_whether_it_was_graded(visit, rendered, made, monkeypatch):
    assert "Attached, not graded" not in made("bend").html
    monkeypatch.setattr(evidence_files, "_graded", lambda *_: None)
    assert "Attached, not graded" in rendered(visit("bend")).html
