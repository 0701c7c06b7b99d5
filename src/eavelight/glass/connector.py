"""Reflection and loss of a mated pair: Fresnel, dry gap, polish layer, angled ends.

Reflectance is negative; every index is the phase index of the glass, about 1.45.
Reflectance finds a dry gap, loss does not: it drifts between zero and its maximum.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass.splice import Misalignment, joint_loss

Floats = NDArray[np.float64]
_DB = 10.0 / np.log(10.0)


def _ratio(index: ArrayLike, other: ArrayLike) -> Floats:
    one, two = np.asarray(index, dtype=float), np.asarray(other, dtype=float)
    return np.asarray(((one - two) / (one + two)) ** 2)


def _db(ratio: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(ratio))


def fresnel_reflectance(index: ArrayLike, *, other_index: ArrayLike = 1.0) -> Floats:
    """Reflectance of one flat surface between two media.

    Parameters
    ----------
    index : array_like
        Phase index of the glass [1]
    other_index : array_like, optional
        Phase index of what follows, air unless stated [1]

    Returns
    -------
    reflectance_db : ndarray
        Reflected power, negative; minus infinity for equal indices [dB]

    Examples
    --------
    >>> float(fresnel_reflectance(1.45))
    -14.72
    """
    return _db(_ratio(index, other_index))


def fresnel_loss(index: ArrayLike, *, other_index: ArrayLike = 1.0) -> Floats:
    """Loss of one flat surface between two media.

    Parameters
    ----------
    index : array_like
        Phase index of the glass [1]
    other_index : array_like, optional
        Phase index of what follows, air unless stated [1]

    Returns
    -------
    loss_db : ndarray
        Loss [dB]
    """
    return np.asarray(-_DB * np.log1p(-_ratio(index, other_index)))


def wide_gap_loss(index: ArrayLike, *, gap_index: ArrayLike = 1.0) -> Floats:
    """Loss by reflection at both faces of a gap longer than the coherence length.

    Parameters
    ----------
    index : array_like
        Phase index of the glass [1]
    gap_index : array_like, optional
        Phase index in the gap, air unless stated [1]

    Returns
    -------
    loss_db : ndarray
        Loss without the spreading of the light [dB]

    Examples
    --------
    >>> float(wide_gap_loss(1.468))
    0.312
    """
    r = _ratio(index, gap_index)
    return np.asarray(_DB * (np.log1p(r) - np.log1p(-r)))


def _narrow(
    gap_nm: ArrayLike, wavelength_nm: ArrayLike, index: ArrayLike, gap_index: ArrayLike
) -> Floats:
    r = _ratio(index, gap_index)
    phase = 2 * np.pi * np.asarray(gap_index) * np.asarray(gap_nm) / wavelength_nm
    swing = 4 * r / (1 - r) ** 2 * np.sin(phase) ** 2
    return np.asarray(swing / (1 + swing))


def narrow_gap_reflectance(
    gap_nm: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    index: ArrayLike,
    gap_index: ArrayLike = 1.0,
) -> Floats:
    """Reflectance of a gap short enough for both faces to interfere.

    Parameters
    ----------
    gap_nm : array_like
        Distance between the faces [nm]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    index : array_like
        Phase index of the glass [1]
    gap_index : array_like, optional
        Phase index in the gap, air unless stated [1]

    Returns
    -------
    reflectance_db : ndarray
        Reflected power, negative; minus infinity for a closed gap [dB]

    Examples
    --------
    >>> float(narrow_gap_reflectance(100.0, wavelength_nm=1310.0, index=1.468))
    -15.0
    """
    return _db(_narrow(gap_nm, wavelength_nm, index, gap_index))


def narrow_gap_loss(
    gap_nm: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    index: ArrayLike,
    gap_index: ArrayLike = 1.0,
) -> Floats:
    """Loss by reflection of a gap short enough for both faces to interfere.

    Parameters
    ----------
    gap_nm : array_like
        Distance between the faces [nm]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    index : array_like
        Phase index of the glass [1]
    gap_index : array_like, optional
        Phase index in the gap, air unless stated [1]

    Returns
    -------
    loss_db : ndarray
        Loss, from zero to about 0.6 dB in air [dB]
    """
    reflected = _narrow(gap_nm, wavelength_nm, index, gap_index)
    return np.asarray(-_DB * np.log1p(-reflected))


def polish_layer_reflectance(
    layer_nm: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    index: float,
    layer_index: float,
) -> Floats:
    """Reflectance of two polished ends in contact, each with a damaged layer.

    Parameters
    ----------
    layer_nm : array_like
        Thickness of the layer on each end [nm]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    index : float
        Phase index of the fibre [1]
    layer_index : float
        Phase index of the layer, higher than that of the fibre [1]

    Returns
    -------
    reflectance_db : ndarray
        Reflected power, negative [dB]

    References
    ----------
    .. [1] M. Kihara et al., J. Lightwave Technol. 14 (1996) 1986.
    """
    waves = np.asarray(layer_nm, dtype=float) / np.asarray(wavelength_nm, dtype=float)
    phase = 8 * np.pi * layer_index * waves
    return _db(2 * _ratio(index, layer_index) * (1 - np.cos(phase)))


def angled_end_gain(
    angle_deg: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    mode_field_um: ArrayLike,
    index: float,
) -> Floats:
    """How much weaker an angled end reflects into the fibre than a flat one.

    Real angled connectors are limited by scatter and defects, hence about 60 dB.

    Parameters
    ----------
    angle_deg : array_like
        Angle of the face against the normal [°]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    mode_field_um : array_like
        Mode-field diameter [µm]
    index : float
        Phase index of the glass [1]

    Returns
    -------
    gain_db : ndarray
        Return loss gained over the flat end, positive [dB]
    """
    radius = np.asarray(mode_field_um, dtype=float) / 2
    um = np.asarray(wavelength_nm, dtype=float) / 1e3
    spread = 2 * np.pi * index * radius * np.radians(angle_deg) / um
    return np.asarray(_DB * spread**2)


def exit_angle(angle_deg: ArrayLike, *, index: ArrayLike) -> Floats:
    """Angle against the fibre axis at which light leaves an angled face into air.

    Parameters
    ----------
    angle_deg : array_like
        Angle of the face against the normal [°]
    index : array_like
        Phase index of the glass [1]

    Returns
    -------
    exit_deg : ndarray
        Angle against the fibre axis [°]

    Examples
    --------
    >>> float(exit_angle(8.0, index=1.468))
    3.79
    """
    face = np.radians(angle_deg)
    return np.asarray(np.degrees(np.arcsin(np.asarray(index) * np.sin(face)) - face))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongMating:
    """A flat plug in an angled one: a range of loss, and the reflection of the flat."""

    loss_low_db: float
    loss_high_db: float
    reflectance_db: float


def flat_to_angled(
    wavelength_nm: float,
    *,
    mode_field_um: float,
    index: float,
    angle_deg: float = 8.0,
    gap_low_um: float = 40.0,
    gap_high_um: float = 100.0,
) -> WrongMating:
    """Loss and reflectance of a flat connector mated to an angled one.

    The faces touch at the rim only: the cores stand apart and the light leaves askew.
    A wiring error, not a dirty connector.

    Parameters
    ----------
    wavelength_nm : float
        Vacuum wavelength [nm]
    mode_field_um : float
        Mode-field diameter of both fibres [µm]
    index : float
        Phase index of the glass [1]
    angle_deg : float, optional
        Angle of the angled face [°]
    gap_low_um, gap_high_um : float, optional
        Distance of the cores: convex faces, or flat ones that touch at 0.7 mm [µm]

    Returns
    -------
    mating : WrongMating
        Smallest and largest loss, reflectance seen from the flat side [dB]
    """
    skew = float(exit_angle(angle_deg, index=index))
    losses = [
        float(
            joint_loss(
                Misalignment(
                    offset_um=gap * np.tan(np.radians(skew)),
                    tilt_deg=skew,
                    azimuth_deg=180.0,
                    gap_um=gap,
                ),
                wavelength_nm=wavelength_nm,
                first_um=mode_field_um,
                second_um=mode_field_um,
                index=1.0,
            )
            + wide_gap_loss(index)
        )
        for gap in np.linspace(gap_low_um, gap_high_um, 7)
    ]
    return WrongMating(
        loss_low_db=min(losses),
        loss_high_db=max(losses),
        reflectance_db=float(fresnel_reflectance(index)),
    )


def grade_sigma(mean_db: float, *, limit_db: float, share: float = 0.97) -> float:
    """Standard deviation of a Gaussian grade from its mean and its limit.

    Parameters
    ----------
    mean_db : float
        Mean attenuation of random matings [dB]
    limit_db : float
        Attenuation that a share of the matings does not exceed [dB]
    share : float, optional
        That share, between 0.5 and 1 [1]

    Returns
    -------
    sigma_db : float
        Standard deviation [dB]

    Examples
    --------
    >>> grade_sigma(0.25, limit_db=0.50)
    0.133
    """
    if not 0.5 < share < 1:
        raise ValueError(f"share must lie between 0.5 and 1, got {share}")
    if limit_db < mean_db:
        raise ValueError(f"limit_db must not be below mean_db, got {limit_db}")
    from scipy.special import ndtri

    return float((limit_db - mean_db) / ndtri(share))
