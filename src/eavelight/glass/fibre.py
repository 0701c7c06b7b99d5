"""A single-mode fibre: attenuation, mode-field diameter, group index, dispersion."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass import schermer_cole_2007, walker_1986
from eavelight.glass.mode import mode_field_diameter_hussey

Floats = NDArray[np.float64]
SHORTEST_NM, LONGEST_NM = 1260.0, 1650.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AttenuationModel:
    """Spectral loss of one make-up of fibre, bare or in its cable.

    `infrared` scales the infrared tail; the `u_` fields spread from fibre to fibre.
    """

    rayleigh: float
    constant_db_per_km: float
    infrared: float = 1.0
    oh_peak_db_per_km: float = 0.0
    u_db_per_km: float = 0.0
    u_infrared: float = 0.0
    u_oh_peak_db_per_km: float = 0.0

    def mean(self, wavelength_nm: ArrayLike) -> Floats:
        """Attenuation coefficient [dB/km]."""
        return attenuation(
            wavelength_nm,
            rayleigh=self.rayleigh,
            constant_db_per_km=self.constant_db_per_km,
            infrared=self.infrared,
            oh_peak_db_per_km=self.oh_peak_db_per_km,
        )

    def standard_uncertainty(self, wavelength_nm: ArrayLike) -> Floats:
        """Standard uncertainty of the coefficient [dB/km]."""
        return attenuation_uncertainty(
            wavelength_nm,
            u_db_per_km=self.u_db_per_km,
            u_infrared=self.u_infrared,
            u_oh_peak_db_per_km=self.u_oh_peak_db_per_km,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BendLimit:
    """One row of a macrobend table: at most so many dB for so many turns."""

    clause: str
    radius_mm: float
    turns: float
    wavelength_nm: float
    loss_db: float

    @property
    def db_per_turn(self) -> float:
        """The row for one turn."""
        return self.loss_db / self.turns


@dataclass(frozen=True, slots=True, kw_only=True)
class FibreType:
    """One class of fibre in one edition, with typical and extreme values.

    `mode_field_um` belongs to `mode_field_nm`; the two ranges are nominal values at
    1310 nm and the tolerance around each. `bend_limits` is empty where unknown.
    """

    id: str
    title: str
    edition: str
    confidence: str
    mode_field_nm: tuple[float, ...]
    mode_field_um: tuple[float, ...]
    nominal_range_um: tuple[float, float]
    tolerance_um: float
    core_radius_um: float
    numerical_aperture: float
    cladding_um: float
    concentricity_um: float
    cut_off_nm: float
    group_index_nm: tuple[float, ...]
    group_index: tuple[float, ...]
    cabled: AttenuationModel
    bare: AttenuationModel
    bend_insensitive: bool
    bend_model: str
    design_radius_mm: float
    bend_limits: tuple[BendLimit, ...] = ()

    def attenuation(self, *, cabled: bool = True) -> AttenuationModel:
        """Spectral loss in the cable (the default of a plant) or of the bare fibre."""
        return self.cabled if cabled else self.bare

    def mode_field_at(
        self, wavelength_nm: ArrayLike, *, known_um: Mapping[float, float] | None = None
    ) -> Floats:
        """Mode-field diameter [µm], from values known for this very fibre if any."""
        known = known_um or dict(
            zip(self.mode_field_nm, self.mode_field_um, strict=True)
        )
        return mode_field_diameter(
            wavelength_nm, known_nm=list(known), known_um=list(known.values())
        )

    def mode_field_range_at(self, wavelength_nm: float) -> tuple[float, float]:
        """Smallest and largest mode-field diameter inside the class [µm]."""
        scale = float(self.mode_field_at(wavelength_nm) / self.mode_field_at(1310.0))
        low, high = self.nominal_range_um
        return scale * (low - self.tolerance_um), scale * (high + self.tolerance_um)

    def u_mode_field_at(self, wavelength_nm: ArrayLike) -> Floats:
        """Standard uncertainty of the mode-field diameter, only the class known [µm].

        Nominal value anywhere in its range, tolerance as two standard deviations.
        """
        scale = self.mode_field_at(wavelength_nm) / self.mode_field_at(1310.0)
        low, high = self.nominal_range_um
        return np.asarray(
            scale * np.hypot((high - low) / np.sqrt(12), self.tolerance_um / 2)
        )

    def group_index_at(self, wavelength_nm: ArrayLike) -> Floats:
        """Group index, for timing and distance [1]."""
        nm = np.asarray(wavelength_nm, dtype=float)
        return np.asarray(np.interp(nm, self.group_index_nm, self.group_index))


def attenuation(
    wavelength_nm: ArrayLike,
    *,
    rayleigh: float,
    constant_db_per_km: float = 0.0,
    infrared: float = 1.0,
    germania: float = 0.0,
    oh_peak_db_per_km: float = 0.0,
) -> Floats:
    """Attenuation coefficient: Rayleigh, infrared tail, OH band, constant.

    Valid 1260 to 1650 nm.

    Parameters
    ----------
    wavelength_nm : array_like
        Wavelength [nm]
    rayleigh : float
        Rayleigh coefficient, 0.7 to 0.95 for doped silica [dB µm⁴/km]
    constant_db_per_km : float, optional
        Part that does not depend on wavelength: waveguide and cable [dB/km]
    infrared : float, optional
        Strength of the infrared tail against the published term [1]
    germania : float, optional
        Mole fraction of GeO2 for the ultraviolet tail, 0 leaves it out [1]
    oh_peak_db_per_km : float, optional
        Height of the OH band at 1383 nm; near zero for low-water-peak fibre [dB/km]

    Returns
    -------
    attenuation_db_per_km : ndarray
        Attenuation coefficient [dB/km]

    References
    ----------
    .. [1] S. S. Walker, J. Lightwave Technol. 4 (1986) 1125.

    Examples
    --------
    >>> float(attenuation(1550.0, rayleigh=0.92))
    0.1798
    """
    nm = _checked(wavelength_nm)
    um = nm / 1e3
    total = rayleigh / um**4 + constant_db_per_km + infrared * _infrared(um)
    total = total + oh_peak_db_per_km * _oh_shape(nm)
    if germania:
        strength = walker_1986.ULTRAVIOLET_DB_PER_KM * germania / (46.6 * germania + 60)
        total = total + strength * np.exp(walker_1986.ULTRAVIOLET_UM / um)
    return np.asarray(total)


def attenuation_uncertainty(
    wavelength_nm: ArrayLike,
    *,
    u_db_per_km: float,
    u_infrared: float = 0.0,
    u_oh_peak_db_per_km: float = 0.0,
) -> Floats:
    """Standard uncertainty of a typical attenuation coefficient.

    Parameters
    ----------
    wavelength_nm : array_like
        Wavelength [nm]
    u_db_per_km : float
        Spread from fibre to fibre that is the same everywhere [dB/km]
    u_infrared : float, optional
        Relative spread of the infrared tail [1]
    u_oh_peak_db_per_km : float, optional
        Spread of the OH band at its peak [dB/km]

    Returns
    -------
    uncertainty_db_per_km : ndarray
        Standard uncertainty, grows at 1383 nm and beyond 1600 nm [dB/km]
    """
    nm = _checked(wavelength_nm)
    tail, band = u_infrared * _infrared(nm / 1e3), u_oh_peak_db_per_km * _oh_shape(nm)
    return np.asarray(np.sqrt(u_db_per_km**2 + tail**2 + band**2))


def _checked(wavelength_nm: ArrayLike) -> Floats:
    nm = np.asarray(wavelength_nm, dtype=float)
    if np.any(~((nm >= SHORTEST_NM) & (nm <= LONGEST_NM))):
        raise ValueError(
            f"wavelength_nm must lie between {SHORTEST_NM:g} and {LONGEST_NM:g}, "
            f"got {wavelength_nm!r}"
        )
    return nm


def _infrared(um: Floats) -> Floats:
    return np.asarray(
        walker_1986.INFRARED_DB_PER_KM * np.exp(-walker_1986.INFRARED_UM / um)
    )


def _oh_shape(nm: Floats) -> Floats:
    z = (nm - walker_1986.OH_CENTRE_NM) / walker_1986.OH_WIDTH_NM
    return np.asarray(np.exp(-(z**2) / 2))


def mode_field_diameter(
    wavelength_nm: ArrayLike, *, known_nm: ArrayLike, known_um: ArrayLike
) -> Floats:
    """Mode-field diameter at any wavelength from one or more known values.

    Exact at the known wavelengths; between and beyond them it follows the growth of a
    step-index mode.

    Parameters
    ----------
    wavelength_nm : array_like
        Wavelength [nm]
    known_nm : array_like
        Wavelengths of the known values, each different [nm]
    known_um : array_like
        Known mode-field diameters [µm]

    Returns
    -------
    mode_field_um : ndarray
        Mode-field diameter [µm]

    Examples
    --------
    >>> known = {"known_nm": [1310.0, 1550.0], "known_um": [9.2, 10.4]}
    >>> float(mode_field_diameter(1490.0, **known))
    10.07
    """
    nm = np.atleast_1d(np.asarray(known_nm, dtype=float))
    um = np.atleast_1d(np.asarray(known_um, dtype=float))
    if nm.size == 0 or nm.shape != um.shape or np.unique(nm).size != nm.size:
        raise ValueError(
            f"known_nm must be distinct, one per known_um, got {known_nm!r}"
        )
    if np.any(~(um > 0)):
        raise ValueError(f"known_um must be positive, got {known_um!r}")
    order = np.argsort(nm)
    ratio = um / _growth(nm)
    wanted = np.asarray(wavelength_nm, dtype=float)
    return np.asarray(_growth(wanted) * np.interp(wanted, nm[order], ratio[order]))


def _growth(nm: Floats) -> Floats:
    return mode_field_diameter_hussey(
        nm,
        core_radius_um=schermer_cole_2007.CORE_RADIUS_UM,
        numerical_aperture=schermer_cole_2007.NUMERICAL_APERTURE,
    )


def chromatic_dispersion(
    wavelength_nm: ArrayLike, *, zero_nm: float, slope: float
) -> Floats:
    """Chromatic dispersion coefficient of a standard fibre.

    Fitted 1260 to 1460 nm, used in practice to 1625 nm. Irrelevant for a drop.

    Parameters
    ----------
    wavelength_nm : array_like
        Wavelength [nm]
    zero_nm : float
        Zero-dispersion wavelength [nm]
    slope : float
        Slope at that wavelength [ps/(nm²·km)]

    Returns
    -------
    dispersion : ndarray
        Dispersion coefficient [ps/(nm·km)]

    References
    ----------
    .. [1] ITU-T G.652 (11/2016).
    """
    nm = np.asarray(wavelength_nm, dtype=float)
    return np.asarray(slope / 4 * (nm - zero_nm**4 / nm**3))
