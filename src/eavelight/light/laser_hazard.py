"""Hazard level at a fibre end that can be reached, from all light present.

A conservative rule for the caution text, never a classification of an installation:
the safety standard asks for more than the power at one place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

HazardLevel = Literal["1", "1M", "3B"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardLimits:
    """Largest total powers of levels 1 and 1M, and where 1M is claimed at all."""

    level_1_dbm: float
    level_1m_dbm: float
    level_1m_from_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """The level and how much of each limit the light uses up; one is all of it."""

    level: HazardLevel
    share_of_level_1: float
    share_of_level_1m: float


def hazard_level(
    levels_dbm: Sequence[float],
    wavelengths_nm: Sequence[float],
    *,
    limits: HazardLimits,
) -> Hazard:
    """Hazard level of an open end, by the conservative rule.

    Level 1 where the powers together stay below the limit of level 1; level 1M where
    they stay below that of 1M, light of shorter wavelengths counted against level 1;
    else 3B. Give the strongest levels possible, not the expected ones.

    Parameters
    ----------
    levels_dbm : sequence of float
        Level of each light at the open end [dBm]
    wavelengths_nm : sequence of float
        Wavelength of each [nm]
    limits : HazardLimits
        Limits of the rule [-]

    Returns
    -------
    hazard : Hazard
        Level and the shares of the limits used [-]

    References
    ----------
    .. [1] IEC 60825-2 (levels); IEC 60825-1 (emission limits behind the rule).

    Examples
    --------
    >>> rule = HazardLimits(level_1_dbm=10, level_1m_dbm=21, level_1m_from_nm=1400)
    >>> hazard_level([5.0, 5.0, 20.0], [1490.0, 1577.0, 1550.0], limits=rule).level
    '1M'
    """
    if len(levels_dbm) != len(wavelengths_nm):
        raise ValueError("wavelengths_nm needs one value for each of levels_dbm")
    one = [10.0 ** ((level - limits.level_1_dbm) / 10.0) for level in levels_dbm]
    more = [
        10.0 ** ((level - limits.level_1m_dbm) / 10.0)
        if nm >= limits.level_1m_from_nm
        else share
        for level, nm, share in zip(levels_dbm, wavelengths_nm, one, strict=True)
    ]
    first, second = math.fsum(one), math.fsum(more)
    level: HazardLevel = "1" if first <= 1.0 else "1M" if second <= 1.0 else "3B"
    return Hazard(level=level, share_of_level_1=first, share_of_level_1m=second)


def share_of_limits(levels_dbm: Sequence[float], limits_mw: Sequence[float]) -> float:
    """Sum of powers over limits; at most one keeps the level.

    Parameters
    ----------
    levels_dbm : sequence of float
        Level of each light [dBm]
    limits_mw : sequence of float
        Limit of each [mW]

    Returns
    -------
    share : float
        One where the limit is just used up [1]

    Examples
    --------
    >>> share_of_limits([5.0, 5.0, 20.0], [10.0, 10.0, 10.0])
    10.6325
    """
    return math.fsum(
        10.0 ** (level / 10.0) / limit
        for level, limit in zip(levels_dbm, limits_mw, strict=True)
    )


def aperture_share(
    wavelength_nm: float,
    *,
    mode_field_um: float,
    distance_mm: float,
    aperture_mm: float,
) -> float:
    """Share of the light of a fibre end that passes an aperture.

    Gaussian beam in the far field, `1 - exp(-2 (a/w)²)`, `w = wavelength r / (pi w0)`.

    Parameters
    ----------
    wavelength_nm : float
        Wavelength [nm]
    mode_field_um : float
        Mode field diameter of the fibre [µm]
    distance_mm : float
        Distance from the end, far against the mode field [mm]
    aperture_mm : float
        Diameter of the aperture [mm]

    Returns
    -------
    share : float
        Between 0 and 1 [1]

    Examples
    --------
    >>> aperture_share(1550.0, mode_field_um=11.0, distance_mm=100.0, aperture_mm=3.5)
    0.0733
    """
    waist_mm = mode_field_um / 2.0e3
    radius_mm = wavelength_nm * 1e-6 * distance_mm / (math.pi * waist_mm)
    return -math.expm1(-2.0 * (aperture_mm / 2.0 / radius_mm) ** 2)


def level_1m_limit_mw(
    wavelength_nm: float,
    *,
    mode_field_um: float,
    emission_limit_mw: float,
    distance_mm: float = 100.0,
    aperture_mm: float = 3.5,
) -> float:
    """Power of a fibre end whose share through the naked-eye aperture is the limit.

    Parameters
    ----------
    wavelength_nm : float
        Wavelength, 1400 nm or longer for a limit of 10 mW [nm]
    mode_field_um : float
        Mode field diameter of the fibre [µm]
    emission_limit_mw : float
        Emission limit of class 1 [mW]
    distance_mm : float, optional
        Distance of the condition without optics [mm]
    aperture_mm : float, optional
        Diameter of its aperture [mm]

    Returns
    -------
    limit_mw : float
        Limit of level 1M [mW]

    Examples
    --------
    >>> level_1m_limit_mw(1550.0, mode_field_um=11.0, emission_limit_mw=10.0)
    136.4
    """
    share = aperture_share(
        wavelength_nm,
        mode_field_um=mode_field_um,
        distance_mm=distance_mm,
        aperture_mm=aperture_mm,
    )
    return emission_limit_mw / share
