"""Battery facts as functions: cold, age, storage, charge, gas, rest voltage.

Every coefficient is an argument; parameter sets live with the other data.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureTable:
    """Share of the rated capacity over temperature, as far as sources agree.

    `covered_c` is the range inside which the sources print values; outside it the
    numbers are extrapolated and must be told as such.
    """

    temperature_c: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    covered_c: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RestVoltage:
    """Rest voltage of one cell over state of charge, lowest and highest sources."""

    charge: tuple[float, ...]
    low_v: tuple[float, ...]
    high_v: tuple[float, ...]


def sizing_factor(
    temperature_c: float, *, table_c: Sequence[float], table_factor: Sequence[float]
) -> float:
    """Multiplier on the required capacity at a temperature, from a printed table.

    Parameters
    ----------
    temperature_c : float
        Temperature of the electrolyte [°C]
    table_c : sequence of float
        Temperatures of the table, rising [°C]
    table_factor : sequence of float
        Its factors, 1 at the reference temperature [1]

    Returns
    -------
    factor : float
        Linear between rows; NaN outside the table [1]

    References
    ----------
    .. [1] IEEE 485, temperature correction table.

    Examples
    --------
    >>> sizing_factor(5.0, table_c=[4.44, 7.22], table_factor=[1.30, 1.25])
    1.29
    """
    return float(
        np.interp(temperature_c, table_c, table_factor, left=np.nan, right=np.nan)
    )


def sizing_factor_polynomial(
    temperature_c: float, *, coefficients: Sequence[float]
) -> float:
    """Multiplier on the required capacity outside the printed table.

    Parameters
    ----------
    temperature_c : float
        Temperature of the electrolyte [°C]
    coefficients : sequence of float
        Polynomial in hundredths of a degree Celsius, highest power first [1]

    Returns
    -------
    factor : float
        Extrapolated factor; reproduces the table within 0.015 inside it [1]

    Examples
    --------
    >>> sizing_factor_polynomial(25.0, coefficients=[-2.8117, 4.1916, -2.4941, 1.405])
    1.00
    """
    return float(np.polyval(np.asarray(coefficients), temperature_c / 100.0))


def capacity_fraction_linear(
    temperature_c: float, *, per_k: float, reference_c: float
) -> float:
    """Share of the rated capacity with a constant loss per kelvin.

    Parameters
    ----------
    temperature_c : float
        Temperature of the battery [°C]
    per_k : float
        Loss per kelvin below the reference [1/K]
    reference_c : float
        Temperature of the rating [°C]

    Returns
    -------
    fraction : float
        Share of the rated capacity, not below 0 [1]

    References
    ----------
    .. [1] IEC 60896-21, correction of measured capacity.

    Examples
    --------
    >>> capacity_fraction_linear(0.0, per_k=0.006, reference_c=25.0)
    0.85
    """
    return max(0.0, 1.0 + per_k * (temperature_c - reference_c))


def capacity_at_temperature(
    temperature_c: float, table: TemperatureTable
) -> tuple[float, float, bool]:
    """Share of the rated capacity at a temperature, as a band.

    No credit is given for warmth: the band never exceeds 1.

    Parameters
    ----------
    temperature_c : float
        Temperature of the battery [°C]
    table : TemperatureTable
        What the sources say for this chemistry [1]

    Returns
    -------
    band : tuple
        Low share, high share, whether the sources cover this temperature [1]

    Examples
    --------
    >>> table = TemperatureTable(temperature_c=(0.0, 25.0), low=(0.72, 1.0),
    ...                          high=(0.85, 1.0), covered_c=(-3.9, 51.7))
    >>> capacity_at_temperature(0.0, table)
    (0.72, 0.85, True)
    """
    low = float(np.interp(temperature_c, table.temperature_c, table.low))
    high = float(np.interp(temperature_c, table.temperature_c, table.high))
    covered = table.covered_c[0] <= temperature_c <= table.covered_c[1]
    return min(low, 1.0), min(high, 1.0), covered


def capacity_test_percent(actual_h: float, rated_h: float, *, divisor: float) -> float:
    """Result of a time-adjusted capacity test.

    Parameters
    ----------
    actual_h : float
        Duration until the end voltage [h]
    rated_h : float
        Duration that the sheet promises at this current [h]
    divisor : float
        Test divisor for the temperature; not the sizing factor [1]

    Returns
    -------
    capacity : float
        Capacity in per cent of rated [%]

    References
    ----------
    .. [1] IEEE 450 and 1188, capacity test.

    Examples
    --------
    >>> capacity_test_percent(4.2, 5.0, divisor=0.882)
    95.2
    """
    return 100.0 * actual_h / (rated_h * divisor)


def ageing_rate(
    temperature_c: ArrayLike, *, halving_k: float, reference_c: float
) -> np.ndarray:
    """How many times faster than at the reference temperature a battery ages.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the battery [°C]
    halving_k : float
        Rise that halves the life [K]
    reference_c : float
        Temperature of the stated life [°C]

    Returns
    -------
    rate : ndarray
        2 where life is half [1]

    Examples
    --------
    >>> float(ageing_rate(33.0, halving_k=8.0, reference_c=25.0))
    2.0
    """
    rise = np.asarray(temperature_c, dtype=float) - reference_c
    return np.asarray(2.0 ** (rise / halving_k))


def life_years(
    temperatures_c: ArrayLike,
    *,
    reference_years: float,
    halving_k: float,
    reference_c: float,
    credit_cold: bool = False,
) -> float:
    """Life on float over a year of temperatures.

    Parameters
    ----------
    temperatures_c : array_like
        Battery temperature at evenly spaced times of a typical year [°C]
    reference_years : float
        Life at the reference temperature [years]
    halving_k : float
        Rise that halves the life [K]
    reference_c : float
        Temperature of the stated life [°C]
    credit_cold : bool, optional
        Whether cold months make up for hot ones; cautious is no [1]

    Returns
    -------
    life_years : float
        Life until the capacity is at its end-of-life share [years]

    Examples
    --------
    >>> life_years([33.0], reference_years=10.0, halving_k=8.0, reference_c=25.0)
    5.0
    """
    rates = ageing_rate(temperatures_c, halving_k=halving_k, reference_c=reference_c)
    if not credit_cold:
        rates = np.maximum(rates, 1.0)
    return float(reference_years / rates.mean())


def capacity_after_years(
    age_years: float, life_years: float, *, end_fraction: float
) -> float:
    """Share of the rated capacity left at an age, falling evenly.

    Parameters
    ----------
    age_years : float
        Time in service [years]
    life_years : float
        Life to the end-of-life share [years]
    end_fraction : float
        Share at which it is due for replacement, such as 0.8 [1]

    Returns
    -------
    fraction : float
        Share left, goes on falling after the end of life, not below 0 [1]

    Examples
    --------
    >>> capacity_after_years(2.0, 4.0, end_fraction=0.8)
    0.9
    """
    return max(0.0, 1.0 - (1.0 - end_fraction) * age_years / life_years)


def replace_in_years(age_years: float, life_years: float) -> float:
    """Time until a battery in service is due.

    Parameters
    ----------
    age_years : float
        Time in service [years]
    life_years : float
        Life to the end-of-life share [years]

    Returns
    -------
    left_years : float
        0 when it is due now [years]

    Examples
    --------
    >>> replace_in_years(1.0, 4.0)
    3.0
    """
    return max(0.0, life_years - age_years)


def charge_after_storage(
    months: float,
    temperature_c: float,
    *,
    loss_per_month: float,
    reference_c: float,
    doubling_k: float,
) -> float:
    """State of charge of a battery that lay unconnected.

    Parameters
    ----------
    months : float
        Time since it was last full [months]
    temperature_c : float
        Temperature of the store [°C]
    loss_per_month : float
        Share lost in a month at the reference temperature [1]
    reference_c : float
        Reference temperature [°C]
    doubling_k : float
        Rise that doubles the loss [K]

    Returns
    -------
    charge : float
        State of charge [1]

    Examples
    --------
    >>> charge_after_storage(6.0, 20.0, loss_per_month=0.03, reference_c=20.0,
    ...                      doubling_k=10.0)
    0.833
    """
    speed = 2.0 ** ((temperature_c - reference_c) / doubling_k)
    return float((1.0 - loss_per_month) ** (months * speed))


def charge_from_rest(
    rest_v: float, *, cells: int, table: RestVoltage, rest_u_v: float = 0.0
) -> tuple[float, float]:
    """State of charge that a rest voltage stands for, as a band.

    The battery must have rested some hours without charger and load. A wide band
    means that the voltage cannot tell, as on the plateau of lithium iron phosphate.

    Parameters
    ----------
    rest_v : float
        Voltage at the posts, leads off [V]
    cells : int
        Cells in series [1]
    table : RestVoltage
        Rest voltage of one cell of this chemistry [1]
    rest_u_v : float, optional
        Standard uncertainty of the reading; two of them widen the band [V]

    Returns
    -------
    charge : tuple of float
        Low and high state of charge [1]

    Examples
    --------
    >>> lead = RestVoltage(charge=(0.0, 1.0), low_v=(1.93, 2.13),
    ...                    high_v=(1.97, 2.17))
    >>> charge_from_rest(12.3, cells=6, table=lead)
    (0.4, 0.6)
    """
    low = np.interp((rest_v - 2.0 * rest_u_v) / cells, table.high_v, table.charge)
    high = np.interp((rest_v + 2.0 * rest_u_v) / cells, table.low_v, table.charge)
    return float(low), float(high)


def float_voltage_v(
    temperature_c: ArrayLike,
    *,
    float_25c_v: float,
    slope_v_per_k: float,
    clamp_c: tuple[float, float],
) -> np.ndarray:
    """Temperature-compensated float voltage.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the battery [°C]
    float_25c_v : float
        Float voltage at 25 °C [V]
    slope_v_per_k : float
        Change per kelvin, negative [V/K]
    clamp_c : tuple of float
        Temperatures beyond which it stays constant [°C]

    Returns
    -------
    float_v : ndarray
        Voltage at the posts [V]

    Examples
    --------
    >>> float_voltage_v([5.0, 20.0], float_25c_v=13.5, slope_v_per_k=-0.018,
    ...                 clamp_c=(5.0, 40.0))
    array([13.86, 13.59])
    """
    inside = np.clip(np.asarray(temperature_c, dtype=float), *clamp_c)
    return np.asarray(float_25c_v + slope_v_per_k * (inside - 25.0))


def recharge_hours(
    removed_ah: float,
    charger_a: float,
    *,
    load_a: float = 0.0,
    factor: float = 1.15,
    tail_h: float = 12.0,
) -> tuple[float, float]:
    """Time to put charge back after an outage.

    Parameters
    ----------
    removed_ah : float
        Charge taken out [Ah]
    charger_a : float
        Current that the charger can give in all [A]
    load_a : float, optional
        Part of it that the terminal takes [A]
    factor : float, optional
        Charge to return per charge removed [1]
    tail_h : float, optional
        Time at constant voltage until full [h]

    Returns
    -------
    times_h : tuple of float
        Bulk only, and until full; infinite when the load takes everything [h]

    Examples
    --------
    >>> recharge_hours(6.0, 1.0)
    (6.9, 18.9)
    """
    spare = charger_a - load_a
    if spare <= 0.0:
        return math.inf, math.inf
    bulk = factor * removed_ah / spare
    return bulk, bulk + tail_h


def charge_after_recharge(
    charge: float,
    hours: float,
    *,
    capacity_ah: float,
    charger_a: float,
    factor: float = 1.15,
    knee: float = 0.8,
    tail_h: float = 12.0,
) -> float:
    """State of charge some hours after mains came back.

    Even rise to the knee, then exponential: a second outage soon after the first
    finds a battery that is not full.

    Parameters
    ----------
    charge : float
        State of charge when mains came back [1]
    hours : float
        Time on mains since then [h]
    capacity_ah : float
        Capacity as it is today [Ah]
    charger_a : float
        Current left for the battery [A]
    factor : float, optional
        Charge to return per charge removed [1]
    knee : float, optional
        State of charge at which the charger holds its voltage [1]
    tail_h : float, optional
        Time from the knee until 95 % of the rest is back [h]

    Returns
    -------
    charge : float
        State of charge [1]

    Examples
    --------
    >>> charge_after_recharge(0.2, 4.0, capacity_ah=7.2, charger_a=1.0)
    0.683
    """
    if charger_a <= 0.0:
        return charge
    per_h = charger_a / (factor * capacity_ah)
    bulk = max(0.0, (knee - charge) / per_h)
    if hours <= bulk:
        return charge + per_h * hours
    start = max(charge, knee)
    tau = max(tail_h / 3.0, (1.0 - knee) / per_h)
    return 1.0 - (1.0 - start) * math.exp(-(hours - bulk) / tau)


def charger_current_a(removed_ah: float, hours: float, *, load_a: float) -> float:
    """Charger current that puts charge back within a time.

    Parameters
    ----------
    removed_ah : float
        Charge taken out [Ah]
    hours : float
        Time allowed, positive [h]
    load_a : float
        Current that the terminal takes meanwhile [A]

    Returns
    -------
    charger_a : float
        Rating of the charger [A]

    References
    ----------
    .. [1] IEEE 946, charger sizing (factor 1.1 for lead-acid).

    Examples
    --------
    >>> charger_current_a(7.2, 12.0, load_a=0.6)
    1.26
    """
    return 1.1 * removed_ah / hours + load_a


def earliest_runtime_test_h(
    charge_low: float,
    *,
    capacity_ah: float,
    charger_a: float,
    settle_h: float = 24.0,
    full: float = 0.95,
) -> float:
    """Hours on mains before a run-time test means anything.

    Parameters
    ----------
    charge_low : float
        Low end of the state of charge now [1]
    capacity_ah : float
        Rated charge [Ah]
    charger_a : float
        Current left for the battery [A]
    settle_h : float, optional
        Float time asked of any battery that is not known to be full [h]
    full : float, optional
        State of charge that counts as full [1]

    Returns
    -------
    wait_h : float
        0 when it is full already [h]

    Examples
    --------
    >>> earliest_runtime_test_h(0.7, capacity_ah=7.2, charger_a=0.5)
    24.0
    """
    if charge_low >= full:
        return 0.0
    _, whole = recharge_hours((1.0 - charge_low) * capacity_ah, charger_a)
    return max(settle_h, whole)


def hydrogen_airflow_m3_per_h(
    cells: int, capacity_ah: float, *, gas_ma_per_ah: float, factor: float = 0.05
) -> float:
    """Air that must pass a lead-acid battery.

    Parameters
    ----------
    cells : int
        Cells in series [1]
    capacity_ah : float
        Rated charge [Ah]
    gas_ma_per_ah : float
        Gas-producing current [mA/Ah]
    factor : float, optional
        0.42e-3 m³/Ah hydrogen, dilution to 4 %, safety factor 5 [m³/Ah]

    Returns
    -------
    airflow_m3_per_h : float
        Air exchange [m³/h]

    References
    ----------
    .. [1] IEC 62485-2, ventilation of stationary batteries.

    Examples
    --------
    >>> hydrogen_airflow_m3_per_h(6, 7.2, gas_ma_per_ah=1.0)
    0.00216
    """
    return factor * cells * gas_ma_per_ah * capacity_ah * 1e-3


def vent_area_cm2(airflow_m3_per_h: float, *, factor: float = 28.0) -> float:
    """Free area of each of the two openings of natural ventilation.

    Parameters
    ----------
    airflow_m3_per_h : float
        Air exchange [m³/h]
    factor : float, optional
        Area per air exchange, from 0.1 m/s through the opening [cm² h/m³]

    Returns
    -------
    area_cm2 : float
        Inlet and outlet each [cm²]

    References
    ----------
    .. [1] IEC 62485-2, ventilation of stationary batteries.

    Examples
    --------
    >>> vent_area_cm2(0.00216)
    0.06
    """
    return factor * airflow_m3_per_h


def charging_state(
    low_c: float, high_c: float, *, window_c: tuple[float, float]
) -> str:
    """Whether a battery may be charged over a range of temperatures.

    Parameters
    ----------
    low_c : float
        Coldest battery temperature [°C]
    high_c : float
        Hottest battery temperature [°C]
    window_c : tuple of float
        Charging window of the chemistry or of the label [°C]

    Returns
    -------
    state : str
        "allowed", "too cold" or "too hot" [id]

    Examples
    --------
    >>> charging_state(-5.0, 35.0, window_c=(0.0, 45.0))
    'too cold'
    """
    if low_c < window_c[0]:
        return "too cold"
    return "too hot" if high_c > window_c[1] else "allowed"
