import contextlib
import io

import numpy as np
import pytest
from PIL import Image

from eavelight.endface.picture import picture_from_array, read_picture
from eavelight.errors import EvidenceError

GREY = (np.arange(128 * 160).reshape(128, 160) % 251).astype(np.uint8)


def file_of(array, kind, **options):
    buffer = io.BytesIO()
    Image.fromarray(array).save(buffer, kind, **options)
    return buffer.getvalue()


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF"])
def test_lossless_formats_give_the_same_values(kind: str) -> None:
    assert np.allclose(read_picture(file_of(GREY, kind)).values, GREY / 255, atol=1e-6)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_16_bit_gives_the_same_picture_as_8_bit(kind: str) -> None:
    wide = GREY.astype(np.uint16) * 257
    assert np.allclose(read_picture(file_of(wide, kind)).values, GREY / 255, atol=1e-4)


def test_12_bit_data_in_16_bits_is_not_taken_for_a_dark_picture() -> None:
    deep = GREY.astype(np.uint16) * 16
    assert read_picture(file_of(deep, "PNG")).values.max() > 0.9


def test_jpeg_says_how_coarse_its_compression_is() -> None:
    fine = read_picture(file_of(GREY, "JPEG", quality=95)).block_step
    coarse = read_picture(file_of(GREY, "JPEG", quality=60)).block_step
    assert 0 < fine < coarse


def test_grey_colour_file_has_no_tint() -> None:
    colour = np.repeat(GREY[..., None], 3, axis=2)
    assert read_picture(file_of(colour, "PNG")).tint is None


def test_blue_lamp_is_not_a_tint_but_a_red_line_is() -> None:
    base = np.full((128, 128, 3), (40, 90, 120), np.uint8)
    base[60] = (255, 0, 0)
    tint = read_picture(file_of(base, "PNG")).tint
    assert tint[10].max() < 0.02
    assert tint[60].min() > 0.3


def test_palette_and_alpha_pictures_are_read() -> None:
    palette = Image.fromarray(GREY).convert("P")
    buffer = io.BytesIO()
    palette.save(buffer, "PNG")
    assert read_picture(buffer.getvalue()).values.shape == GREY.shape
    buffer = io.BytesIO()
    Image.fromarray(GREY).convert("LA").save(buffer, "PNG")
    assert np.allclose(read_picture(buffer.getvalue()).values, GREY / 255, atol=1e-6)


@pytest.mark.parametrize("cut", [0, 7, 40, 0.4, 0.9])
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "BMP"])
def test_truncated_file_is_one_clear_error(kind: str, cut: float) -> None:
    data = file_of(GREY, kind)
    with pytest.raises(EvidenceError):
        read_picture(data[: int(cut if cut > 1 else cut * len(data))])


def test_flipped_bytes_give_a_picture_or_one_clear_error() -> None:
    rng = np.random.default_rng(2)
    for kind in ("PNG", "JPEG", "TIFF", "BMP"):
        data = bytearray(file_of(GREY, kind))
        for _ in range(30):
            broken = bytearray(data)
            broken[rng.integers(0, min(len(data), 400))] ^= 1 << rng.integers(0, 8)
            with contextlib.suppress(EvidenceError):
                assert read_picture(bytes(broken)).values.ndim == 2


def test_other_formats_are_refused() -> None:
    with pytest.raises(EvidenceError, match="PNG, JPEG, TIFF or BMP"):
        read_picture(file_of(GREY, "GIF"))


def test_decompression_bomb_is_refused_before_it_is_decoded() -> None:
    buffer = io.BytesIO()
    Image.new("1", (30000, 30000)).save(buffer, "PNG")
    with pytest.raises(EvidenceError, match="at most"):
        read_picture(buffer.getvalue())


def test_tiny_picture_is_refused() -> None:
    with pytest.raises(EvidenceError, match="at least"):
        picture_from_array(np.zeros((20, 20), np.uint8))


def test_nan_is_refused() -> None:
    values = np.zeros((128, 128), np.float32)
    values[3, 3] = np.nan
    with pytest.raises(EvidenceError, match="NaN"):
        picture_from_array(values)
