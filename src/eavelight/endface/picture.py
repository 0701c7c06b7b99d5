"""Bytes of a picture to grey values; the only place that knows picture formats."""

import io
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.errors import EvidenceError, MissingFeatureError

FORMATS = ("PNG", "JPEG", "TIFF", "BMP")
MAX_BYTES = 80_000_000
MAX_PIXELS = 40_000_000
MIN_SIDE_PX = 96
_ADVICE = "export the picture again as PNG, JPEG, TIFF or BMP"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """Grey values 0 to 1, rows first.

    `step` is one grey level of the file, `tint` the largest departure of a pixel's
    colour from the colour of the light (0 for a grey file), `block_step` the grey
    height of the coarsest ripple that lossy compression may leave (0 if lossless).
    """

    values: NDArray[np.float32]
    step: float
    tint: NDArray[np.float32] | None
    block_step: float = 0.0
    notes: tuple[str, ...] = ()


def _fail(expected: str, found: str, advice: str = _ADVICE) -> EvidenceError:
    return EvidenceError("picture", "file", expected, found, advice=advice)


def _full_scale(values: NDArray[Any]) -> float:
    """White level of the container; 10 and 12 bit data often sit in 16 bits."""
    if values.dtype == np.uint8:
        return 255.0
    top = int(values.max(initial=0))
    for bits in (10, 12, 14):
        if 255 < top < 1 << bits:
            return float((1 << bits) - 1)
    return 65535.0


def picture_from_array(values: NDArray[Any], *, block_step: float = 0.0) -> Picture:
    """Grey picture from an array of grey or colour pixels.

    The channels are weighed by their own brightness, so that the picture of a blue
    lamp is not mostly the noise of the other two channels.

    Parameters
    ----------
    values : ndarray of shape (M, N) or (M, N, C)
        Unsigned 8 or 16 bit values, or floats from 0 to 1 [1]
    block_step : float, optional
        Grey height of a ripple of lossy compression, 0 if there was none [1]

    Returns
    -------
    picture : Picture
        Grey values from 0 to 1 [1]

    Examples
    --------
    >>> import numpy as np
    >>> float(picture_from_array(np.full((100, 100), 51, np.uint8)).values[0, 0])
    0.2
    """
    pixels = np.asarray(values)
    if pixels.ndim not in (2, 3) or min(pixels.shape[:2]) < MIN_SIDE_PX:
        raise _fail(
            f"a picture of at least {MIN_SIDE_PX} by {MIN_SIDE_PX} pixels",
            f"shape {pixels.shape}",
        )
    scale = 1.0 if pixels.dtype.kind == "f" else _full_scale(pixels)
    step = 1e-4 if pixels.dtype.kind == "f" else 1.0 / scale
    if pixels.ndim == 2:
        grey = pixels.astype(np.float32) * np.float32(1.0 / scale)
        return Picture(
            values=_finite(grey), step=step, tint=None, block_step=block_step
        )
    grey, tint = _grey_and_tint(pixels[..., :3].astype(np.float32) / np.float32(scale))
    return Picture(values=_finite(grey), step=step, tint=tint, block_step=block_step)


def _finite(values: NDArray[np.float32]) -> NDArray[np.float32]:
    if not np.isfinite(values).all():
        raise _fail("finite grey values", "NaN or infinity")
    return values


def _grey_and_tint(
    colour: NDArray[np.float32],
) -> tuple[NDArray[np.float32], NDArray[np.float32] | None]:
    if colour.shape[2] < 3:
        return np.ascontiguousarray(colour[..., 0]), None
    if np.array_equal(colour[..., 0], colour[..., 1]) and np.array_equal(
        colour[..., 1], colour[..., 2]
    ):
        return np.ascontiguousarray(colour[..., 0]), None
    light = np.median(colour[::4, ::4].reshape(-1, 3), axis=0) + np.float32(1e-6)
    weights = light / light.sum()
    grey = (colour @ weights.astype(np.float32)).astype(np.float32)
    # gain of the light's own colour, so that a tinted lamp has no tint of its own
    gain = light / float((weights * light).sum())
    tint = np.zeros_like(grey)
    for channel in range(3):
        away = np.abs(colour[..., channel] - grey * np.float32(gain[channel]))
        np.maximum(tint, away, out=tint)
    return grey, tint


def _opened(data: bytes) -> Any:
    try:
        from PIL import Image
    except ImportError as error:
        raise MissingFeatureError("end-face pictures", "image", str(error)) from error
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError as error:
        raise _fail(f"at most {MAX_PIXELS} pixels", "far more") from error
    except Exception as error:
        raise _fail("a PNG, JPEG, TIFF or BMP picture", type(error).__name__) from error
    width, height = image.size
    if width * height > MAX_PIXELS:
        raise _fail(f"at most {MAX_PIXELS} pixels", f"{width} x {height}")
    return image


def _pixels(image: Any) -> NDArray[Any]:
    from PIL import ImageOps

    image.load()
    image = ImageOps.exif_transpose(image)
    if image.mode in ("I;16", "I;16B", "I;16L", "I;16N", "I"):
        wide = np.asarray(image)
        if wide.min() < 0 or wide.max() > 65535:
            raise _fail("8 or 16 bit grey values", "32 bit values")
        return wide.astype(np.uint16)
    if image.mode == "L":
        return np.asarray(image)
    if image.mode in ("LA", "La"):
        return np.asarray(image)[..., 0]
    if image.mode in ("1", "F"):
        raise _fail("8 or 16 bit grey or colour", f"pixel mode {image.mode}")
    return np.asarray(image.convert("RGB"))


def _block_step(image: Any) -> float:
    """Height of one quantization step of the low cosine terms, full scale is 1."""
    tables = getattr(image, "quantization", None)
    if tables:
        first = np.sort(np.asarray(next(iter(tables.values())), dtype=float))
        return float(np.median(first[:16])) / 4.0 / 255.0
    if str(image.info.get("compression")) == "jpeg":
        return 1.5 / 255.0
    return 0.0


def read_picture(data: bytes) -> Picture:
    """Decode the bytes of a picture file.

    Parameters
    ----------
    data : bytes
        Content of a PNG, JPEG, TIFF or BMP file [1]

    Returns
    -------
    picture : Picture
        Grey values from 0 to 1 [1]

    Raises
    ------
    EvidenceError
        The bytes are no such picture, too large, or damaged.
    """
    if len(data) > MAX_BYTES:
        raise _fail(f"at most {MAX_BYTES} bytes", f"{len(data)} bytes")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        image = _opened(data)
        block_step = _block_step(image)
        frames = int(getattr(image, "n_frames", 1))
        try:
            pixels = _pixels(image)
        except EvidenceError:
            raise
        except Exception as error:
            raise _fail(
                "complete picture data", f"{type(error).__name__}: {error}"
            ) from error
    picture = picture_from_array(pixels, block_step=block_step)
    if frames == 1:
        return picture
    return Picture(
        values=picture.values,
        step=picture.step,
        tint=picture.tint,
        block_step=block_step,
        notes=("first_frame",),
    )
