"""Size and resistance of copper conductors and pairs.

"Loop" means out and back; "conductor" means one wire. Lengths are one way.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.power.materials import (
    ANNEALED_COPPER_OHM_MM2_PER_M,
    COPPER,
    REFERENCE_C,
    Material,
)

KM_PER_KFT = 0.3048
"""1000 international feet, exact [km]."""

STRAND_FACTOR = 1.023
"""Seven strands over solid, mean of NEC chapter 9 table 8, 10 to 18 AWG [1]."""

TWIST_FACTOR = 1.018
"""Twisted telephone pair over straight wire, from carrier loop tables [1]."""

Array = NDArray[np.float64]


def _not_negative(**values: Any) -> None:
    for name, value in values.items():
        if np.any(np.asarray(value, dtype=float) < 0):
            raise ValueError(f"{name} must not be negative, got {value!r}")


def _positive(**values: Any) -> None:
    for name, value in values.items():
        if np.any(~(np.asarray(value, dtype=float) > 0)):
            raise ValueError(f"{name} must be positive, got {value!r}")


def awg_diameter_mm(gauge: ArrayLike) -> Array:
    """Diameter of a solid wire of the American gauge.

    Parameters
    ----------
    gauge : array_like
        Gauge number; 0, -1, -2, -3 stand for 1/0, 2/0, 3/0, 4/0 [AWG]

    Returns
    -------
    diameter_mm : ndarray
        Bare diameter [mm]

    References
    ----------
    .. [1] ASTM B258: 39 equal ratios between 0.0050 in (36) and 0.4600 in (4/0).

    Examples
    --------
    >>> float(awg_diameter_mm(18))
    1.024
    """
    return np.asarray(0.127 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=float)) / 39.0))


def awg_area_mm2(gauge: ArrayLike) -> Array:
    """Cross-section of the metal of a wire of the American gauge.

    Parameters
    ----------
    gauge : array_like
        Gauge number; 0, -1, -2, -3 stand for 1/0, 2/0, 3/0, 4/0 [AWG]

    Returns
    -------
    area_mm2 : ndarray
        Cross-section [mm²]

    Examples
    --------
    >>> float(awg_area_mm2(18))
    0.823
    """
    return np.asarray(np.pi / 4.0 * awg_diameter_mm(gauge) ** 2)


def awg_from_area(area_mm2: ArrayLike) -> Array:
    """Gauge number of a cross-section, not rounded.

    Parameters
    ----------
    area_mm2 : array_like
        Cross-section of the metal [mm²]

    Returns
    -------
    gauge : ndarray
        Gauge number, fractional; larger is thinner [AWG]

    Examples
    --------
    >>> float(awg_from_area(0.75))
    18.4
    """
    _positive(area_mm2=area_mm2)
    diameter_mm = np.sqrt(4.0 / np.pi * np.asarray(area_mm2, dtype=float))
    return np.asarray(36.0 - 39.0 * np.log(diameter_mm / 0.127) / np.log(92.0))


def temperature_coefficient_per_k(
    reference_c: ArrayLike, material: Material = COPPER
) -> Array:
    """Relative rise of resistance per kelvin, referred to another temperature.

    Parameters
    ----------
    reference_c : array_like
        Temperature at which the resistance is known [°C]
    material : Material, optional
        What the conductor is made of [1]

    Returns
    -------
    coefficient_per_k : ndarray
        Temperature coefficient at `reference_c` [1/K]

    Examples
    --------
    >>> float(temperature_coefficient_per_k(75.0))
    0.00323
    """
    alpha = material.coefficient_per_k
    rise = np.asarray(reference_c, dtype=float) - REFERENCE_C
    return np.asarray(alpha / (1.0 + alpha * rise))


def conductor_resistance_ohm_per_km(
    area_mm2: ArrayLike,
    *,
    temperature_c: ArrayLike = REFERENCE_C,
    material: Material = COPPER,
    stranded: bool = False,
    twisted: bool = False,
) -> Array:
    """Resistance of one conductor per kilometre of cable.

    Linear in temperature, good from -40 to 100 °C.

    Parameters
    ----------
    area_mm2 : array_like
        Cross-section of the metal [mm²]
    temperature_c : array_like, optional
        Temperature of the metal [°C]
    material : Material, optional
        What the conductor is made of [1]
    stranded : bool, optional
        Several strands: each is longer than the conductor [1]
    twisted : bool, optional
        Twisted pair: each wire is longer than the cable [1]

    Returns
    -------
    resistance_ohm_per_km : ndarray
        One way, one conductor [Ω/km]

    References
    ----------
    .. [1] IEC 60028; NEC chapter 9 table 8 for the strands.

    Examples
    --------
    >>> float(conductor_resistance_ohm_per_km(awg_area_mm2(18)))
    20.95
    """
    _positive(area_mm2=area_mm2)
    rise = np.asarray(temperature_c, dtype=float) - REFERENCE_C
    longer = (STRAND_FACTOR if stranded else 1.0) * (TWIST_FACTOR if twisted else 1.0)
    cold = ANNEALED_COPPER_OHM_MM2_PER_M / material.conductivity * 1000.0
    warm = 1.0 + material.coefficient_per_k * rise
    return np.asarray(cold / np.asarray(area_mm2, dtype=float) * warm * longer)


def ohm_per_kft_from_ohm_per_km(resistance_ohm_per_km: ArrayLike) -> Array:
    """Resistance per 1000 feet from resistance per kilometre.

    Parameters
    ----------
    resistance_ohm_per_km : array_like
        Resistance per length [Ω/km]

    Returns
    -------
    resistance_ohm_per_kft : ndarray
        The same resistance per length [Ω/kft]

    Examples
    --------
    >>> float(ohm_per_kft_from_ohm_per_km(25.5))
    7.77
    """
    return np.asarray(np.asarray(resistance_ohm_per_km, dtype=float) * KM_PER_KFT)


def ohm_per_km_from_ohm_per_kft(resistance_ohm_per_kft: ArrayLike) -> Array:
    """Resistance per kilometre from resistance per 1000 feet.

    Parameters
    ----------
    resistance_ohm_per_kft : array_like
        Resistance per length [Ω/kft]

    Returns
    -------
    resistance_ohm_per_km : ndarray
        The same resistance per length [Ω/km]

    Examples
    --------
    >>> float(ohm_per_km_from_ohm_per_kft(51.9))
    170.3
    """
    return np.asarray(np.asarray(resistance_ohm_per_kft, dtype=float) / KM_PER_KFT)


def loop_resistance_ohm(
    length_m: ArrayLike,
    area_mm2: ArrayLike,
    *,
    temperature_c: ArrayLike = REFERENCE_C,
    material: Material = COPPER,
    stranded: bool = False,
    twisted: bool = False,
    pairs: ArrayLike = 1,
) -> Array:
    """Resistance out and back of identical pairs in parallel.

    Joints are not included. With one of `n` pairs open, ask again with `n - 1`.

    Parameters
    ----------
    length_m : array_like
        Length of the cable, one way [m]
    area_mm2 : array_like
        Cross-section of one conductor [mm²]
    temperature_c : array_like, optional
        Temperature of the metal [°C]
    material : Material, optional
        What the conductors are made of [1]
    stranded : bool, optional
        Several strands per conductor [1]
    twisted : bool, optional
        Twisted pairs [1]
    pairs : array_like, optional
        Pairs that carry the current together, at least one [1]

    Returns
    -------
    loop_ohm : ndarray
        Loop resistance [Ω]

    Examples
    --------
    >>> float(loop_resistance_ohm(25.0, awg_area_mm2(18)))
    1.047
    """
    _not_negative(length_m=length_m)
    if np.any(~(np.asarray(pairs) >= 1)):
        raise ValueError(f"pairs must be at least 1, got {pairs!r}")
    one = conductor_resistance_ohm_per_km(
        area_mm2,
        temperature_c=temperature_c,
        material=material,
        stranded=stranded,
        twisted=twisted,
    )
    length_km = np.asarray(length_m, dtype=float) / 1000.0
    return np.asarray(2.0 * length_km * one / np.asarray(pairs, dtype=float))


def loop_resistance_u_ohm(
    loop_ohm: ArrayLike,
    *,
    length_m: ArrayLike,
    length_u_m: ArrayLike = 0.0,
    temperature_c: ArrayLike = REFERENCE_C,
    temperature_u_k: ArrayLike = 0.0,
    material: Material = COPPER,
) -> Array:
    """Standard uncertainty of a predicted loop resistance.

    Combines length, temperature and the tolerance of the wire itself.

    Parameters
    ----------
    loop_ohm : array_like
        Predicted loop resistance [Ω]
    length_m : array_like
        Length of the cable, one way, positive [m]
    length_u_m : array_like, optional
        Standard uncertainty of the length [m]
    temperature_c : array_like, optional
        Temperature of the metal [°C]
    temperature_u_k : array_like, optional
        Standard uncertainty of the temperature [K]
    material : Material, optional
        What the conductors are made of [1]

    Returns
    -------
    loop_u_ohm : ndarray
        Standard uncertainty [Ω]

    Examples
    --------
    >>> float(loop_resistance_u_ohm(1.047, length_m=25.0, length_u_m=1.0))
    0.0432
    """
    _positive(length_m=length_m)
    relative = np.hypot(
        np.asarray(length_u_m, dtype=float) / np.asarray(length_m, dtype=float),
        np.asarray(temperature_u_k, dtype=float)
        * temperature_coefficient_per_k(temperature_c, material),
    )
    return np.asarray(
        np.asarray(loop_ohm, dtype=float) * np.hypot(relative, material.relative_u)
    )


def loop_at_temperature_ohm(
    loop_ohm: ArrayLike,
    from_c: ArrayLike,
    to_c: ArrayLike,
    *,
    material: Material = COPPER,
) -> Array:
    """A measured loop resistance carried to another temperature.

    Parameters
    ----------
    loop_ohm : array_like
        Loop resistance as measured [Ω]
    from_c : array_like
        Temperature of the metal when it was measured [°C]
    to_c : array_like
        Temperature of the metal that is asked for [°C]
    material : Material, optional
        What the conductors are made of [1]

    Returns
    -------
    loop_ohm : ndarray
        Loop resistance at `to_c` [Ω]

    Examples
    --------
    >>> float(loop_at_temperature_ohm(1.0, 20.0, 60.0))
    1.157
    """
    alpha = temperature_coefficient_per_k(from_c, material)
    step = np.asarray(to_c, dtype=float) - np.asarray(from_c, dtype=float)
    return np.asarray(np.asarray(loop_ohm, dtype=float) * (1.0 + alpha * step))


def length_from_loop_m(loop_ohm: ArrayLike, *, loop_ohm_per_km: ArrayLike) -> Array:
    """One-way length that a loop resistance stands for, if the copper is sound.

    Parameters
    ----------
    loop_ohm : array_like
        Loop resistance with the far end shorted [Ω]
    loop_ohm_per_km : array_like
        Out and back resistance of a kilometre of this cable [Ω/km]

    Returns
    -------
    length_m : ndarray
        Length of the cable, one way [m]

    Examples
    --------
    >>> float(length_from_loop_m(1.047, loop_ohm_per_km=41.9))
    24.99
    """
    _positive(loop_ohm_per_km=loop_ohm_per_km)
    per_m = np.asarray(loop_ohm_per_km, dtype=float) / 1000.0
    return np.asarray(np.asarray(loop_ohm, dtype=float) / per_m)


def parallel_resistance_ohm(resistances_ohm: ArrayLike) -> float:
    """Resistance of unequal conductors in parallel.

    Parameters
    ----------
    resistances_ohm : array_like
        One value per conductor; infinite where it is open, at least one finite [Ω]

    Returns
    -------
    resistance_ohm : float
        Resistance of all together [Ω]

    Examples
    --------
    >>> parallel_resistance_ohm([3.0, 3.0, float("inf")])
    1.5
    """
    values = np.atleast_1d(np.asarray(resistances_ohm, dtype=float))
    _positive(resistances_ohm=values)
    conductance = float((1.0 / values).sum())
    if conductance == 0.0:
        raise ValueError("resistances_ohm must hold at least one closed conductor")
    return 1.0 / conductance
