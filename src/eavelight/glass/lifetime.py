"""Life of bent fibre: chance of a break over decades, by order of magnitude only.

The flaw slope alone moves the answer a hundredfold and nobody in the field knows it:
never a life in years. Low loss does not prove a safe radius.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.glass import mitsunaga_1982 as paper

Floats = NDArray[np.float64]
_YEAR_S = 365.25 * 86400.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)


def bend_strain(
    radius_mm: ArrayLike, *, cladding_radius_um: float = paper.CLADDING_RADIUS_UM
) -> Floats:
    """Strain at the outside of a bent fibre.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the fibre axis [mm]
    cladding_radius_um : float, optional
        Radius of the glass [µm]

    Returns
    -------
    strain : ndarray
        Largest tensile strain [1]

    Examples
    --------
    >>> float(bend_strain(10.0))
    0.00625
    """
    radius = np.asarray(radius_mm, dtype=float)
    if np.any(~(radius > 0)):
        raise ValueError(f"radius_mm must be positive, got {radius_mm!r}")
    return np.asarray(cladding_radius_um / 1e3 / radius)


def bend_stress(
    radius_mm: ArrayLike,
    *,
    modulus_gpa: float = paper.MODULUS_GPA,
    nonlinearity: float = 0.0,
) -> Floats:
    """Stress at the outside of a bent fibre.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the fibre axis [mm]
    modulus_gpa : float, optional
        Young's modulus of silica; 70.3 goes with a nonlinearity of 4.5 [GPa]
    nonlinearity : float, optional
        Growth of the modulus with strain [1]

    Returns
    -------
    stress_gpa : ndarray
        Largest tensile stress [GPa]

    References
    ----------
    .. [1] IEC 60793-1-33.
    """
    strain = bend_strain(radius_mm)
    return np.asarray(modulus_gpa * strain * (1 + nonlinearity / 2 * strain))


def proof_radius(
    proof_gpa: float = paper.PROOF_STRESS_GPA, *, modulus_gpa: float = paper.MODULUS_GPA
) -> float:
    """Radius below which a bend exceeds the proof test: flaws never screened out.

    Parameters
    ----------
    proof_gpa : float, optional
        Proof stress of the fibre [GPa]
    modulus_gpa : float, optional
        Young's modulus of silica [GPa]

    Returns
    -------
    radius_mm : float
        Radius of equal stress [mm]

    Examples
    --------
    >>> proof_radius()
    6.52
    """
    return modulus_gpa * paper.CLADDING_RADIUS_UM / 1e3 / proof_gpa


def pull_force(
    stress_gpa: ArrayLike, *, cladding_radius_um: float = paper.CLADDING_RADIUS_UM
) -> Floats:
    """Pull on the bare glass that gives a stress.

    Parameters
    ----------
    stress_gpa : array_like
        Tensile stress [GPa]
    cladding_radius_um : float, optional
        Radius of the glass [µm]

    Returns
    -------
    force : ndarray
        Force [N]

    Examples
    --------
    >>> float(pull_force(0.69))
    8.468
    """
    area_mm2 = np.pi * (cladding_radius_um / 1e3) ** 2
    return np.asarray(np.asarray(stress_gpa, dtype=float) * 1e3 * area_mm2)


def tensile_failure(
    stress_ratio: ArrayLike,
    *,
    length_km: float,
    years: float,
    exponent: float = paper.STRESS_EXPONENT,
    slope: float = paper.FLAW_SLOPE,
    breaks_per_km: float = paper.BREAKS_PER_KM,
) -> Floats:
    """Chance that a pulled length breaks within so many years.

    Parameters
    ----------
    stress_ratio : array_like
        Stress over proof stress [1]
    length_km : float
        Length under that stress [km]
    years : float
        Time under stress [years]
    exponent : float, optional
        Stress corrosion exponent n [1]
    slope : float, optional
        Weibull slope of the dynamic strength [1]
    breaks_per_km : float, optional
        Breaks in the proof test [1/km]

    Returns
    -------
    probability : ndarray
        Chance of a break [1]

    References
    ----------
    .. [1] Y. Mitsunaga et al., J. Appl. Phys. 53 (1982) 4847.
    """
    grown = _growth(stress_ratio, years, exponent=exponent, slope=slope)
    return np.asarray(-np.expm1(-breaks_per_km * length_km * grown))


def tensile_life(
    stress_ratio: ArrayLike,
    *,
    length_km: float,
    probability: float,
    exponent: float = paper.STRESS_EXPONENT,
    slope: float = paper.FLAW_SLOPE,
    breaks_per_km: float = paper.BREAKS_PER_KM,
) -> Floats:
    """Time after which a pulled length has broken with a probability.

    Parameters
    ----------
    stress_ratio : array_like
        Stress over proof stress [1]
    length_km : float
        Length under that stress [km]
    probability : float
        Chance of a break, between 0 and 1 [1]
    exponent : float, optional
        Stress corrosion exponent n [1]
    slope : float, optional
        Weibull slope of the dynamic strength [1]
    breaks_per_km : float, optional
        Breaks in the proof test [1/km]

    Returns
    -------
    life_years : ndarray
        Time; steep in the stress, so an order of magnitude [years]
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must lie between 0 and 1, got {probability}")
    flaws = -np.log1p(-probability) / (breaks_per_km * length_km)
    grown = np.expm1(np.log1p(flaws) * (exponent + 1) / slope)
    seconds = paper.PROOF_TIME_S * np.asarray(stress_ratio, float) ** -exponent * grown
    return np.asarray(seconds / _YEAR_S)


def _growth(
    stress_ratio: ArrayLike, years: ArrayLike, *, exponent: float, slope: float
) -> Floats:
    """(1 + ratio^n t/t_p)^m - 1 without loss of digits."""
    time = np.asarray(years, dtype=float) * _YEAR_S / paper.PROOF_TIME_S
    load = np.asarray(stress_ratio, dtype=float) ** exponent * time
    return np.asarray(np.expm1(slope / (exponent + 1) * np.log1p(load)))


def bend_failure(
    radius_mm: ArrayLike,
    *,
    turns: ArrayLike = 1.0,
    years: ArrayLike = 20.0,
    exponent: float = paper.STRESS_EXPONENT,
    slope: float = paper.FLAW_SLOPE,
    breaks_per_km: float = paper.BREAKS_PER_KM,
    proof_gpa: float = paper.PROOF_STRESS_GPA,
    everywhere: bool = False,
) -> Floats:
    """Chance that stored turns break within so many years.

    Only the outside of a bend is in tension: the stress is averaged round the glass.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the fibre axis [mm]
    turns : array_like, optional
        Number of turns, parts allowed [1]
    years : array_like, optional
        Time stored [years]
    exponent : float, optional
        Stress corrosion exponent n [1]
    slope : float, optional
        Weibull slope of the dynamic strength [1]
    breaks_per_km : float, optional
        Breaks in the proof test [1/km]
    proof_gpa : float, optional
        Proof stress [GPa]
    everywhere : bool, optional
        Largest stress all round, a simple upper bound [1]

    Returns
    -------
    probability : ndarray
        Chance of a break: state its order of magnitude, nothing finer [1]

    References
    ----------
    .. [1] IEC TR 62048; Y. Mitsunaga et al., J. Appl. Phys. 53 (1982) 4847.

    Examples
    --------
    >>> bool(4.9e-7 < bend_failure(10.0) < 5.1e-7)
    True
    """
    radius, count, time = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (radius_mm, turns, years))
    )
    if np.any(~(count >= 0)) or np.any(~(time >= 0)):
        raise ValueError(
            f"turns and years must not be negative, got {turns!r} and {years!r}"
        )
    ratio = bend_stress(radius) / proof_gpa
    if everywhere:
        grown = _growth(ratio, time, exponent=exponent, slope=slope)
    else:
        cosine = np.cos(np.pi / 2 * _NODES)
        around = _growth(
            ratio[..., None] * cosine, time[..., None], exponent=exponent, slope=slope
        )
        grown = around @ _WEIGHTS / 4
    length_km = 2 * np.pi * radius / 1e6 * count
    return np.asarray(-np.expm1(-breaks_per_km * length_km * grown))


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakRisk:
    """Chance of a break with what is not known about flaws and fatigue.

    `decade` is the power of ten nearest to the typical chance.
    """

    probability: float
    low: float
    high: float
    decade: int
    beyond_proof: bool


def break_risk(
    radius_mm: float, *, turns: float = 1.0, years: float = 20.0
) -> BreakRisk:
    """Chance of a break over the years, with its span and its order of magnitude.

    Parameters
    ----------
    radius_mm : float
        Smallest radius of the stored fibre [mm]
    turns : float, optional
        Number of turns, parts allowed [1]
    years : float, optional
        Time stored, 20 to 30 [years]

    Returns
    -------
    risk : BreakRisk
        Chance, its span over slope and exponent, power of ten [1]
    """
    if not turns > 0:
        raise ValueError(f"turns must be positive, got {turns}")
    probability = float(bend_failure(radius_mm, turns=turns, years=years))
    span = [
        float(
            bend_failure(
                radius_mm, turns=turns, years=years, exponent=exponent, slope=slope
            )
        )
        for exponent in paper.EXPONENT_RANGE
        for slope in paper.FLAW_SLOPE_RANGE
    ]
    return BreakRisk(
        probability=probability,
        low=min(span),
        high=max(span),
        decade=round(np.log10(max(probability, 1e-300))),
        beyond_proof=radius_mm < proof_radius(),
    )


def radius_for_failure(
    probability: float, *, turns: float = 1.0, years: float = 20.0
) -> float:
    """Smallest radius whose turns keep the chance of a break below a target.

    Parameters
    ----------
    probability : float
        Target chance of a break of all turns together [1]
    turns : float, optional
        Number of turns [1]
    years : float, optional
        Time stored [years]

    Returns
    -------
    radius_mm : float
        Radius between 2 and 100 mm [mm]
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must lie between 0 and 1, got {probability}")
    low, high = 2.0, 100.0
    for _ in range(50):
        middle = (low * high) ** 0.5
        if bend_failure(middle, turns=turns, years=years) > probability:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True, kw_only=True)
class MinimumRadius:
    """The radius to keep, the three reasons for it, and the one that governs.

    `loss_proves_radius` is false for bend-insensitive fibre: there a dangerous bend may
    lose next to nothing.
    """

    radius_mm: float
    optical_mm: float
    life_mm: float
    rule_mm: float
    governed_by: str
    loss_proves_radius: bool


def minimum_radius(
    optical_mm: float,
    *,
    life_mm: float,
    rule_mm: float = 0.0,
    bend_insensitive: bool = False,
) -> MinimumRadius:
    """Radius to keep: the largest of optical limit, life and cable rule.

    Parameters
    ----------
    optical_mm : float
        Smallest radius of the fibre class [mm]
    life_mm : float
        Smallest radius for the chance of a break [mm]
    rule_mm : float, optional
        Smallest radius of the cable or tube it lies in [mm]
    bend_insensitive : bool, optional
        Whether low loss says nothing about the radius [1]

    Returns
    -------
    radius : MinimumRadius
        The largest, and `optical`, `life` or `cable` as its reason [mm]
    """
    reasons = {"optical": optical_mm, "life": life_mm, "cable": rule_mm}
    governed_by = max(reasons, key=lambda name: reasons[name])
    return MinimumRadius(
        radius_mm=reasons[governed_by],
        optical_mm=optical_mm,
        life_mm=life_mm,
        rule_mm=rule_mm,
        governed_by=governed_by,
        loss_proves_radius=not bend_insensitive,
    )


def cable_rule_radius(outside_diameter_mm: ArrayLike, *, multiple: float) -> Floats:
    """Smallest bend radius of a cable as a multiple of its diameter.

    A flat drop bends over its short axis only: give the minor dimension.

    Parameters
    ----------
    outside_diameter_mm : array_like
        Outside diameter, or the minor dimension of a flat cable [mm]
    multiple : float
        Usually 20 under pull and 10 installed [1]

    Returns
    -------
    radius_mm : ndarray
        Smallest bend radius [mm]
    """
    return np.asarray(np.asarray(outside_diameter_mm, dtype=float) * multiple)
