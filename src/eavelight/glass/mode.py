"""The guided mode of a step-index fibre: V, b, index, mode-field diameters."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass.fleming_1984 import (
    GERMANIA_RESONANCE_UM,
    GERMANIA_STRENGTH,
    SILICA_RESONANCE_UM,
    SILICA_STRENGTH,
)

Floats = NDArray[np.float64]
_FIRST_ZERO_J0 = 2.404825557695773


def refractive_index(wavelength_nm: ArrayLike, *, germania: float = 0.0) -> Floats:
    """Phase index of silica glass doped with germania.

    Fresnel, tilt and bend formulas need this index, not the group index.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength, 400 to 2000 [nm]
    germania : float, optional
        Mole fraction of GeO2 [1]

    Returns
    -------
    index : ndarray
        Phase index [1]

    References
    ----------
    .. [1] J. W. Fleming, Appl. Opt. 23 (1984) 4486.

    Examples
    --------
    >>> float(refractive_index(1310.0))
    1.4468
    """
    return _index_and_slope(wavelength_nm, germania)[0]


def group_index(wavelength_nm: ArrayLike, *, germania: float = 0.0) -> Floats:
    """Group index of silica glass doped with germania: timing and distance.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength, 400 to 2000 [nm]
    germania : float, optional
        Mole fraction of GeO2 [1]

    Returns
    -------
    index : ndarray
        Group index [1]

    Examples
    --------
    >>> float(group_index(1550.0, germania=0.036))
    1.46776
    """
    index, slope = _index_and_slope(wavelength_nm, germania)
    return np.asarray(index - np.asarray(wavelength_nm, dtype=float) / 1e3 * slope)


def _index_and_slope(
    wavelength_nm: ArrayLike, germania: float
) -> tuple[Floats, Floats]:
    """Index and its slope per micrometre."""
    um = np.asarray(wavelength_nm, dtype=float) / 1e3
    square, slope = np.ones_like(um), np.zeros_like(um)
    for s, r, sg, rg in zip(
        SILICA_STRENGTH,
        SILICA_RESONANCE_UM,
        GERMANIA_STRENGTH,
        GERMANIA_RESONANCE_UM,
        strict=True,
    ):
        strength = s + germania * (sg - s)
        pole = (r + germania * (rg - r)) ** 2
        square = square + strength * um**2 / (um**2 - pole)
        slope = slope - 2 * strength * pole * um / (um**2 - pole) ** 2
    index = np.sqrt(square)
    return index, slope / (2 * index)


def normalised_frequency(
    wavelength_nm: ArrayLike,
    *,
    core_radius_um: ArrayLike,
    numerical_aperture: ArrayLike,
) -> Floats:
    """V number of a step-index fibre; one mode is guided below 2.405.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    core_radius_um : array_like
        Core radius [µm]
    numerical_aperture : array_like
        Numerical aperture [1]

    Returns
    -------
    frequency : ndarray
        V [1]
    """
    um = np.asarray(wavelength_nm, dtype=float) / 1e3
    return np.asarray(
        2 * np.pi * np.asarray(core_radius_um) * np.asarray(numerical_aperture) / um
    )


def propagation_constant(frequency: ArrayLike) -> Floats:
    """Normalised propagation constant b of the fundamental mode LP01.

    Parameters
    ----------
    frequency : array_like
        V, above 0.6 and below 10 [1]

    Returns
    -------
    constant : ndarray
        b, between 0 (leaves the core) and 1 [1]

    References
    ----------
    .. [1] D. Gloge, Appl. Opt. 10 (1971) 2252.
    """
    from scipy.special import j0, j1, k0e, k1e

    v, back = np.unique(np.asarray(frequency, dtype=float), return_inverse=True)
    if np.any(~((v > 0.6) & (v < 10.0))):
        raise ValueError(f"frequency must lie between 0.6 and 10, got {frequency!r}")
    low = np.maximum(0.0, 1.0 - (_FIRST_ZERO_J0 / v) ** 2)
    high = np.ones_like(v)
    for _ in range(52):
        b = (low + high) / 2
        u, w = v * np.sqrt(1 - b), v * np.sqrt(b)
        above = u * j1(u) * k0e(w) > w * k1e(w) * j0(u)
        low, high = np.where(above, b, low), np.where(above, high, b)
    return np.asarray(((low + high) / 2)[back]).reshape(np.shape(frequency))


def mode_field_diameter_marcuse(
    wavelength_nm: ArrayLike, *, core_radius_um: float, numerical_aperture: float
) -> Floats:
    """Diameter of the Gaussian that fits the mode best.

    About 1 % for V from 1.2 to 2.4; larger than what a data sheet states.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    core_radius_um : float
        Core radius [µm]
    numerical_aperture : float
        Numerical aperture [1]

    Returns
    -------
    mode_field_um : ndarray
        Mode-field diameter [µm]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703.
    """
    v = normalised_frequency(
        wavelength_nm,
        core_radius_um=core_radius_um,
        numerical_aperture=numerical_aperture,
    )
    return np.asarray(2 * core_radius_um * (0.65 + 1.619 * v**-1.5 + 2.879 * v**-6.0))


def mode_field_diameter_petermann(
    wavelength_nm: ArrayLike, *, core_radius_um: float, numerical_aperture: float
) -> Floats:
    """Petermann II mode-field diameter, the one a data sheet states.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    core_radius_um : float
        Core radius [µm]
    numerical_aperture : float
        Numerical aperture [1]

    Returns
    -------
    mode_field_um : ndarray
        Mode-field diameter [µm]

    References
    ----------
    .. [1] K. Petermann, Electron. Lett. 19 (1983) 712; ITU-T G.650.1.
    """
    v = normalised_frequency(
        wavelength_nm,
        core_radius_um=core_radius_um,
        numerical_aperture=numerical_aperture,
    )
    from scipy.special import j0, j1

    b = propagation_constant(v)
    u, w = v * np.sqrt(1 - b), v * np.sqrt(b)
    return np.asarray(2 * core_radius_um * np.sqrt(2) * j1(u) / (w * j0(u)))


def mode_field_diameter_hussey(
    wavelength_nm: ArrayLike, *, core_radius_um: float, numerical_aperture: float
) -> Floats:
    """Petermann II mode-field diameter, fast approximation for V from 1.5 to 2.5.

    Parameters
    ----------
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    core_radius_um : float
        Core radius [µm]
    numerical_aperture : float
        Numerical aperture [1]

    Returns
    -------
    mode_field_um : ndarray
        Mode-field diameter [µm]

    References
    ----------
    .. [1] C. D. Hussey, F. Martinez, Electron. Lett. 21 (1985) 1103.
    """
    v = normalised_frequency(
        wavelength_nm,
        core_radius_um=core_radius_um,
        numerical_aperture=numerical_aperture,
    )
    marcuse = mode_field_diameter_marcuse(
        wavelength_nm,
        core_radius_um=core_radius_um,
        numerical_aperture=numerical_aperture,
    )
    return np.asarray(marcuse - 2 * core_radius_um * (0.016 + 1.567 * v**-7.0))
