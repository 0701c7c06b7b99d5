"""Loss of a joint between two single-mode fibres, and what a one-way trace shows.

Gaussian fields with the data-sheet (Petermann) mode-field diameters. Small effects add
in decibels; `joint_loss` takes them together. Every loss is the same in both
directions; only the backscatter step of a one-way trace is not.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_DB = 10.0 / np.log(10.0)


def _radii(first_um: ArrayLike, second_um: ArrayLike) -> tuple[Floats, Floats]:
    first = np.asarray(first_um, dtype=float) / 2
    second = np.asarray(second_um, dtype=float) / 2
    if np.any(~(first > 0)) or np.any(~(second > 0)):
        raise ValueError(
            f"mode-field diameters must be positive, got {first_um!r} and {second_um!r}"
        )
    return first, second


def mode_field_loss(first_um: ArrayLike, second_um: ArrayLike) -> Floats:
    """Loss from two different mode-field diameters, perfectly aligned.

    Parameters
    ----------
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]

    Returns
    -------
    loss_db : ndarray
        Loss, the same both ways [dB]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703.

    Examples
    --------
    >>> float(mode_field_loss(9.2, 8.6))
    0.0197
    """
    one, two = _radii(first_um, second_um)
    return np.asarray(-2 * _DB * np.log(2 * one * two / (one**2 + two**2)))


def offset_loss(
    offset_um: ArrayLike, *, first_um: ArrayLike, second_um: ArrayLike
) -> Floats:
    """Loss that a sideways offset of the cores adds.

    Within 3 % of the exact overlap up to 3 µm when Petermann diameters are given.

    Parameters
    ----------
    offset_um : array_like
        Distance between the core axes [µm]
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]

    Returns
    -------
    loss_db : ndarray
        Loss added to that of the mode fields [dB]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703.

    Examples
    --------
    >>> float(offset_loss(1.0, first_um=9.2, second_um=9.2))
    0.2052
    """
    one, two = _radii(first_um, second_um)
    return np.asarray(2 * _DB * np.asarray(offset_um) ** 2 / (one**2 + two**2))


def offset_for_loss(
    loss_db: ArrayLike, *, first_um: ArrayLike, second_um: ArrayLike
) -> Floats:
    """Sideways offset that explains a loss by itself.

    Parameters
    ----------
    loss_db : array_like
        Loss above that of the mode fields, not negative [dB]
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]

    Returns
    -------
    offset_um : ndarray
        Distance between the core axes [µm]
    """
    one, two = _radii(first_um, second_um)
    loss = np.asarray(loss_db, dtype=float)
    if np.any(~(loss >= 0)):
        raise ValueError(f"loss_db must not be negative, got {loss_db!r}")
    return np.asarray(np.sqrt(loss * (one**2 + two**2) / (2 * _DB)))


def tilt_loss(
    tilt_deg: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    first_um: ArrayLike,
    second_um: ArrayLike,
    index: float,
) -> Floats:
    """Loss that an angle between the fibre axes adds.

    Matching liquid makes a tilt worse, not better: the loss grows with the index.

    Parameters
    ----------
    tilt_deg : array_like
        Angle between the axes [°]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]
    index : float
        Phase index of the medium between the ends [1]

    Returns
    -------
    loss_db : ndarray
        Loss added to that of the mode fields [dB]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703.

    Examples
    --------
    >>> fields = {"first_um": 9.2, "second_um": 9.2}
    >>> float(tilt_loss(1.0, wavelength_nm=1310.0, index=1.468, **fields))
    0.3469
    """
    one, two = _radii(first_um, second_um)
    um = np.asarray(wavelength_nm, dtype=float) / 1e3
    spread = np.pi * index * one * two * np.radians(tilt_deg) / um
    return np.asarray(2 * _DB * spread**2 / (one**2 + two**2))


def gap_loss(
    gap_um: ArrayLike,
    *,
    wavelength_nm: ArrayLike,
    first_um: ArrayLike,
    second_um: ArrayLike,
    index: float,
) -> Floats:
    """Loss that the spreading of light over an end gap adds, without reflection.

    Parameters
    ----------
    gap_um : array_like
        Distance between the end faces [µm]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]
    index : float
        Phase index of the medium in the gap [1]

    Returns
    -------
    loss_db : ndarray
        Loss added to that of the mode fields [dB]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703.

    Examples
    --------
    >>> fields = {"first_um": 9.2, "second_um": 9.2}
    >>> float(gap_loss(20.0, wavelength_nm=1310.0, index=1.0, **fields))
    0.1655
    """
    one, two = _radii(first_um, second_um)
    um = np.asarray(wavelength_nm, dtype=float) / 1e3
    spread = um * np.asarray(gap_um) / (np.pi * index) / (one**2 + two**2)
    return np.asarray(_DB * np.log1p(spread**2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Misalignment:
    """How two fibre ends stand to each other.

    The offset is measured at the second end face, from the axis of the first fibre.
    `azimuth_deg` is the direction of the tilt against that of the offset: at 0 the
    second fibre leans back towards the first axis, at 180 it leans away, as the light
    of a diverging beam does.
    """

    offset_um: float = 0.0
    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    gap_um: float = 0.0


def joint_loss(
    misalignment: Misalignment,
    *,
    wavelength_nm: ArrayLike,
    first_um: ArrayLike,
    second_um: ArrayLike,
    index: float,
) -> Floats:
    """Loss of a joint with mode-field mismatch, offset, tilt and gap together.

    Parameters
    ----------
    misalignment : Misalignment
        Offset, tilt, gap [µm and degrees]
    wavelength_nm : array_like
        Vacuum wavelength [nm]
    first_um, second_um : array_like
        Mode-field diameters of both fibres [µm]
    index : float
        Phase index of the medium between the ends [1]

    Returns
    -------
    loss_db : ndarray
        Loss without reflection [dB]

    References
    ----------
    .. [1] S. Nemoto, T. Makimoto, Opt. Quantum Electron. 11 (1979) 447,
       doi:10.1007/BF00619826.
    """
    one, two = _radii(first_um, second_um)
    k = 2 * np.pi * index / (np.asarray(wavelength_nm, dtype=float) / 1e3)
    spread = 1 / (one**2 + 2j * misalignment.gap_um / k)
    narrow = 1 / two**2
    azimuth, tilt = (
        np.radians(misalignment.azimuth_deg),
        np.radians(misalignment.tilt_deg),
    )
    log_power = 2 * np.log(2 * one / two * np.abs(spread / (spread + narrow)))
    for offset, angle in (
        (misalignment.offset_um, tilt * np.cos(azimuth)),
        (0.0, tilt * np.sin(azimuth)),
    ):
        drive = (2 * narrow * offset + 1j * k * angle) ** 2 / (4 * (spread + narrow))
        log_power = log_power + 2 * np.real(drive - narrow * offset**2)
    return np.asarray(-_DB * log_power)


def one_way_step(from_um: ArrayLike, to_um: ArrayLike) -> Floats:
    """Step that a one-way trace adds at a fibre change, towards the second fibre.

    The far fibre of smaller mode field scatters more light back: the step is negative,
    an apparent gain. Equal Rayleigh scattering assumed; a difference adds to the same
    term and cancels in the mean of both directions all the same.

    Parameters
    ----------
    from_um, to_um : array_like
        Mode-field diameters before and behind the joint [µm]

    Returns
    -------
    step_db : ndarray
        Added to the true loss on the one-way scale [dB]

    Examples
    --------
    >>> float(one_way_step(9.2, 8.6))
    -0.293
    """
    before, behind = _radii(from_um, to_um)
    return np.asarray(10 * np.log10(behind / before))


def one_way_reading(
    true_db: ArrayLike, *, from_um: ArrayLike, to_um: ArrayLike
) -> Floats:
    """Loss that a one-way trace shows at a joint.

    Parameters
    ----------
    true_db : array_like
        True loss of the joint [dB]
    from_um, to_um : array_like
        Mode-field diameters before and behind the joint [µm]

    Returns
    -------
    reading_db : ndarray
        Apparent loss, negative for an apparent gain [dB]
    """
    return np.asarray(np.asarray(true_db, dtype=float) + one_way_step(from_um, to_um))


def two_way(forward_db: ArrayLike, backward_db: ArrayLike) -> tuple[Floats, Floats]:
    """True loss and fibre step from the readings of both directions.

    Parameters
    ----------
    forward_db, backward_db : array_like
        One-way readings of the same joint from both ends [dB]

    Returns
    -------
    true_db : ndarray
        True loss [dB]
    step_db : ndarray
        One-way step of the forward direction [dB]

    Examples
    --------
    >>> true, step = two_way(-0.273, 0.313)
    >>> float(true), float(step)
    (0.02, -0.293)
    """
    forward = np.asarray(forward_db, dtype=float)
    backward = np.asarray(backward_db, dtype=float)
    return np.asarray((forward + backward) / 2), np.asarray((forward - backward) / 2)


def two_way_uncertainty(
    u_forward_db: ArrayLike, u_backward_db: ArrayLike, *, correlation: float = 0.0
) -> Floats:
    """Standard uncertainty of the two-way loss.

    Parameters
    ----------
    u_forward_db, u_backward_db : array_like
        Standard uncertainties of both readings [dB]
    correlation : float, optional
        Correlation of the two errors, -1 to 1 [1]

    Returns
    -------
    uncertainty_db : ndarray
        Standard uncertainty of the mean [dB]
    """
    a = np.asarray(u_forward_db, dtype=float)
    b = np.asarray(u_backward_db, dtype=float)
    return np.asarray(np.sqrt(a**2 + b**2 + 2 * correlation * a * b) / 2)


def one_way_interval(
    reading_db: float,
    *,
    from_range_um: tuple[float, float],
    to_range_um: tuple[float, float],
) -> tuple[float, float]:
    """True losses that a single one-way reading allows.

    Parameters
    ----------
    reading_db : float
        One-way reading [dB]
    from_range_um, to_range_um : tuple of float
        Smallest and largest mode-field diameter before and behind the joint [µm]

    Returns
    -------
    low_db : float
        Smallest true loss, not below zero [dB]
    high_db : float
        Largest true loss; negative where no mode field explains the gain [dB]

    Examples
    --------
    >>> one_way_interval(0.1, from_range_um=(8.2, 9.6), to_range_um=(8.2, 9.6))
    (0.0, 0.785)
    """
    least = float(one_way_step(from_range_um[1], to_range_um[0]))
    most = float(one_way_step(from_range_um[0], to_range_um[1]))
    return max(0.0, reading_db - most), reading_db - least


def offset_loss_mean(sigma_um: float, *, mode_field_um: float) -> float:
    """Mean splice loss where the core offset is Gaussian on both axes.

    The loss is then distributed exponentially.

    Parameters
    ----------
    sigma_um : float
        Standard deviation of the offset on one axis [µm]
    mode_field_um : float
        Mode-field diameter of both fibres [µm]

    Returns
    -------
    mean_db : float
        Mean loss [dB]
    """
    return float(2 * _DB * (2 * sigma_um / mode_field_um) ** 2)


def splices_exceed(loss_db: ArrayLike, *, mean_db: float, count: int = 1) -> Floats:
    """Chance that the sum of several exponential splice losses exceeds a loss.

    Parameters
    ----------
    loss_db : array_like
        Sum of the losses [dB]
    mean_db : float
        Mean of one splice [dB]
    count : int, optional
        Number of splices [1]

    Returns
    -------
    probability : ndarray
        Chance; a prior, never evidence about one splice [1]

    Examples
    --------
    >>> float(splices_exceed(0.2, mean_db=0.05))
    0.018
    """
    if not mean_db > 0 or count < 1:
        raise ValueError(
            f"mean_db must be positive and count 1 or more, got {mean_db}, {count}"
        )
    from scipy.special import gammaincc

    scaled = np.maximum(np.asarray(loss_db, dtype=float), 0.0) / mean_db
    return np.asarray(gammaincc(count, scaled))


@dataclass(frozen=True, slots=True, kw_only=True)
class SplicePrior:
    """Lognormal prior of one splice loss: never negative, long upper tail.

    >>> round(SplicePrior(mean_db=0.05, sigma_db=0.03).skewness, 2)
    2.02
    """

    mean_db: float
    sigma_db: float

    def __post_init__(self) -> None:
        if not (self.mean_db > 0 and self.sigma_db > 0):
            raise ValueError(
                f"mean_db and sigma_db must be positive, got {self.mean_db} and "
                f"{self.sigma_db}"
            )

    @property
    def log_sigma(self) -> float:
        """Standard deviation of the natural logarithm."""
        return float(np.sqrt(np.log1p((self.sigma_db / self.mean_db) ** 2)))

    @property
    def log_mean(self) -> float:
        """Mean of the natural logarithm of the loss in dB."""
        return float(np.log(self.mean_db) - self.log_sigma**2 / 2)

    @property
    def skewness(self) -> float:
        """Third standardised moment."""
        cv = self.sigma_db / self.mean_db
        return cv**3 + 3 * cv

    def quantile(self, probability: ArrayLike) -> Floats:
        """Loss not exceeded with a probability [dB]."""
        from scipy.special import ndtri

        return np.asarray(
            np.exp(self.log_mean + self.log_sigma * ndtri(np.asarray(probability)))
        )

    def of_sum(self, count: int) -> tuple[float, float, float]:
        """Mean [dB], standard deviation [dB] and skewness of so many splices."""
        root = float(np.sqrt(count))
        return count * self.mean_db, root * self.sigma_db, self.skewness / root
