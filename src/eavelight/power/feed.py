"""A constant-power load at the end of a resistive cable.

Terminals regulate: when their voltage falls they draw more current, until the cable
can deliver no more and the voltage collapses. All functions take arrays.
`loop_ohm` is everything between the source and the load: cable, joints, fuse.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# Relative room for rounding at the exact collapse point.
_ROUNDING = 1e-12


def _floats(*values: ArrayLike) -> tuple[Array, ...]:
    return tuple(np.asarray(value, dtype=float) for value in values)


def _refuse_negative(**values: ArrayLike) -> None:
    for name, value in values.items():
        if np.any(np.asarray(value, dtype=float) < 0):
            raise ValueError(f"{name} must not be negative, got {value!r}")


def terminal_voltage_v(
    supply_v: ArrayLike, loop_ohm: ArrayLike, load_w: ArrayLike
) -> Array:
    """Voltage at a constant-power load, upper (stable) root.

    NaN where no operating point exists: the feed collapses, or the supply is
    reversed or dead. NaN given is NaN returned.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable; zero or negative feeds nothing [V]
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes at its own terminals [W]

    Returns
    -------
    terminal_v : ndarray
        Voltage at the load, NaN when it collapses [V]

    References
    ----------
    .. [1] IEEE 802.3 clause 33 and 145 powering limits follow the same equation.

    Examples
    --------
    >>> float(terminal_voltage_v(13.6, 1.0475, 8.0))
    12.95
    >>> float(terminal_voltage_v(11.0, 3.18, 10.0))
    nan
    """
    _refuse_negative(loop_ohm=loop_ohm, load_w=load_w)
    vs, r, p = np.broadcast_arrays(*_floats(supply_v, loop_ohm, load_w))
    inside = vs * vs - 4.0 * r * p
    inside = np.where(np.abs(inside) <= _ROUNDING * vs * vs, 0.0, inside)
    works = (inside >= 0) & (vs > 0)
    root = np.sqrt(np.where(works, inside, 0.0))
    return np.asarray(np.where(works, (vs + root) / 2.0, np.nan))


def feed_current_a(
    supply_v: ArrayLike, loop_ohm: ArrayLike, load_w: ArrayLike
) -> Array:
    """Current in the cable, NaN when the feed collapses.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]

    Returns
    -------
    current_a : ndarray
        Current [A]

    Examples
    --------
    >>> float(feed_current_a(13.5, 3.18, 10.0))
    0.956
    """
    volts = terminal_voltage_v(supply_v, loop_ohm, load_w)
    return np.asarray(np.asarray(load_w, dtype=float) / volts)


def cable_loss_w(supply_v: ArrayLike, loop_ohm: ArrayLike, load_w: ArrayLike) -> Array:
    """Power that heats the cable, NaN when the feed collapses.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]

    Returns
    -------
    loss_w : ndarray
        Power lost between source and load [W]

    Examples
    --------
    >>> float(cable_loss_w(13.5, 3.18, 10.0))
    2.91
    """
    current = feed_current_a(supply_v, loop_ohm, load_w)
    return np.asarray(current**2 * np.asarray(loop_ohm, dtype=float))


def supply_power_w(
    supply_v: ArrayLike, loop_ohm: ArrayLike, load_w: ArrayLike
) -> Array:
    """Power that the source must give, NaN when the feed collapses.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]

    Returns
    -------
    supply_w : ndarray
        Load and cable loss together [W]

    Examples
    --------
    >>> float(supply_power_w(13.5, 3.18, 10.0))
    12.91
    """
    loss = cable_loss_w(supply_v, loop_ohm, load_w)
    return np.asarray(loss + np.asarray(load_w, dtype=float))


def voltage_along_v(
    fraction: ArrayLike, supply_v: ArrayLike, terminal_v: ArrayLike
) -> Array:
    """Voltage between the conductors part of the way along a uniform cable.

    Parameters
    ----------
    fraction : array_like
        Place along the cable, 0 at the source, 1 at the load [1]
    supply_v : array_like
        Voltage at the head of the cable [V]
    terminal_v : array_like
        Voltage at the end of the cable [V]

    Returns
    -------
    volts_v : ndarray
        Voltage there [V]

    Examples
    --------
    >>> float(voltage_along_v(0.5, 13.6, 12.8))
    13.2
    """
    part, vs, vt = _floats(fraction, supply_v, terminal_v)
    return np.asarray(vs + part * (vt - vs))


def collapse_voltage_v(loop_ohm: ArrayLike, load_w: ArrayLike) -> Array:
    """Source voltage below which no operating point exists.

    Parameters
    ----------
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]

    Returns
    -------
    collapse_v : ndarray
        Twice the square root of resistance times power [V]

    Examples
    --------
    >>> float(collapse_voltage_v(3.18, 10.0))
    11.28
    """
    _refuse_negative(loop_ohm=loop_ohm, load_w=load_w)
    r, p = _floats(loop_ohm, load_w)
    return np.asarray(2.0 * np.sqrt(r * p))


def collapse_power_w(supply_v: ArrayLike, loop_ohm: ArrayLike) -> Array:
    """Largest power that the cable can deliver from this source voltage.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    loop_ohm : array_like
        Resistance out and back, joints included; 0 gives infinity [Ω]

    Returns
    -------
    collapse_w : ndarray
        A quarter of the square of the voltage over the resistance [W]

    Examples
    --------
    >>> float(collapse_power_w(12.0, 3.6))
    10.0
    """
    _refuse_negative(supply_v=supply_v, loop_ohm=loop_ohm)
    vs, r = _floats(supply_v, loop_ohm)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(r == 0, np.inf, vs * vs / (4.0 * r)))


def minimum_supply_v(
    loop_ohm: ArrayLike, load_w: ArrayLike, terminal_min_v: ArrayLike
) -> Array:
    """Smallest source voltage that holds the load at or above its cut-out.

    Where the cut-out lies so low that the feed collapses first, the collapse voltage.

    Parameters
    ----------
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]
    terminal_min_v : array_like
        Voltage at which the load cuts out, positive [V]

    Returns
    -------
    supply_v : ndarray
        Voltage at the head of the cable [V]

    Examples
    --------
    >>> float(minimum_supply_v(3.18, 10.0, 9.0))
    12.53
    """
    _refuse_negative(loop_ohm=loop_ohm, load_w=load_w)
    r, p, low = _floats(loop_ohm, load_w, terminal_min_v)
    if np.any(~(low > 0)):
        raise ValueError(f"terminal_min_v must be positive, got {terminal_min_v!r}")
    held = np.maximum(low, np.sqrt(r * p))
    return np.asarray(held + r * p / held)


def supply_margin_u_v(
    loop_ohm: ArrayLike,
    load_w: ArrayLike,
    terminal_min_v: ArrayLike,
    *,
    supply_u_v: ArrayLike = 0.0,
    loop_u_ohm: ArrayLike = 0.0,
    load_u_w: ArrayLike = 0.0,
) -> Array:
    """Standard uncertainty of source voltage minus `minimum_supply_v`.

    That margin is positive exactly when the load stays up, and unlike the voltage at
    the load it stays well-conditioned right up to collapse: decide on this one.

    Parameters
    ----------
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]
    terminal_min_v : array_like
        Voltage at which the load cuts out [V]
    supply_u_v : array_like, optional
        Standard uncertainty of the source voltage [V]
    loop_u_ohm : array_like, optional
        Standard uncertainty of the resistance [Ω]
    load_u_w : array_like, optional
        Standard uncertainty of the power [W]

    Returns
    -------
    margin_u_v : ndarray
        Standard uncertainty of the margin [V]

    Examples
    --------
    >>> float(supply_margin_u_v(3.18, 10.0, 9.0, loop_u_ohm=0.1, load_u_w=0.5))
    0.2088
    """
    r, p, low = _floats(loop_ohm, load_w, terminal_min_v)
    held = np.maximum(low, np.sqrt(r * p))
    by_loop = p / held * np.asarray(loop_u_ohm, dtype=float)
    by_load = r / held * np.asarray(load_u_w, dtype=float)
    u_v = np.asarray(supply_u_v, dtype=float)
    return np.asarray(np.sqrt(u_v**2 + by_loop**2 + by_load**2))


def maximum_loop_ohm(
    supply_v: ArrayLike, load_w: ArrayLike, terminal_min_v: ArrayLike
) -> Array:
    """Largest loop resistance that still holds the load above its cut-out.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    load_w : array_like
        Power that the load takes, positive [W]
    terminal_min_v : array_like
        Voltage at which the load cuts out [V]

    Returns
    -------
    loop_ohm : ndarray
        Resistance out and back; 0 where even a perfect cable would not do [Ω]

    Examples
    --------
    >>> float(maximum_loop_ohm(12.0, 10.0, 10.5))
    1.575
    """
    vs, p, low = _floats(supply_v, load_w, terminal_min_v)
    if np.any(~(p > 0)):
        raise ValueError(f"load_w must be positive, got {load_w!r}")
    held = np.maximum(low, vs / 2.0)
    return np.asarray(np.maximum((vs - held) * held / p, 0.0))


def maximum_length_m(
    supply_v: ArrayLike,
    load_w: ArrayLike,
    terminal_min_v: ArrayLike,
    *,
    loop_ohm_per_km: ArrayLike,
) -> Array:
    """Longest cable, one way, that still holds the load above its cut-out.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    load_w : array_like
        Power that the load takes, positive [W]
    terminal_min_v : array_like
        Voltage at which the load cuts out [V]
    loop_ohm_per_km : array_like
        Out and back resistance of a kilometre of this cable [Ω/km]

    Returns
    -------
    length_m : ndarray
        Length one way; 0 where no length would do [m]

    Examples
    --------
    >>> float(maximum_length_m(12.0, 10.0, 10.5, loop_ohm_per_km=41.9))
    37.6
    """
    per_m = np.asarray(loop_ohm_per_km, dtype=float) / 1000.0
    if np.any(~(per_m > 0)):
        raise ValueError(f"loop_ohm_per_km must be positive, got {loop_ohm_per_km!r}")
    return np.asarray(maximum_loop_ohm(supply_v, load_w, terminal_min_v) / per_m)


def terminal_voltage_u_v(
    supply_v: ArrayLike,
    loop_ohm: ArrayLike,
    load_w: ArrayLike,
    *,
    supply_u_v: ArrayLike = 0.0,
    loop_u_ohm: ArrayLike = 0.0,
    load_u_w: ArrayLike = 0.0,
) -> Array:
    """Standard uncertainty of the voltage at the load, first order.

    Grows without bound towards collapse; there decide on `supply_margin_u_v`.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable [V]
    loop_ohm : array_like
        Resistance out and back, joints included [Ω]
    load_w : array_like
        Power that the load takes [W]
    supply_u_v : array_like, optional
        Standard uncertainty of the source voltage [V]
    loop_u_ohm : array_like, optional
        Standard uncertainty of the resistance [Ω]
    load_u_w : array_like, optional
        Standard uncertainty of the power [W]

    Returns
    -------
    terminal_u_v : ndarray
        Standard uncertainty, NaN when the feed collapses [V]

    Examples
    --------
    >>> float(terminal_voltage_u_v(13.6, 1.0475, 8.0, supply_u_v=0.03, load_u_w=0.4))
    0.0464
    """
    volts = terminal_voltage_v(supply_v, loop_ohm, load_w)
    vs, r, p = _floats(supply_v, loop_ohm, load_w)
    by_supply = volts * np.asarray(supply_u_v, dtype=float)
    by_loop = p * np.asarray(loop_u_ohm, dtype=float)
    by_load = r * np.asarray(load_u_w, dtype=float)
    slope = 2.0 * volts - vs
    spread = np.sqrt(by_supply**2 + by_loop**2 + by_load**2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(spread == 0, 0.0 * volts, spread / slope))


def path_resistance_ohm(
    supply_v: ArrayLike, terminal_v: ArrayLike, load_w: ArrayLike
) -> Array:
    """Resistance between source and load that two loaded voltages stand for.

    Negative where the load reads above the source: then a reading is wrong.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable while loaded [V]
    terminal_v : array_like
        Voltage at the load, read in the same state, positive [V]
    load_w : array_like
        Power that the load takes at that moment, positive [W]

    Returns
    -------
    path_ohm : ndarray
        Cable and joints together [Ω]

    Examples
    --------
    >>> float(path_resistance_ohm(13.6, 12.19, 8.0))
    2.148
    """
    vs, vt, p = _floats(supply_v, terminal_v, load_w)
    for name, value in (("terminal_v", vt), ("load_w", p)):
        if np.any(~(value > 0)):
            raise ValueError(f"{name} must be positive, got {value!r}")
    return np.asarray((vs - vt) * vt / p)


def path_resistance_u_ohm(
    supply_v: ArrayLike,
    terminal_v: ArrayLike,
    load_w: ArrayLike,
    *,
    supply_u_v: ArrayLike = 0.0,
    terminal_u_v: ArrayLike = 0.0,
    load_u_w: ArrayLike = 0.0,
) -> Array:
    """Standard uncertainty of `path_resistance_ohm`.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable while loaded [V]
    terminal_v : array_like
        Voltage at the load, read in the same state [V]
    load_w : array_like
        Power that the load takes at that moment [W]
    supply_u_v : array_like, optional
        Standard uncertainty of the source voltage [V]
    terminal_u_v : array_like, optional
        Standard uncertainty of the load voltage [V]
    load_u_w : array_like, optional
        Standard uncertainty of the power [W]

    Returns
    -------
    path_u_ohm : ndarray
        Standard uncertainty [Ω]

    Examples
    --------
    >>> float(path_resistance_u_ohm(13.6, 12.19, 8.0, supply_u_v=0.03,
    ...                             terminal_u_v=0.03))
    0.061
    """
    vs, vt, p = _floats(supply_v, terminal_v, load_w)
    by_supply = vt / p * np.asarray(supply_u_v, dtype=float)
    by_terminal = (vs - 2.0 * vt) / p * np.asarray(terminal_u_v, dtype=float)
    by_load = (vs - vt) * vt / p**2 * np.asarray(load_u_w, dtype=float)
    return np.asarray(np.sqrt(by_supply**2 + by_terminal**2 + by_load**2))


def extra_resistance_ohm(
    supply_v: ArrayLike,
    terminal_v: ArrayLike,
    load_w: ArrayLike,
    *,
    loop_ohm: ArrayLike,
) -> Array:
    """Resistance of joints beyond the loop, from a loaded reading.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the head of the cable while loaded [V]
    terminal_v : array_like
        Voltage at the load, read in the same state [V]
    load_w : array_like
        Power that the load takes at that moment [W]
    loop_ohm : array_like
        Loop resistance that is expected or was measured elsewhere [Ω]

    Returns
    -------
    extra_ohm : ndarray
        What the loop does not explain; may be negative within uncertainty [Ω]

    Examples
    --------
    >>> float(extra_resistance_ohm(13.6, 12.19, 8.0, loop_ohm=1.0475))
    1.101
    """
    path = path_resistance_ohm(supply_v, terminal_v, load_w)
    return np.asarray(path - np.asarray(loop_ohm, dtype=float))


def joint_heat_w(current_a: ArrayLike, joint_ohm: ArrayLike) -> Array:
    """Heat set free in a joint.

    Parameters
    ----------
    current_a : array_like
        Current through the joint [A]
    joint_ohm : array_like
        Resistance of the joint [Ω]

    Returns
    -------
    heat_w : ndarray
        Power turned into heat at one spot [W]

    Examples
    --------
    >>> float(joint_heat_w(8.0 / 12.19, 1.1))
    0.474
    """
    current, ohm = _floats(current_a, joint_ohm)
    return np.asarray(current**2 * ohm)


def start_up_state(
    supply_v: float,
    loop_ohm: float,
    load_w: float,
    *,
    start_v: float,
    stop_v: float,
) -> str:
    """What a load with start and stop thresholds does on this feed.

    Unloaded, the load sees the full source voltage and starts; loaded, it sees less.
    Between the two it resets for ever.

    Parameters
    ----------
    supply_v : float
        Voltage at the head of the cable [V]
    loop_ohm : float
        Resistance out and back, joints included [Ω]
    load_w : float
        Power that the load takes once running [W]
    start_v : float
        Voltage at which the load starts [V]
    stop_v : float
        Voltage at which the running load cuts out, at most `start_v` [V]

    Returns
    -------
    state : str
        "runs", "cycles" or "stays off" [id]

    Examples
    --------
    >>> start_up_state(12.0, 3.18, 10.0, start_v=10.0, stop_v=9.0)
    'cycles'
    """
    if stop_v > start_v:
        raise ValueError(f"stop_v must not exceed start_v, got {stop_v} and {start_v}")
    if supply_v < start_v:
        return "stays off"
    volts = float(terminal_voltage_v(supply_v, loop_ohm, load_w))
    return "runs" if volts >= stop_v else "cycles"
