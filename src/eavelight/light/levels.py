"""Expected level after every part, with uncertainty, conditioned on readings upstream.

The level after part k is the launch less the losses so far: a random walk. A reading
at one place replaces most of what was uncertain above it, so that below it only the
reading's own uncertainty and the parts in between remain. What is expected at a place
uses readings nearer the source only, never the reading at the place itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.light.path import Path
from eavelight.light.statistical import loss_quantile_db

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Launch:
    """Level that enters the first part, with its uncertainty and its extremes."""

    mean_dbm: float
    u_db: float
    least_dbm: float
    most_dbm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelReading:
    """A reading after the part `at`, or at the source itself where `at` is None."""

    at: str | None
    wavelength_nm: float
    value_dbm: float
    u_db: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walk:
    """Levels before and after each row's own reading; row 0 is the source."""

    expected_dbm: Array
    expected_u_db: Array
    expected_third: Array
    given_dbm: Array
    given_u_db: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Expected levels of one path; rows are the source and then each part.

    `expected_dbm` uses readings nearer the source. `plan_dbm` uses none. `lowest_dbm`
    and `highest_dbm` are the worst cases without any reading.
    """

    places: tuple[str, ...]
    wavelengths_nm: Array
    expected_dbm: Array
    expected_u_db: Array
    expected_third: Array
    plan_dbm: Array
    plan_u_db: Array
    lowest_dbm: Array
    highest_dbm: Array

    def row(self, place: str) -> int:
        """Row of a part, or 0 for the source (`hub`)."""
        if place in self.places[1:]:
            return self.places.index(place, 1)
        if place == self.places[0]:
            return 0
        raise ValueError(f"place: no {place!r}; there are {', '.join(self.places)}")

    def at(self, place: str, wavelength_nm: float) -> tuple[float, float]:
        """Expected level and its standard uncertainty after one part."""
        column = _column(self.wavelengths_nm, wavelength_nm)
        if column is None:
            raise ValueError(f"wavelength_nm: {wavelength_nm} is not among the levels")
        row = self.row(place)
        return (
            float(self.expected_dbm[row, column]),
            float(self.expected_u_db[row, column]),
        )

    def band_dbm(self, probability: float = 0.95) -> tuple[Array, Array]:
        """Levels that a sound path stays between, skew included."""
        tail = (1.0 - probability) / 2.0
        shape = {"sigma_db": self.expected_u_db, "third": self.expected_third}
        zero = np.zeros_like(self.expected_dbm)
        most = loss_quantile_db(1.0 - tail, mean_db=zero, **shape)
        least = loss_quantile_db(tail, mean_db=zero, **shape)
        return self.expected_dbm - most, self.expected_dbm - least


def known_launch(
    level_dbm: float, u_db: float, *, window_dbm: tuple[float, float] | None = None
) -> Launch:
    """Launch that the operator states.

    Parameters
    ----------
    level_dbm : float
        Stated launch [dBm]
    u_db : float
        Its standard uncertainty [dB]
    window_dbm : tuple of float, optional
        Smallest and largest launch of the class; the worst cases are two standard
        uncertainties away, and not beyond the window unless the launch is [dBm]

    Returns
    -------
    launch : Launch
        Mean, uncertainty and extremes [-]
    """
    least, most = level_dbm - 2.0 * u_db, level_dbm + 2.0 * u_db
    if window_dbm is not None:
        least = min(max(least, window_dbm[0]), level_dbm)
        most = max(min(most, window_dbm[1]), level_dbm)
    return Launch(mean_dbm=level_dbm, u_db=u_db, least_dbm=least, most_dbm=most)


def window_launch(least_dbm: float, most_dbm: float) -> Launch:
    """Launch of which only the class window is known: a rectangular distribution.

    Parameters
    ----------
    least_dbm : float
        Smallest launch of the class [dBm]
    most_dbm : float
        Largest launch of the class [dBm]

    Returns
    -------
    launch : Launch
        Middle of the window; width over the root of twelve as uncertainty [-]

    Examples
    --------
    >>> window_launch(1.5, 5.0).u_db
    1.0104
    """
    if least_dbm > most_dbm:
        raise ValueError(f"least_dbm must not exceed most_dbm, got {least_dbm}")
    return Launch(
        mean_dbm=(least_dbm + most_dbm) / 2.0,
        u_db=(most_dbm - least_dbm) / math.sqrt(12.0),
        least_dbm=least_dbm,
        most_dbm=most_dbm,
    )


def launch_u_db(least_dbm: float, most_dbm: float) -> float:
    """Standard uncertainty of a launch of which only the window is known.

    Parameters
    ----------
    least_dbm : float
        Smallest launch of the class [dBm]
    most_dbm : float
        Largest launch of the class [dBm]

    Returns
    -------
    u_db : float
        Half width over the root of three [dB]

    Examples
    --------
    >>> launch_u_db(1.5, 5.0)
    1.0104
    """
    return window_launch(least_dbm, most_dbm).u_db


def conditioned_level(
    prior_dbm: ArrayLike,
    prior_u_db: ArrayLike,
    *,
    reading_dbm: ArrayLike,
    reading_u_db: ArrayLike,
) -> tuple[Array, Array]:
    """Level at a place after a reading there, prior and reading weighted by u.

    Parameters
    ----------
    prior_dbm : array_like
        Level expected before the reading [dBm]
    prior_u_db : array_like
        Its standard uncertainty [dB]
    reading_dbm : array_like
        The reading; NaN where there is none [dBm]
    reading_u_db : array_like
        Its standard uncertainty [dB]

    Returns
    -------
    level : tuple of ndarray
        Level and its standard uncertainty [dBm and dB]

    Examples
    --------
    >>> level, u = conditioned_level(-16.0, 1.0, reading_dbm=-18.0, reading_u_db=0.2)
    >>> float(level), float(u)
    (-17.923, 0.1961)
    """
    prior = np.asarray(prior_dbm, dtype=float)
    prior_u = np.asarray(prior_u_db, dtype=float)
    weight, seen = _weight(prior_u, reading_dbm, reading_u_db)
    innovation = np.where(seen, np.asarray(reading_dbm, dtype=float) - prior, 0.0)
    return prior + weight * innovation, prior_u * np.sqrt(1.0 - weight)


def _weight(
    prior_u: Array, reading_dbm: ArrayLike, reading_u_db: ArrayLike
) -> tuple[Array, NDArray[np.bool_]]:
    reading = np.asarray(reading_dbm, dtype=float)
    seen = ~np.isnan(reading)
    total = prior_u**2 + np.asarray(reading_u_db, dtype=float) ** 2
    # two exact numbers that meet: the prior stays
    usable = seen & (total > 0)
    weight = np.where(usable, prior_u**2 / np.where(total > 0, total, 1.0), 0.0)
    return weight, seen


def walk_down(
    launch_dbm: ArrayLike,
    launch_u_db: ArrayLike,
    *,
    loss_db: ArrayLike,
    u_db: ArrayLike,
    third: ArrayLike = 0.0,
    reading_dbm: ArrayLike | None = None,
    reading_u_db: ArrayLike = 0.0,
) -> Walk:
    """Levels along one path or many, from the source down.

    Axis 0 runs over the parts; any further axes (plants, wavelengths) are carried
    along and broadcast. Readings have one row more than the losses: row 0 is the
    source, NaN means no reading.

    Parameters
    ----------
    launch_dbm : array_like
        Level at the source [dBm]
    launch_u_db : array_like
        Its standard uncertainty [dB]
    loss_db : array_like of shape (P, ...)
        Mean loss of each part [dB]
    u_db : array_like of shape (P, ...)
        Standard uncertainty of each part's loss [dB]
    third : array_like of shape (P, ...), optional
        Third central moment of each part's loss [dB³]
    reading_dbm : array_like of shape (P + 1, ...), optional
        Readings at the source and after each part, NaN for none [dBm]
    reading_u_db : array_like of shape (P + 1, ...), optional
        Their standard uncertainties [dB]

    Returns
    -------
    walk : Walk
        Level, uncertainty and third moment of the loss at P + 1 places, before and
        after each place's own reading [dBm, dB and dB³]

    Examples
    --------
    >>> walk = walk_down(3.0, 0.3, loss_db=[17.0, 0.5], u_db=[0.4, 0.0])
    >>> [float(level) for level in walk.expected_dbm]
    [3.0, -14.0, -14.5]
    >>> float(walk.expected_u_db[-1])
    0.5
    """
    loss = np.asarray(loss_db, dtype=float)
    spread = np.broadcast_to(np.asarray(u_db, dtype=float), loss.shape)
    skew = np.broadcast_to(np.asarray(third, dtype=float), loss.shape)
    start = np.asarray(launch_dbm, dtype=float)
    start_u = np.asarray(launch_u_db, dtype=float)
    if reading_dbm is None:
        return _plain_walk(start, start_u, loss=loss, spread=spread, skew=skew)
    reading = np.asarray(reading_dbm, dtype=float)
    reading_u = np.broadcast_to(np.asarray(reading_u_db, dtype=float), reading.shape)
    tail = np.broadcast_shapes(
        loss.shape[1:], reading.shape[1:], start.shape, start_u.shape
    )
    out = np.empty((5, loss.shape[0] + 1, *tail))
    level, variance, moment = start, start_u**2, np.zeros(())
    for row in range(loss.shape[0] + 1):
        if row:
            level = level - loss[row - 1]
            variance = variance + spread[row - 1] ** 2
            moment = moment + skew[row - 1]
        before_u = np.sqrt(variance)
        weight, seen = _weight(before_u, reading[row], reading_u[row])
        out[0, row], out[1, row], out[2, row] = level, before_u, moment
        level = level + weight * np.where(seen, reading[row] - level, 0.0)
        variance = variance * (1.0 - weight)
        moment = moment * (1.0 - weight) ** 3
        out[3, row], out[4, row] = level, np.sqrt(variance)
    return Walk(
        expected_dbm=out[0],
        expected_u_db=out[1],
        expected_third=out[2],
        given_dbm=out[3],
        given_u_db=out[4],
    )


def _plain_walk(
    start: Array, start_u: Array, *, loss: Array, spread: Array, skew: Array
) -> Walk:
    tail = np.broadcast_shapes(loss.shape[1:], start.shape, start_u.shape)
    shape = (loss.shape[0] + 1, *tail)
    level, variance, moment = np.empty(shape), np.empty(shape), np.zeros(shape)
    level[0], variance[0] = start, start_u**2
    level[1:] = start - np.cumsum(loss, axis=0)
    variance[1:] = start_u**2 + np.cumsum(spread**2, axis=0)
    moment[1:] = np.cumsum(skew, axis=0)
    u = np.sqrt(variance)
    return Walk(
        expected_dbm=level,
        expected_u_db=u,
        expected_third=moment,
        given_dbm=level,
        given_u_db=u,
    )


def expected_levels(
    path: Path,
    launch: Launch | Sequence[Launch],
    *,
    readings: Sequence[LevelReading] = (),
    source: str = "hub",
) -> Levels:
    """Expected level after every part of one path at all its wavelengths.

    For the upstream light give the reversed path and the terminal's launch; the last
    row is then the level at the line terminal.

    Parameters
    ----------
    path : Path
        Parts in the direction of the light [-]
    launch : Launch or sequence of Launch
        What enters the first part, the same or one for each wavelength [-]
    readings : sequence of LevelReading, optional
        Readings that condition what lies below; other wavelengths are left out [-]
    source : str, optional
        Name of the first place [-]

    Returns
    -------
    levels : Levels
        Expected, planned and extreme levels per place and wavelength [-]
    """
    launches = [launch] if isinstance(launch, Launch) else list(launch)
    mean, u, least, most = (
        np.array([getattr(item, name) for item in launches])
        for name in ("mean_dbm", "u_db", "least_dbm", "most_dbm")
    )
    parts = {"loss_db": path.loss_db, "u_db": path.u_db, "third": path.third}
    plan = walk_down(mean, u, **parts)
    value, value_u = _reading_table(path, readings)
    walk = plan
    if readings:
        walk = walk_down(mean, u, **parts, reading_dbm=value, reading_u_db=value_u)
    return Levels(
        places=(source, *path.names),
        wavelengths_nm=path.wavelengths_nm,
        expected_dbm=walk.expected_dbm,
        expected_u_db=walk.expected_u_db,
        expected_third=walk.expected_third,
        plan_dbm=plan.expected_dbm,
        plan_u_db=plan.expected_u_db,
        lowest_dbm=_extreme(least, path.worst_db),
        highest_dbm=_extreme(most, path.least_db),
    )


def _extreme(launch_dbm: Array, loss_db: Array) -> Array:
    out = np.empty((loss_db.shape[0] + 1, loss_db.shape[1]))
    out[0] = launch_dbm
    out[1:] = launch_dbm - np.cumsum(loss_db, axis=0)
    return out


def _column(wavelengths_nm: Array, wavelength_nm: float) -> int | None:
    found = np.flatnonzero(np.isclose(wavelengths_nm, wavelength_nm, rtol=0, atol=0.5))
    return int(found[0]) if found.size else None


def _reading_table(path: Path, readings: Sequence[LevelReading]) -> tuple[Array, Array]:
    """Readings as rows and columns; several at one place are averaged by weight."""
    shape = (len(path.names) + 1, path.wavelengths_nm.size)
    weight, total, exact = np.zeros(shape), np.zeros(shape), np.full(shape, np.nan)
    for item in readings:
        column = _column(path.wavelengths_nm, item.wavelength_nm)
        if column is None:
            continue
        row = 0 if item.at is None else path.index(item.at) + 1
        if item.u_db <= 0:
            exact[row, column] = item.value_dbm
            continue
        weight[row, column] += item.u_db**-2
        total[row, column] += item.value_dbm * item.u_db**-2
    seen = weight > 0
    safe = np.where(seen, weight, 1.0)
    value = np.where(seen, total / safe, np.nan)
    u = np.where(seen, safe**-0.5, 0.0)
    certain = ~np.isnan(exact)
    return np.where(certain, exact, value), np.where(certain, 0.0, u)
