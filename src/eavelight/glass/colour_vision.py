"""How far apart two fibre colours look, to a normal and to a colour-deficient eye."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass.machado_2009 import MATRICES

Floats = NDArray[np.float64]

# IEC 61966-2-1 (sRGB, D65) and the Bradford adaptation, from their definitions.
_XYZ_FROM_RGB = np.array([
    [0.4124564, 0.3575761, 0.1804375],
    [0.2126729, 0.7151522, 0.0721750],
    [0.0193339, 0.1191920, 0.9503041],
])  # fmt: skip
_BRADFORD = np.array([
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
])  # fmt: skip
_WHITE_C = np.array([0.98074, 1.0, 1.18232])
_WHITE_D65 = np.array([0.95047, 1.0, 1.08883])


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfusablePair:
    """Two colours that one kind of eye can hardly tell apart."""

    first: str
    second: str
    vision: str
    difference: float


def linear_rgb_from_chip(xyy: ArrayLike) -> Floats:
    """Linear sRGB of a reference chip given under illuminant C.

    Colours outside the sRGB range are clipped to it.

    Parameters
    ----------
    xyy : array_like
        Chromaticity x, y and luminance Y (0 to 100), last axis of length 3 [1]

    Returns
    -------
    rgb : ndarray
        Linear red, green, blue from 0 to 1, last axis of length 3 [1]

    References
    ----------
    .. [1] S. Newhall, D. Nickerson, D. Judd, J. Opt. Soc. Am. 33 (1943) 385 (chips).
    """
    values = np.asarray(xyy, dtype=float)
    x, y, luminance = values[..., 0], values[..., 1], values[..., 2] / 102.57
    xyz = np.stack([x / y * luminance, luminance, (1 - x - y) / y * luminance], axis=-1)
    scale = (_BRADFORD @ _WHITE_D65) / (_BRADFORD @ _WHITE_C)
    adapt = np.linalg.inv(_BRADFORD) @ np.diag(scale) @ _BRADFORD
    rgb = xyz @ adapt.T @ np.linalg.inv(_XYZ_FROM_RGB).T
    return np.asarray(np.clip(rgb, 0.0, 1.0))


def linear_rgb_from_hex(text: str) -> Floats:
    """Linear sRGB of a screen colour written as `#RRGGBB`.

    Parameters
    ----------
    text : str
        Six hexadecimal digits after `#` [text]

    Returns
    -------
    rgb : ndarray
        Linear red, green, blue from 0 to 1 [1]

    Examples
    --------
    >>> linear_rgb_from_hex("#ff8000").round(3)
    array([1.   , 0.216, 0.   ])
    """
    if len(text) != 7 or text[0] != "#":
        raise ValueError(f"text must look like #RRGGBB, got {text!r}")
    coded = np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab_from_linear_rgb(rgb: ArrayLike) -> Floats:
    """CIE L*a*b* (D65) of linear sRGB.

    Parameters
    ----------
    rgb : array_like
        Linear red, green, blue, last axis of length 3 [1]

    Returns
    -------
    lab : ndarray
        L*, a*, b*, last axis of length 3 [1]
    """
    ratio = np.asarray(rgb, dtype=float) @ _XYZ_FROM_RGB.T / _WHITE_D65
    f = np.where(
        ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29
    )
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def difference_ciede2000(first_lab: ArrayLike, second_lab: ArrayLike) -> Floats:
    """Colour difference CIEDE2000 with unit weights.

    Parameters
    ----------
    first_lab, second_lab : array_like
        L*, a*, b*, last axis of length 3 [1]

    Returns
    -------
    difference : ndarray
        Delta E 00; about 1 is just noticeable side by side [1]

    References
    ----------
    .. [1] G. Sharma, W. Wu, E. Dalal, Color Res. Appl. 30 (2005) 21.
    """
    one, two = np.asarray(first_lab, float), np.asarray(second_lab, float)
    c_mean = (np.hypot(*one.T[1:]).T + np.hypot(*two.T[1:]).T) / 2
    g = 0.5 * (1 - np.sqrt(c_mean**7 / (c_mean**7 + 25.0**7)))
    c1, h1 = _chroma_and_hue(one, g)
    c2, h2 = _chroma_and_hue(two, g)
    dl, dc = two[..., 0] - one[..., 0], c2 - c1
    dh = (h2 - h1 + 180) % 360 - 180
    dh = np.where(c1 * c2 == 0, 0.0, dh)
    d_hue = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh) / 2)
    h_mean = np.where(c1 * c2 == 0, h1 + h2, h1 + dh / 2) % 360
    l_mean, c_mean = (one[..., 0] + two[..., 0]) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * np.cos(np.radians(h_mean - 30))
        + 0.24 * np.cos(np.radians(2 * h_mean))
        + 0.32 * np.cos(np.radians(3 * h_mean + 6))
        - 0.20 * np.cos(np.radians(4 * h_mean - 63))
    )
    lift = (l_mean - 50) ** 2
    s_l = 1 + 0.015 * lift / np.sqrt(20 + lift)
    s_c, s_h = 1 + 0.045 * c_mean, 1 + 0.015 * c_mean * t
    turn = np.radians(60 * np.exp(-(((h_mean - 275) / 25) ** 2)))
    r_t = -2 * np.sqrt(c_mean**7 / (c_mean**7 + 25.0**7)) * np.sin(turn)
    a, b, c = dl / s_l, dc / s_c, d_hue / s_h
    return np.asarray(np.sqrt(a**2 + b**2 + c**2 + r_t * b * c))


def _chroma_and_hue(lab: Floats, g: Floats) -> tuple[Floats, Floats]:
    a = (1 + g) * lab[..., 1]
    return np.hypot(a, lab[..., 2]), np.degrees(np.arctan2(lab[..., 2], a)) % 360


def colour_difference(
    first_rgb: ArrayLike, second_rgb: ArrayLike, *, vision: str = "normal"
) -> Floats:
    """CIEDE2000 difference of two colours as one kind of eye sees them.

    Parameters
    ----------
    first_rgb, second_rgb : array_like
        Linear sRGB, last axis of length 3 [1]
    vision : str, optional
        `normal`, `protan`, `deutan` or `tritan`, full severity [text]

    Returns
    -------
    difference : ndarray
        Delta E 00; below about 10 a mix-up is likely [1]
    """
    if vision not in MATRICES:
        raise ValueError(f"vision must be one of {', '.join(MATRICES)}, got {vision!r}")
    matrix = np.array(MATRICES[vision])
    seen = [
        lab_from_linear_rgb(np.clip(np.asarray(rgb, float) @ matrix.T, 0.0, 1.0))
        for rgb in (first_rgb, second_rgb)
    ]
    return difference_ciede2000(seen[0], seen[1])


def screen_difference(first: str, second: str, *, vision: str = "normal") -> float:
    """CIEDE2000 difference of two screen colours as one kind of eye sees them.

    Parameters
    ----------
    first, second : str
        Colours as `#RRGGBB` [text]
    vision : str, optional
        `normal`, `protan`, `deutan` or `tritan`, full severity [text]

    Returns
    -------
    difference : float
        Delta E 00 [1]
    """
    return float(
        colour_difference(
            linear_rgb_from_hex(first), linear_rgb_from_hex(second), vision=vision
        )
    )


def confusable_pairs(
    swatches: Mapping[str, Sequence[float]],
    *,
    below: float = 10.0,
    light: float = 1.0,
    visions: Sequence[str] = tuple(MATRICES),
) -> tuple[ConfusablePair, ...]:
    """Pairs of colours that some eye can hardly tell apart, worst first.

    Parameters
    ----------
    swatches : mapping
        x, y, Y under illuminant C of each colour name [1]
    below : float, optional
        Difference under which a pair is named [1]
    light : float, optional
        Share of full light; a garage at dusk is about 0.15 [1]
    visions : sequence of str, optional
        Kinds of eye to try [text]

    Returns
    -------
    pairs : tuple of ConfusablePair
        Pairs with the eye that confuses them, smallest difference first [1]
    """
    names = list(swatches)
    rgb = light * linear_rgb_from_chip([swatches[name] for name in names])
    index = list(combinations(range(len(names)), 2))
    one, two = np.array(index, dtype=int).reshape(-1, 2).T
    found = []
    for vision in visions:
        apart = colour_difference(rgb[one], rgb[two], vision=vision)
        found += [
            ConfusablePair(
                first=names[i], second=names[j], vision=vision, difference=float(value)
            )
            for (i, j), value in zip(index, apart, strict=True)
            if value < below
        ]
    return tuple(sorted(found, key=lambda pair: pair.difference))
