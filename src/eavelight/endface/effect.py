"""What marks do to the light: an estimate with a range, never a measurement.

Opaque marks block part of the guided mode; hard ones may prop the faces apart. The
grade and this estimate are separate: a mark at 10 µm fails and costs nothing yet.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.endface.marks import Mark
from eavelight.endface.surface import Surface, around

MODE_FIELD_UM = {1310: 9.2, 1550: 10.4}
"""Nominal mode field diameters of ITU-T G.652 fibre."""
CORE_REACH_UM = 12.5
MOST_DB = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """Loss range by wavelength [nm] and what else to expect.

    `films` says that films were seen, which count nothing in the loss.
    """

    loss_db: dict[int, tuple[float, float]]
    contact_risk: bool
    migrating: int
    largest_migrating_um: float
    films: bool


def covered_by_disc(
    diameter_um: float, offset_um: float, mode_field_um: float
) -> float:
    """Share of the mode's power that a round mark covers.

    Parameters
    ----------
    diameter_um : float
        Diameter of the mark [µm]
    offset_um : float
        Distance of its centre from the core centre [µm]
    mode_field_um : float
        Mode field diameter [µm]

    Returns
    -------
    share : float
        Covered power over all power [1]

    References
    ----------
    .. [1] Power of a Gaussian mode in an off-centre disc: non-central chi-squared
       distribution of two degrees of freedom.

    Examples
    --------
    >>> covered_by_disc(5.0, 0.0, 9.2)
    0.446
    """
    from scipy.special import chndtr

    w = mode_field_um / 2
    return float(chndtr((diameter_um / w) ** 2, 2.0, (2 * offset_um / w) ** 2))


def covered_by_line(width_um: float, offset_um: float, mode_field_um: float) -> float:
    """Share of the mode's power that a long line covers.

    Parameters
    ----------
    width_um : float
        Width of the line [µm]
    offset_um : float
        Distance of its middle from the core centre [µm]
    mode_field_um : float
        Mode field diameter [µm]

    Returns
    -------
    share : float
        Covered power over all power [1]

    Examples
    --------
    >>> covered_by_line(1.0, 0.0, 9.2)
    0.172
    """
    w = mode_field_um / 2
    k = math.sqrt(2.0) / w
    return 0.5 * (
        math.erf(k * (offset_um + width_um / 2))
        - math.erf(k * (offset_um - width_um / 2))
    )


def covered_by_mask(
    opacity: ArrayLike, radius_um: ArrayLike, mode_field_um: float
) -> float:
    """Share of the mode's power under a picture of marks.

    Parameters
    ----------
    opacity : array_like
        Covered share of each pixel, 0 to 1 [1]
    radius_um : array_like
        Distance of each pixel from the core centre [µm]
    mode_field_um : float
        Mode field diameter [µm]

    Returns
    -------
    share : float
        Covered power over all power [1]

    Examples
    --------
    >>> covered_by_mask([1.0, 0.0], [1.0, 1.0], 9.2)
    0.5
    """
    w = mode_field_um / 2
    weight = np.exp(-2 * (np.asarray(radius_um, dtype=float) / w) ** 2)
    total = float(weight.sum())
    if total <= 0:
        return 0.0
    return float((np.asarray(opacity, dtype=float) * weight).sum()) / total


def blocking_loss_range(share: float) -> tuple[float, float]:
    """Lower and upper estimate of the loss when part of the mode is blocked.

    The lower counts blocked power, the upper projects the rest back on the mode.

    Parameters
    ----------
    share : float
        Covered power over all power [1]

    Returns
    -------
    low, high : float
        Loss, at most 60 dB [dB]

    Examples
    --------
    >>> blocking_loss_range(0.446)
    (2.57, 5.13)
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"share must lie between 0 and 1, got {share}")
    left = max(1.0 - share, 1e-9)
    low = -10 * math.log10(left) + 0.0
    return min(low, MOST_DB), min(2 * low, MOST_DB)


def glass_air_reflectance_db(index: float) -> float:
    """Reflectance of one glass to air surface.

    Parameters
    ----------
    index : float
        Refractive index of the glass [1]

    Returns
    -------
    reflectance_db : float
        Reflected over incident power [dB]

    Examples
    --------
    >>> glass_air_reflectance_db(1.468)
    -14.4
    """
    return 20 * math.log10(abs((index - 1) / (index + 1)))


def gap_reflectance_range_db(index: float) -> tuple[float, float]:
    """Mean and largest reflectance of an air gap between two faces.

    The mean adds powers of two surfaces, the largest adds amplitudes.

    Parameters
    ----------
    index : float
        Refractive index of the glass [1]

    Returns
    -------
    mean_db, largest_db : float
        Reflected over incident power [dB]

    Examples
    --------
    >>> gap_reflectance_range_db(1.468)
    (-11.6, -8.7)
    """
    r = ((index - 1) / (index + 1)) ** 2
    return (
        10 * math.log10(2 * r / (1 + r)),
        10 * math.log10(4 * r / (1 + r) ** 2),
    )


def gap_spreading_loss(
    gap_um: float, wavelength_um: float, mode_field_um: float
) -> float:
    """Loss by spreading of the beam across a gap in air.

    Parameters
    ----------
    gap_um : float
        Distance of the faces [µm]
    wavelength_um : float
        Wavelength in air [µm]
    mode_field_um : float
        Mode field diameter [µm]

    Returns
    -------
    loss_db : float
        Loss [dB]

    Examples
    --------
    >>> gap_spreading_loss(20.0, 1.31, 9.2)
    0.166
    """
    w = mode_field_um / 2
    return 10 * math.log10(1 + (gap_um * wavelength_um / (2 * math.pi * w * w)) ** 2)


def scratch_reflectance_db(base_db: float, scratch_db: float, share: float) -> float:
    """Worst reflectance of a joint whose scratch reflects more than the rest.

    Parameters
    ----------
    base_db : float
        Reflectance without the scratch [dB]
    scratch_db : float
        Reflectance of the scratched part [dB]
    share : float
        Share of the mode on the scratch [1]

    Returns
    -------
    reflectance_db : float
        Amplitudes added in phase [dB]

    Examples
    --------
    >>> scratch_reflectance_db(-55.0, -40.0, 0.1721)
    -49.9
    """
    amplitude = 10 ** (base_db / 20) * (1 - share) + 10 ** (scratch_db / 20) * share
    return 20 * math.log10(amplitude)


def opened_radius(
    height_um: float, modulus_gpa: float, poisson: float, pressure_gpa: float
) -> float:
    """Radius round a hard grain within which pressed faces stay apart.

    A crack-closure estimate; it shows the order of magnitude only.

    Parameters
    ----------
    height_um : float
        Height of a grain that does not crush [µm]
    modulus_gpa : float
        Young's modulus of the faces [GPa]
    poisson : float
        Poisson's ratio of the faces [1]
    pressure_gpa : float
        Contact pressure [GPa]

    Returns
    -------
    radius_um : float
        Radius of the open patch [µm]

    Examples
    --------
    >>> opened_radius(2.0, 73.0, 0.17, 0.42)
    9.5
    """
    stiff = modulus_gpa / (1 - poisson**2)
    return math.sqrt(stiff * (height_um / 2) * height_um / (4 * pressure_gpa))


def _opacity(
    surface: Surface, marks: Sequence[Mark], least: float
) -> NDArray[np.float64]:
    """Covered share of each pixel near the core, by marks dark enough to block."""
    out = np.zeros(surface.deviation.shape)
    near = surface.radius_um < CORE_REACH_UM
    for mark in marks:
        if (
            mark.kind != "spot"
            or mark.inner_um > CORE_REACH_UM
            or mark.contrast > -least
        ):
            continue
        full = 1.0 if mark.size_um < 3.0 else -mark.contrast
        reach = mark.size_um / 2 + 2.0
        height, width = surface.deviation.shape
        rows = (np.arange(height) - surface.row0) * surface.um - mark.row_um
        cols = (np.arange(width) - surface.col0) * surface.um - mark.col_um
        inside = near & (np.hypot(rows[:, None], cols[None, :]) < reach)
        cover = np.clip(-surface.deviation / full, 0.0, 1.0)
        out[inside] = np.maximum(out[inside], np.where(cover > 0.1, cover, 0.0)[inside])
    return out


def predict_effect(surface: Surface, marks: Sequence[Mark]) -> Effect:
    """Estimate loss range, contact risk and migration risk of a face.

    Only marks that look opaque block; films and shallow scratches count nothing.

    Parameters
    ----------
    surface : Surface
        The flat face [1]
    marks : sequence of Mark
        Its marks [µm]

    Returns
    -------
    effect : Effect
        Losses [dB]
    """
    near = any(mark.inner_um < CORE_REACH_UM for mark in marks)
    loss = dict.fromkeys(MODE_FIELD_UM, (0.0, 0.0))
    if near:
        surface = around(surface, CORE_REACH_UM + 2.0)
        sure = _opacity(surface, marks, 0.4)
        perhaps = _opacity(surface, marks, 0.2)
        for wavelength, field_um in MODE_FIELD_UM.items():
            low = covered_by_mask(sure, surface.radius_um, field_um)
            high = covered_by_mask(perhaps, surface.radius_um, field_um)
            loss[wavelength] = (
                blocking_loss_range(low)[0],
                blocking_loss_range(max(low, high))[1],
            )
    hard = [m for m in marks if m.kind == "spot" and m.contrast < -0.4]
    loose = [m for m in hard if m.outer_um > 12.5 and m.inner_um < 125.0]
    # grain of silica under 420 MPa: about 4.7 µm of radius for each µm of height
    open_contact = any(
        m.inner_um < opened_radius(min(m.size_um, 30.0), 73.0, 0.17, 0.42) for m in hard
    )
    return Effect(
        loss_db=loss,
        contact_risk=open_contact,
        migrating=len(loose),
        largest_migrating_um=max((m.size_um for m in loose), default=0.0),
        films=any(abs(m.contrast) < 0.2 and m.size_um > 5.0 for m in marks),
    )
