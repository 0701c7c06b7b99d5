"""Battery and conductor for a target: hours asked for, coldest, at end of life."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from eavelight.power.conductor import awg_area_mm2, loop_resistance_ohm
from eavelight.power.discharge import Block, Circuit, runtime_band
from eavelight.power.load import Profile
from eavelight.power.materials import COPPER, REFERENCE_C, Material
from eavelight.power.rate_models import RateModel


def section_sizes_ah(
    currents_a: Sequence[float],
    durations_h: Sequence[float],
    *,
    kt_h: Sequence[float],
    kt: Sequence[float],
) -> tuple[float, ...]:
    """Charge that each section of a duty cycle asks for.

    The battery follows from the largest section.

    Parameters
    ----------
    currents_a : sequence of float
        Current of each period [A]
    durations_h : sequence of float
        Length of each period [h]
    kt_h : sequence of float
        Durations of the capacity factors, rising [h]
    kt : sequence of float
        Rated charge per ampere delivered for each duration [Ah/A]

    Returns
    -------
    sizes_ah : tuple of float
        One per section, uncorrected [Ah]

    References
    ----------
    .. [1] IEEE 485 and IEEE 1115, section method.

    Examples
    --------
    >>> section_sizes_ah([100.0, 50.0], [1.0, 1.0], kt_h=[1.0, 2.0], kt=[1.5, 2.5])
    (150.0, 175.0)
    """
    steps = [b - a for a, b in pairwise([0.0, *currents_a])]
    starts = [0.0, *np.cumsum(durations_h).tolist()]
    return tuple(
        sum(
            steps[period] * float(np.interp(end - starts[period], kt_h, kt))
            for period in range(section + 1)
        )
        for section, end in enumerate(starts[1:])
    )


def required_capacity_ah(
    charge_ah: float,
    *,
    temperature_factor: float = 1.0,
    design_margin: float = 1.0,
    ageing_factor: float = 1.0,
    rate_ratio: float = 1.0,
) -> float:
    """Rated capacity that gives a charge when cold and old.

    Parameters
    ----------
    charge_ah : float
        Charge the duty takes [Ah]
    temperature_factor : float, optional
        Sizing factor at the coldest temperature; below 1 is not credited [1]
    design_margin : float, optional
        Room for what was not foreseen [1]
    ageing_factor : float, optional
        One over the share left at end of life [1]
    rate_ratio : float, optional
        Capacity at the duty's duration over rated capacity [1]

    Returns
    -------
    capacity_ah : float
        Rated capacity [Ah]

    References
    ----------
    .. [1] IEEE 485, cell size calculation.

    Examples
    --------
    >>> required_capacity_ah(5.19, design_margin=1.10, ageing_factor=1.25)
    7.13
    """
    factors = max(temperature_factor, 1.0) * design_margin * ageing_factor
    return charge_ah * factors / rate_ratio


def capacity_for_target_ah(
    models: Sequence[RateModel],
    block: Block,
    circuit: Circuit,
    *,
    profile: Profile,
    target_h: float,
    rated_ah: float,
    capacity: float,
    most: float = 16.0,
) -> float:
    """Rated capacity for which the low end of the band reaches the target.

    Parameters
    ----------
    models : sequence of RateModel
        Models of the battery that is rated `rated_ah` [1]
    block : Block
        Voltage over depth of that battery [1]
    circuit : Circuit
        Cable, thresholds and peak load [1]
    profile : sequence of tuple
        Load over the outage, steps of hour and watts [h, W]
    target_h : float
        Hours asked for [h]
    rated_ah : float
        Rated capacity of the battery that the models describe [Ah]
    capacity : float
        Share of it left at the coldest temperature and at end of life [1]
    most : float, optional
        Largest multiple of `rated_ah` that is tried [1]

    Returns
    -------
    capacity_ah : float
        Rated capacity; NaN when the cable forbids the target at any size [Ah]

    Examples
    --------
    >>> from eavelight.power.rate_models import Peukert
    >>> flat = Block(depth=(0.0, 1.0), volts=(12.0, 12.0), reference_a=0.0,
    ...              resistance_ohm=0.0)
    >>> bare = Circuit(loop_ohm=0.0, terminal_min_v=9.0, cutoff_v=10.5)
    >>> ideal = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
    >>> capacity_for_target_ah([ideal], flat, bare, profile=[(0.0, 6.0)],
    ...                        target_h=8.0, rated_ah=7.2, capacity=0.8)
    5.00
    """

    def low_h(multiple: float) -> float:
        band = runtime_band(
            [model.scaled(multiple) for model in models],
            block,
            circuit,
            profile=profile,
            capacity=(capacity, capacity),
        )
        return band.low_h

    low, high = 0.0, 1.0
    while low_h(high) < target_h:
        low, high = high, high * 2.0
        if high > most:
            return float("nan")
    for _ in range(12):
        middle = (low + high) / 2.0
        low, high = (low, middle) if low_h(middle) >= target_h else (middle, high)
    return high * rated_ah


def thinnest_gauge(
    gauges: Sequence[int],
    length_m: float,
    *,
    maximum_loop_ohm: float,
    temperature_c: float = REFERENCE_C,
    material: Material = COPPER,
    stranded: bool = False,
    pairs: int = 1,
) -> int | None:
    """Thinnest conductor whose loop is small enough.

    Parameters
    ----------
    gauges : sequence of int
        Gauges that are at hand [AWG]
    length_m : float
        Length of the cable, one way [m]
    maximum_loop_ohm : float
        Largest loop that holds the terminal up [Ω]
    temperature_c : float, optional
        Hottest temperature of the metal [°C]
    material : Material, optional
        What the conductors are made of [1]
    stranded : bool, optional
        Several strands per conductor [1]
    pairs : int, optional
        Pairs that carry the current together [1]

    Returns
    -------
    gauge : int or None
        None when even the thickest is too thin [AWG]

    Examples
    --------
    >>> thinnest_gauge([14, 16, 18, 22], 30.0, maximum_loop_ohm=1.575)
    18
    """
    for gauge in sorted(gauges, reverse=True):
        loop = loop_resistance_ohm(
            length_m,
            awg_area_mm2(gauge),
            temperature_c=temperature_c,
            material=material,
            stranded=stranded,
            pairs=pairs,
        )
        if float(loop) <= maximum_loop_ohm:
            return gauge
    return None
