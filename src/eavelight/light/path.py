"""The plant as a chain of parts, each with its loss at every wavelength.

A part holds the mean of its loss, its standard uncertainty, the third central moment
that carries skew, and the largest and smallest loss of a sound one. Names and kinds
are data; the numbers come from the plan, else from `PartDefaults`.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.light.statistical import splice_third_moment_db3

KINDS = ("fibre", "splice", "connector", "splitter", "coupler", "attenuator")
Array = NDArray[np.float64]
Loss = float | Mapping[int, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDefaults:
    """What a part loses where the plan does not say.

    Losses in dB, `fibre_sigma` and `fibre_worst` in dB/km, `fibre_reel` in km,
    `fibre_rayleigh_least` in dB µm⁴/km: no silica fibre scatters less.
    """

    splice_mean: float
    splice_sigma: float
    splice_worst: float
    splice_least: float
    connector_mean: float
    connector_sigma: float
    connector_worst: float
    connector_least: float
    splitter_per_doubling: float
    splitter_sigma: float
    splitter_worst_fixed: float
    splitter_worst_per_doubling: float
    fibre_sigma: float
    fibre_reel: float
    fibre_worst: float
    fibre_rayleigh_least: float
    coupler_mean: float
    coupler_sigma: float
    coupler_worst: float
    attenuator_sigma: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPlan:
    """One part as planned; `loss_db` is of one piece, by wavelength or for all.

    `attenuation_db_per_km` is needed for a fibre, at least at one wavelength.
    """

    name: str
    kind: str
    count: int = 1
    loss_db: Loss = None
    length_m: float = 0.0
    attenuation_db_per_km: Mapping[int, float] = field(default_factory=dict)
    ratio: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Parts in order from the line terminal; rows are parts, columns wavelengths."""

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    wavelengths_nm: Array
    loss_db: Array
    u_db: Array
    third: Array
    worst_db: Array
    least_db: Array

    def index(self, name: str) -> int:
        """Row of a part."""
        if name not in self.names:
            raise ValueError(
                f"name: no part {name!r}; there are {', '.join(self.names)}"
            )
        return self.names.index(name)

    def column(self, wavelength_nm: float) -> int:
        """Column of a wavelength."""
        found = np.flatnonzero(np.isclose(self.wavelengths_nm, wavelength_nm))
        if found.size == 0:
            raise ValueError(f"wavelength_nm: {wavelength_nm} is not in this path")
        return int(found[0])

    def between(self, first: str, last: str) -> "Path":
        """The parts from `first` to `last`, both included."""
        rows = slice(self.index(first), self.index(last) + 1)
        if rows.start >= rows.stop:
            raise ValueError(f"first: {first!r} comes after {last!r}")
        return self._rows(rows)

    def drop(self) -> "Path":
        """From the port connector to the terminal connector, both included."""
        return self.between("port", "terminal")

    def reversed(self) -> "Path":
        """The same parts seen from the terminal, for the upstream light."""
        return self._rows(slice(None, None, -1))

    def _rows(self, rows: slice) -> "Path":
        return Path(
            names=self.names[rows],
            kinds=self.kinds[rows],
            wavelengths_nm=self.wavelengths_nm,
            loss_db=self.loss_db[rows],
            u_db=self.u_db[rows],
            third=self.third[rows],
            worst_db=self.worst_db[rows],
            least_db=self.least_db[rows],
        )

    @property
    def total_db(self) -> Array:
        """Expected loss of all parts, per wavelength."""
        return np.asarray(self.loss_db.sum(axis=0))

    @property
    def total_u_db(self) -> Array:
        """Standard uncertainty of that loss, per wavelength."""
        return np.asarray(np.sqrt((self.u_db**2).sum(axis=0)))

    @property
    def total_third(self) -> Array:
        """Third central moment of that loss, per wavelength."""
        return np.asarray(self.third.sum(axis=0))

    @property
    def total_worst_db(self) -> Array:
        """Loss that no path of sound parts exceeds, per wavelength."""
        return np.asarray(self.worst_db.sum(axis=0))

    @property
    def total_least_db(self) -> Array:
        """Smallest physically possible loss, per wavelength."""
        return np.asarray(self.least_db.sum(axis=0))


def loss_at_db(known: Mapping[int, float], wavelength_nm: ArrayLike) -> Array:
    """Loss of a passive part between the wavelengths at which it is stated.

    Linear in wavelength between neighbours, held constant beyond the ends.

    Parameters
    ----------
    known : mapping
        Loss by wavelength in nm, at least one [dB]
    wavelength_nm : array_like
        Wavelengths asked for [nm]

    Returns
    -------
    loss_db : ndarray
        Loss at each [dB]

    Examples
    --------
    >>> float(loss_at_db({1310: 17.2, 1490: 17.0}, 1400))
    17.1
    """
    if not known:
        raise ValueError("known must hold at least one wavelength")
    places = sorted(known)
    values = [known[place] for place in places]
    return np.asarray(np.interp(np.asarray(wavelength_nm, float), places, values))


def attenuation_at_db_per_km(
    known: Mapping[int, float], wavelength_nm: ArrayLike
) -> Array:
    """Attenuation of a fibre between the wavelengths at which it is stated.

    Attenuation times the fourth power of the wavelength is linear between neighbours
    and constant beyond the ends: scattering alone keeps it constant. Not valid across
    the water peak near 1383 nm nor above 1650 nm.

    Parameters
    ----------
    known : mapping
        Attenuation by wavelength in nm, at least one [dB/km]
    wavelength_nm : array_like
        Wavelengths asked for [nm]

    Returns
    -------
    attenuation_db_per_km : ndarray
        Attenuation at each [dB/km]

    Examples
    --------
    >>> float(attenuation_at_db_per_km({1310: 0.34, 1550: 0.20}, 1270))
    0.3849
    """
    if not known:
        raise ValueError("known must hold at least one wavelength")
    places = sorted(known)
    asked = np.asarray(wavelength_nm, dtype=float)
    scaled = [known[place] * (place / 1000.0) ** 4 for place in places]
    return np.asarray(np.interp(asked, places, scaled) / (asked / 1000.0) ** 4)


def smallest_attenuation_db_per_km(
    wavelength_nm: ArrayLike, rayleigh_coefficient: float
) -> Array:
    """Attenuation that no silica fibre undercuts: the weakest scattering alone.

    Parameters
    ----------
    wavelength_nm : array_like
        Wavelengths [nm]
    rayleigh_coefficient : float
        Smallest scattering coefficient of a silica fibre [dB µm⁴/km]

    Returns
    -------
    attenuation_db_per_km : ndarray
        Coefficient over the fourth power of the wavelength in µm [dB/km]

    Examples
    --------
    >>> float(smallest_attenuation_db_per_km(1310.0, 0.7))
    0.2377
    """
    return np.asarray(
        rayleigh_coefficient / (np.asarray(wavelength_nm, dtype=float) / 1000.0) ** 4
    )


def fibre_sigma_db(
    length_km: float, sigma_db_per_km: float, *, reel_km: float
) -> float:
    """Standard uncertainty of the loss of a fibre made of several reels.

    Within a reel the attenuation is one draw; reels are independent.

    Parameters
    ----------
    length_km : float
        Length of the fibre [km]
    sigma_db_per_km : float
        Spread of the attenuation of one reel [dB/km]
    reel_km : float
        Length of a reel, positive [km]

    Returns
    -------
    sigma_db : float
        Standard uncertainty of the loss [dB]

    Examples
    --------
    >>> fibre_sigma_db(12.0, 0.02, reel_km=2.0)
    0.098
    """
    if reel_km <= 0:
        raise ValueError(f"reel_km must be positive, got {reel_km}")
    reels = max(length_km / reel_km, 1.0)
    return sigma_db_per_km * length_km / math.sqrt(reels)


def build_path(
    parts: Sequence[PartPlan], wavelengths_nm: ArrayLike, *, defaults: PartDefaults
) -> Path:
    """Path of the planned parts at the given wavelengths.

    Parameters
    ----------
    parts : sequence of PartPlan
        Parts in order from the line terminal [-]
    wavelengths_nm : array_like of shape (W,)
        Wavelengths of the columns [nm]
    defaults : PartDefaults
        Numbers for what the plan does not state [-]

    Returns
    -------
    path : Path
        Means, uncertainties, skew and extremes per part and wavelength [-]
    """
    asked = np.atleast_1d(np.asarray(wavelengths_nm, dtype=float))
    rows = [_row(part, asked, defaults) for part in parts]
    shape = (len(rows), asked.size)
    columns = [
        np.array([np.broadcast_to(row[k], asked.shape) for row in rows]).reshape(shape)
        for k in range(5)
    ]
    return Path(
        names=tuple(part.name for part in parts),
        kinds=tuple(part.kind for part in parts),
        wavelengths_nm=asked,
        loss_db=columns[0],
        u_db=columns[1],
        third=columns[2],
        worst_db=columns[3],
        least_db=columns[4],
    )


_Row = tuple[Array | float, Array | float, Array | float, Array | float, Array | float]


def _row(part: PartPlan, asked: Array, defaults: PartDefaults) -> _Row:
    if part.kind not in KINDS:
        raise ValueError(f"kind: expected one of {', '.join(KINDS)}, got {part.kind!r}")
    if part.kind == "fibre":
        return _fibre_row(part, asked, defaults)
    if part.kind == "splitter":
        return _splitter_row(part, asked, defaults)
    if part.kind == "splice":
        return _splice_row(part, asked, defaults)
    return _joint_row(part, asked, defaults)


def _stated(part: PartPlan, asked: Array, default: float | None) -> Array:
    if isinstance(part.loss_db, Mapping):
        return loss_at_db(part.loss_db, asked)
    value = default if part.loss_db is None else part.loss_db
    if value is None:
        raise ValueError(f"loss_db: the part {part.name!r} needs one")
    return np.full(asked.shape, float(value))


def _fibre_row(part: PartPlan, asked: Array, defaults: PartDefaults) -> _Row:
    km = part.length_m / 1000.0
    if part.loss_db is not None:
        mean = _stated(part, asked, None)
    else:
        known = part.attenuation_db_per_km
        mean = km * attenuation_at_db_per_km(known, asked)
    n = part.count
    u = fibre_sigma_db(km, defaults.fibre_sigma, reel_km=defaults.fibre_reel)
    worst = np.maximum(km * defaults.fibre_worst, mean)
    rayleigh = defaults.fibre_rayleigh_least
    least = np.minimum(mean, km * smallest_attenuation_db_per_km(asked, rayleigh))
    return n * mean, math.sqrt(n) * u, 0.0, n * worst, n * least


def _splice_row(part: PartPlan, asked: Array, defaults: PartDefaults) -> _Row:
    mean = _stated(part, asked, defaults.splice_mean)
    # a stated mean keeps the shape of the usual distribution, not its width
    sigma = defaults.splice_sigma * mean / defaults.splice_mean
    third = splice_third_moment_db3(mean, sigma)
    n = part.count
    worst = np.maximum(mean, defaults.splice_worst)
    return (
        n * mean,
        math.sqrt(n) * sigma,
        n * third,
        n * worst,
        n * defaults.splice_least,
    )


def _splitter_row(part: PartPlan, asked: Array, defaults: PartDefaults) -> _Row:
    doublings = math.log2(part.ratio) if part.ratio else None
    default = None if doublings is None else defaults.splitter_per_doubling * doublings
    mean = _stated(part, asked, default)
    u = defaults.splitter_sigma
    ideal = 0.0 if doublings is None else 10.0 * math.log10(2.0) * doublings
    ceiling = (
        mean + 3.0 * u
        if doublings is None
        else defaults.splitter_worst_fixed
        + defaults.splitter_worst_per_doubling * doublings
    )
    n = part.count
    worst = np.maximum(mean, ceiling)
    # one port may lose less than its share, by no more than the spread allows
    least = np.maximum(np.minimum(ideal, mean) - 3.0 * u, 0.0)
    return n * mean, math.sqrt(n) * u, 0.0, n * worst, n * least


def _joint_row(part: PartPlan, asked: Array, defaults: PartDefaults) -> _Row:
    n = part.count
    if part.kind == "connector":
        mean = _stated(part, asked, defaults.connector_mean)
        u, worst = defaults.connector_sigma, defaults.connector_worst
        least: Array | float = defaults.connector_least
    elif part.kind == "coupler":
        mean = _stated(part, asked, defaults.coupler_mean)
        u, worst, least = defaults.coupler_sigma, defaults.coupler_worst, 0.0
    else:
        mean = _stated(part, asked, None)
        u, worst = defaults.attenuator_sigma, 0.0
        least = np.maximum(mean - 3.0 * u, 0.0)
        return n * mean, math.sqrt(n) * u, 0.0, n * (mean + 3.0 * u), n * least
    return n * mean, math.sqrt(n) * u, 0.0, n * np.maximum(mean, worst), n * least
