"""Stored slack: loop lengths, what a re-splice costs, what fits in a sleeve."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass.bend import BendLoss, loop_loss
from eavelight.glass.fibre import FibreType
from eavelight.glass.lifetime import (
    BreakRisk,
    MinimumRadius,
    break_risk,
    minimum_radius,
    proof_radius,
    radius_for_failure,
)

Floats = NDArray[np.float64]


def lap_length(radius_mm: ArrayLike, *, straight_mm: ArrayLike = 0.0) -> Floats:
    """Length of one lap: a circle, or a race-track with two straights.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the ends [mm]
    straight_mm : array_like, optional
        Length of each straight [mm]

    Returns
    -------
    length_mm : ndarray
        Length of one lap [mm]

    Examples
    --------
    >>> float(lap_length(20.0, straight_mm=60.0))
    245.7
    """
    return np.asarray(2 * np.pi * np.asarray(radius_mm) + 2 * np.asarray(straight_mm))


def turns_per_metre(radius_mm: ArrayLike) -> Floats:
    """Turns that one metre of fibre makes on a circle.

    Parameters
    ----------
    radius_mm : array_like
        Radius [mm]

    Returns
    -------
    turns : ndarray
        Turns [1]
    """
    return np.asarray(1e3 / lap_length(radius_mm))


def radius_lost(length_mm: ArrayLike, *, laps: ArrayLike) -> Floats:
    """How much tighter the laps become when fibre is lost and the holder stays.

    Parameters
    ----------
    length_mm : array_like
        Fibre lost [mm]
    laps : array_like
        Laps that share the loss; total turning over one full turn [1]

    Returns
    -------
    radius_mm : ndarray
        Radius lost [mm]

    Examples
    --------
    >>> float(radius_lost(50.0, laps=3))
    2.7
    """
    count = np.asarray(laps, dtype=float)
    if np.any(~(count > 0)):
        raise ValueError(f"laps must be positive, got {laps!r}")
    return np.asarray(np.asarray(length_mm, dtype=float) / (2 * np.pi * count))


def resplices_by_length(slack_mm: float, *, reach_mm: float, cut_mm: float) -> int:
    """Re-splices before the end no longer reaches the splicer.

    Parameters
    ----------
    slack_mm : float
        Fibre from the entry to its end [mm]
    reach_mm : float
        Length needed to bring the end into the splicer [mm]
    cut_mm : float
        Fibre that one attempt consumes [mm]

    Returns
    -------
    attempts : int
        Attempts left [1]

    Examples
    --------
    >>> resplices_by_length(1000.0, reach_mm=350.0, cut_mm=50.0)
    13
    """
    _positive(cut_mm=cut_mm)
    return max(0, int((slack_mm - reach_mm + 1e-9) // cut_mm))


def resplices_by_radius(
    radius_mm: float, *, smallest_mm: float, laps: float, cut_mm: float
) -> int:
    """Re-splices before the laps become too tight, the number of laps kept.

    Parameters
    ----------
    radius_mm : float
        Radius now [mm]
    smallest_mm : float
        Smallest radius allowed [mm]
    laps : float
        Laps that share the loss [1]
    cut_mm : float
        Fibre that one attempt consumes [mm]

    Returns
    -------
    attempts : int
        Attempts left [1]

    Examples
    --------
    >>> resplices_by_radius(20.0, smallest_mm=15.0, laps=3, cut_mm=50.0)
    1
    """
    _positive(cut_mm=cut_mm)
    room = 2 * np.pi * laps * (radius_mm - smallest_mm)
    return max(0, int((room + 1e-9) // cut_mm))


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0:
            raise ValueError(f"{name} must be positive, got {value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SleeveFit:
    """Whether a splice sleeve covers the bare glass and lies in its holder.

    `reason` is empty, `too short` for the bare glass, `too long` for the holder, or
    `off centre`: ends that meet in the middle leave one coating without its overlap.
    `off_centre_mm` is how far the middle of the bare glass may sit from the middle of
    the sleeve; `shift_mm` is where it sits when the ends meet in the middle.
    """

    fits: bool
    reason: str
    sleeve_mm: float
    bare_mm: float
    cable_overlap_mm: float
    pigtail_overlap_mm: float
    off_centre_mm: float
    shift_mm: float


def sleeve_fit(
    sleeve_mm: float,
    *,
    cable_bare_mm: float,
    pigtail_bare_mm: float,
    holder_mm: float | None = None,
    overlap_mm: float = 6.0,
) -> SleeveFit:
    """Whether a sleeve suits the cleave lengths and the holder.

    Parameters
    ----------
    sleeve_mm : float
        Length of the sleeve [mm]
    cable_bare_mm, pigtail_bare_mm : float
        Cleave lengths: bare glass of each side [mm]
    holder_mm : float, optional
        Longest sleeve that lies straight in the holder, None where unknown [mm]
    overlap_mm : float, optional
        Least overlap on each coating [mm]

    Returns
    -------
    fit : SleeveFit
        Verdict with its reason, overlaps, room off centre [mm]

    Examples
    --------
    >>> sleeve_fit(60.0, cable_bare_mm=16.0, pigtail_bare_mm=16.0).off_centre_mm
    8.0
    >>> sleeve_fit(40.0, cable_bare_mm=16.0, pigtail_bare_mm=16.0).reason
    'too short'
    """
    _positive(
        sleeve_mm=sleeve_mm,
        cable_bare_mm=cable_bare_mm,
        pigtail_bare_mm=pigtail_bare_mm,
    )
    bare = cable_bare_mm + pigtail_bare_mm
    room = (sleeve_mm - bare) / 2 - overlap_mm
    shift = (pigtail_bare_mm - cable_bare_mm) / 2
    reason = ""
    if room < 0:
        reason = "too short"
    elif holder_mm is not None and sleeve_mm > holder_mm:
        reason = "too long"
    elif abs(shift) > room:
        reason = "off centre"
    return SleeveFit(
        fits=not reason,
        reason=reason,
        sleeve_mm=sleeve_mm,
        bare_mm=bare,
        cable_overlap_mm=sleeve_mm / 2 - cable_bare_mm,
        pigtail_overlap_mm=sleeve_mm / 2 - pigtail_bare_mm,
        off_centre_mm=max(0.0, room),
        shift_mm=shift,
    )


def require_sleeve(fit: SleeveFit) -> SleeveFit:
    """The same fit, or an error that names the sleeve and why it is refused.

    Parameters
    ----------
    fit : SleeveFit
        Answer of `sleeve_fit` [mm]

    Returns
    -------
    fit : SleeveFit
        The same [mm]
    """
    if not fit.fits:
        raise ValueError(
            f"sleeve_mm must suit {fit.bare_mm:g} mm of bare glass and its holder, "
            f"got {fit.sleeve_mm:g} ({fit.reason})"
        )
    return fit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoopReport:
    """Stored loops: loss at each wavelength, chance of a break, radius to keep.

    `warnings` holds `below proof` (R under 6.5 mm), `below minimum`, `loss proves
    nothing` (bend-insensitive fibre), `no limit published`, `below model`.
    """

    wavelength_nm: tuple[float, ...]
    loss: BendLoss
    risk_20_years: BreakRisk
    risk_30_years: BreakRisk
    keep: MinimumRadius
    warnings: tuple[str, ...]


def loop_report(
    fibre: FibreType,
    radius_mm: float,
    *,
    turns: float,
    wavelength_nm: tuple[float, ...] = (1310.0, 1490.0, 1550.0, 1625.0),
    failure: float = 1e-5,
    rule_mm: float = 0.0,
) -> LoopReport:
    """What a stored loop costs in light and in life.

    Parameters
    ----------
    fibre : FibreType
        Fibre type [1]
    radius_mm : float
        Smallest radius of the loops [mm]
    turns : float
        Number of turns [1]
    wavelength_nm : tuple of float, optional
        Wavelengths [nm]
    failure : float, optional
        Chance of a break in 30 years that is still accepted [1]
    rule_mm : float, optional
        Smallest radius of the cable or tube it lies in [mm]

    Returns
    -------
    report : LoopReport
        Losses, chances, radius to keep, warnings [1]
    """
    loss = loop_loss(fibre, radius_mm, wavelength_nm=wavelength_nm, turns=turns)
    keep = minimum_radius(
        fibre.design_radius_mm,
        life_mm=radius_for_failure(failure, turns=turns, years=30.0),
        rule_mm=rule_mm,
        bend_insensitive=fibre.bend_insensitive,
    )
    flags = {
        "below proof": radius_mm < proof_radius(),
        "below minimum": radius_mm < keep.radius_mm - 1e-9,
        "loss proves nothing": fibre.bend_insensitive,
        "no limit published": radius_mm
        < min((row.radius_mm for row in fibre.bend_limits), default=np.inf),
        "below model": not bool(np.all(loss.modelled)),
    }
    return LoopReport(
        wavelength_nm=wavelength_nm,
        loss=loss,
        risk_20_years=break_risk(radius_mm, turns=turns, years=20.0),
        risk_30_years=break_risk(radius_mm, turns=turns, years=30.0),
        keep=keep,
        warnings=tuple(name for name, shown in flags.items() if shown),
    )
