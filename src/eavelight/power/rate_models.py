"""How much charge a battery gives at a current: three models behind one interface.

A model is asked step by step, so that a load may change on the way. `depth` is the
place on the block's discharge curve: 0 full, 1 at its end.
"""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

import numpy as np

State = tuple[float, float]
"""Model's own state: (depth, 0) or (available Ah, bound Ah)."""

_DEPTHS = 41


class RateModel(Protocol):
    """What the discharge needs from a model."""

    @property
    def name(self) -> str: ...
    def scaled(self, factor: float) -> "RateModel": ...
    def begin(self, charge: float) -> State: ...
    def step(self, state: State, current_a: float, hours: float) -> State: ...
    def depth(self, state: State) -> float: ...


def _check_points(hours: Sequence[float], capacity_ah: Sequence[float]) -> None:
    if len(hours) != len(capacity_ah) or len(hours) < 2:
        raise ValueError("hours and capacity_ah need two or more points, as many each")
    if min(hours) <= 0 or min(capacity_ah) <= 0:
        raise ValueError(f"points must be positive, got {hours!r}, {capacity_ah!r}")
    currents = [c / h for h, c in zip(hours, capacity_ah, strict=True)]
    rising = all(a < b for a, b in pairwise(hours))
    falling = all(a > b for a, b in pairwise(currents))
    if not (rising and falling):
        raise ValueError(
            "hours must rise and the current must fall from point to point"
        )


def peukert_exponent(hours: Sequence[float], capacity_ah: Sequence[float]) -> float:
    """Peukert exponent through two points of a discharge sheet.

    Parameters
    ----------
    hours : sequence of float
        Two durations, rising [h]
    capacity_ah : sequence of float
        Charge given over each [Ah]

    Returns
    -------
    exponent : float
        1 for a battery without rate effect [1]

    Examples
    --------
    >>> peukert_exponent([10.0, 20.0], [0.93, 1.0])
    1.117
    """
    _check_points(hours, capacity_ah)
    time_ratio = math.log(hours[1] / hours[0])
    current_ratio = math.log(capacity_ah[0] / hours[0] * hours[1] / capacity_ah[1])
    return time_ratio / current_ratio


def peukert_hours(
    current_a: float, capacity_ah: float, rating_h: float, *, exponent: float
) -> float:
    """Run time at constant current after Peukert.

    Over-optimistic at currents below the rated one; knows no recovery.

    Parameters
    ----------
    current_a : float
        Discharge current, positive [A]
    capacity_ah : float
        Rated charge [Ah]
    rating_h : float
        Duration to which the rating refers [h]
    exponent : float
        Peukert exponent [1]

    Returns
    -------
    runtime_h : float
        Run time to the end voltage of the rating [h]

    References
    ----------
    .. [1] W. Peukert, Elektrotechnische Zeitschrift 20, 1897.

    Examples
    --------
    >>> peukert_hours(5.0, 100.0, 100.0, exponent=1.2)
    14.5
    """
    if not current_a > 0:
        raise ValueError(f"current_a must be positive, got {current_a}")
    return float(rating_h * (capacity_ah / (current_a * rating_h)) ** exponent)


def table_hours(drain: float, hours: Sequence[float], drains: Sequence[float]) -> float:
    """Run time from a maker's table, straight lines in log-log.

    Serves amperes and watts alike. Shorter than the first row it goes on along the
    first pair of rows. Longer than the last it credits no more charge (or energy)
    than the last row gives.

    Parameters
    ----------
    drain : float
        Constant current or constant power, positive [A or W]
    hours : sequence of float
        Durations of the rows, rising [h]
    drains : sequence of float
        Current or power that empties the battery in each duration [A or W]

    Returns
    -------
    runtime_h : float
        Run time [h]

    Examples
    --------
    >>> table_hours(0.83333, [1.0, 5.0, 10.0, 20.0], [4.32, 1.224, 0.6696, 0.36])
    7.777
    """
    _check_points(hours, [h * d for h, d in zip(hours, drains, strict=True)])
    if not drain > 0:
        raise ValueError(f"drain must be positive, got {drain}")
    logs = [-math.log(d) for d in drains]
    log_hours = [math.log(h) for h in hours]
    return _log_log(-math.log(drain), logs, log_hours, most=hours[-1] * drains[-1])


def _log_log(
    log_drain: float,
    logs: Sequence[float],
    log_hours: Sequence[float],
    *,
    most: float,
) -> float:
    if log_drain >= logs[-1]:
        return most * math.exp(log_drain)
    upper = max(1, bisect_left(logs, log_drain))
    x0, x1 = logs[upper - 1], logs[upper]
    y0, y1 = log_hours[upper - 1], log_hours[upper]
    return math.exp(y0 + (log_drain - x0) * (y1 - y0) / (x1 - x0))


def kibam_capacity_ah(
    hours: float, *, available_fraction: float, rate_per_h: float, total_ah: float
) -> float:
    """Charge given at the constant current that empties the battery in a time.

    Parameters
    ----------
    hours : float
        Duration of the discharge, positive [h]
    available_fraction : float
        Width of the available well, c [1]
    rate_per_h : float
        Rate constant between the wells, k [1/h]
    total_ah : float
        Charge in both wells when full [Ah]

    Returns
    -------
    capacity_ah : float
        Charge given [Ah]

    References
    ----------
    .. [1] J. F. Manwell, J. G. McGowan, Solar Energy 50(5), 1993, 399-405.

    Examples
    --------
    >>> kibam_capacity_ah(10.0, available_fraction=0.475, rate_per_h=0.677,
    ...                   total_ah=7.787)
    6.69
    """
    c, k = available_fraction, rate_per_h
    kt = k * hours
    return total_ah * kt * c / (-math.expm1(-kt) + c * (kt + math.expm1(-kt)))


def kibam_step(
    available_ah: float,
    bound_ah: float,
    current_a: float,
    *,
    hours: float,
    available_fraction: float,
    rate_per_h: float,
) -> tuple[float, float]:
    """Charge in the two wells after a time at constant current.

    Parameters
    ----------
    available_ah : float
        Charge at hand, q1 [Ah]
    bound_ah : float
        Charge that must still flow to the other well, q2 [Ah]
    current_a : float
        Discharge current; negative charges [A]
    hours : float
        Time [h]
    available_fraction : float
        Width of the available well, c [1]
    rate_per_h : float
        Rate constant between the wells, k [1/h]

    Returns
    -------
    wells_ah : tuple of float
        Available and bound charge afterwards; available below 0 means empty [Ah]

    Examples
    --------
    >>> a, b = kibam_step(3.7, 4.1, 1.0, hours=1.0, available_fraction=0.475,
    ...                   rate_per_h=0.677)
    >>> a + b
    6.8
    """
    c, k = available_fraction, rate_per_h
    total = available_ah + bound_ah
    gone = -math.expm1(-k * hours)
    stay = 1.0 - gone
    lag = (k * hours - gone) / k
    q1 = available_ah * stay + (total * k * c - current_a) * gone / k
    q1 -= current_a * c * lag
    return q1, total - current_a * hours - q1


def kibam_fit(
    hours: Sequence[float], capacity_ah: Sequence[float]
) -> tuple[float, float, float]:
    """Two-well battery through three points of a discharge sheet.

    Parameters
    ----------
    hours : sequence of float
        Three durations, rising, such as 1, 10 and 20 [h]
    capacity_ah : sequence of float
        Charge given over each, rising [Ah]

    Returns
    -------
    parameters : tuple of float
        Available fraction, rate constant per hour, total Ah [mixed]

    References
    ----------
    .. [1] J. F. Manwell, J. G. McGowan, Solar Energy 50(5), 1993, 399-405.

    Examples
    --------
    >>> c, k, total = kibam_fit([1.0, 10.0, 20.0], [4.32, 6.696, 7.2])
    >>> c, k, total
    (0.475, 0.677, 7.79)
    """
    _check_points(hours, capacity_ah)
    if len(hours) != 3:
        raise ValueError(f"three points are needed, got {len(hours)}")
    rates = np.concatenate([np.arange(0.001, 5.0005, 0.001), np.arange(5.1, 60, 0.1)])

    first = capacity_ah[0]

    def difference(k: float | np.ndarray) -> float | np.ndarray:
        by_last = _kibam_width(hours[0], hours[2], ratio=first / capacity_ah[2], k=k)
        by_middle = _kibam_width(hours[0], hours[1], ratio=first / capacity_ah[1], k=k)
        return by_last - by_middle

    gaps = np.asarray(difference(rates))
    change = np.flatnonzero(np.sign(gaps[:-1]) != np.sign(gaps[1:]))
    for index in change:
        low, high = float(rates[index]), float(rates[index + 1])
        for _ in range(60):
            middle = (low + high) / 2.0
            same = np.sign(difference(middle)) == np.sign(gaps[index])
            low, high = (middle, high) if same else (low, middle)
        width = _kibam_width(hours[0], hours[2], ratio=first / capacity_ah[2], k=low)
        c = float(width)
        if 0.0 < c < 1.0:
            unit = kibam_capacity_ah(
                hours[2], available_fraction=c, rate_per_h=low, total_ah=1.0
            )
            return c, low, capacity_ah[2] / unit
    raise ValueError(f"no two-well battery passes through {capacity_ah!r}")


def _kibam_width(
    t1: float, t2: float, *, ratio: float, k: float | np.ndarray
) -> float | np.ndarray:
    top = -ratio * np.expm1(-k * t1) * t2 + np.expm1(-k * t2) * t1
    bottom = top - k * ratio * t1 * t2 + k * t1 * t2
    return np.asarray(top / bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Peukert:
    """One exponent; never more charge than `most_ah`."""

    capacity_ah: float
    rating_h: float
    exponent: float
    most_ah: float

    @property
    def name(self) -> str:
        return f"peukert {self.exponent:.3g}"

    def scaled(self, factor: float) -> "Peukert":
        """The same battery with another share of its capacity."""
        return replace(
            self,
            capacity_ah=self.capacity_ah * factor,
            most_ah=self.most_ah * factor,
        )

    def begin(self, charge: float) -> State:
        return 1.0 - charge, 0.0

    def step(self, state: State, current_a: float, hours: float) -> State:
        """Each step uses its share of the run time at its own current."""
        if current_a <= 0.0:
            return state
        ratio = self.capacity_ah / (current_a * self.rating_h)
        lasts = min(self.rating_h * ratio**self.exponent, self.most_ah / current_a)
        return state[0] + hours / lasts, 0.0

    def depth(self, state: State) -> float:
        return state[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Points of a discharge sheet, log-log between them."""

    minus_log_a: tuple[float, ...]
    log_h: tuple[float, ...]
    most_ah: float

    @classmethod
    def of(cls, hours: Sequence[float], capacity_ah: Sequence[float]) -> "Table":
        """From durations, rising, and the charge given over each."""
        _check_points(hours, capacity_ah)
        points = list(zip(hours, capacity_ah, strict=True))
        return cls(
            minus_log_a=tuple(-math.log(c / h) for h, c in points),
            log_h=tuple(math.log(h) for h in hours),
            most_ah=capacity_ah[-1],
        )

    @property
    def name(self) -> str:
        return "table"

    def scaled(self, factor: float) -> "Table":
        """The same battery with another share of its capacity."""
        shift = math.log(factor)
        return Table(
            minus_log_a=tuple(value - shift for value in self.minus_log_a),
            log_h=self.log_h,
            most_ah=self.most_ah * factor,
        )

    def begin(self, charge: float) -> State:
        return 1.0 - charge, 0.0

    def step(self, state: State, current_a: float, hours: float) -> State:
        """Each step uses its share of the run time at its own current."""
        if current_a <= 0.0:
            return state
        lasts = _log_log(
            -math.log(current_a), self.minus_log_a, self.log_h, most=self.most_ah
        )
        return state[0] + hours / lasts, 0.0

    def depth(self, state: State) -> float:
        return state[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kibam:
    """Two wells: charge recovers when the current eases."""

    available_fraction: float
    rate_per_h: float
    total_ah: float
    lost_at_depth: tuple[float, ...]

    @classmethod
    def of(
        cls,
        *,
        available_fraction: float,
        rate_per_h: float,
        total_ah: float,
        curve_h: float,
    ) -> "Kibam":
        """`curve_h` is the duration of the discharge that drew the voltage curve."""
        c, k = available_fraction, rate_per_h
        give = kibam_capacity_ah(
            curve_h, available_fraction=c, rate_per_h=k, total_ah=1.0
        )
        lost = []
        for part in np.linspace(0.0, 1.0, _DEPTHS):
            q1, _ = kibam_step(
                c,
                1.0 - c,
                give / curve_h,
                hours=float(part) * curve_h,
                available_fraction=c,
                rate_per_h=k,
            )
            lost.append(1.0 - q1 / c)
        return cls(
            available_fraction=c,
            rate_per_h=k,
            total_ah=total_ah,
            lost_at_depth=tuple(lost),
        )

    @property
    def name(self) -> str:
        return f"kibam {self.available_fraction:.3g}"

    def scaled(self, factor: float) -> "Kibam":
        """The same battery with another share of its capacity."""
        return Kibam(
            available_fraction=self.available_fraction,
            rate_per_h=self.rate_per_h,
            total_ah=self.total_ah * factor,
            lost_at_depth=self.lost_at_depth,
        )

    def begin(self, charge: float) -> State:
        full = self.total_ah * charge
        return full * self.available_fraction, full * (1.0 - self.available_fraction)

    def step(self, state: State, current_a: float, hours: float) -> State:
        return kibam_step(
            state[0],
            state[1],
            current_a,
            hours=hours,
            available_fraction=self.available_fraction,
            rate_per_h=self.rate_per_h,
        )

    def depth(self, state: State) -> float:
        """Place on the curve at which that discharge had as little at hand."""
        lost = 1.0 - state[0] / (self.available_fraction * self.total_ah)
        table = self.lost_at_depth
        upper = min(max(1, bisect_left(table, lost)), len(table) - 1)
        low, high = table[upper - 1], table[upper]
        return (upper - 1 + (lost - low) / (high - low)) / (len(table) - 1)


def models_from_points(
    hours: Sequence[float],
    capacity_ah: Sequence[float],
    *,
    near_h: float,
    curve_h: float,
) -> tuple[RateModel, ...]:
    """The three models of one discharge sheet.

    The table takes every point, Peukert the two that bracket the expected duration,
    the two wells the first, the last and the one nearest the expected duration.

    Parameters
    ----------
    hours : sequence of float
        Durations, rising, two or more [h]
    capacity_ah : sequence of float
        Charge given over each [Ah]
    near_h : float
        Duration that is asked for, such as the target [h]
    curve_h : float
        Duration of the discharge that drew the voltage curve [h]

    Returns
    -------
    models : tuple of RateModel
        Table, Peukert, and the two wells where three points allow them [1]

    Examples
    --------
    >>> [m.name for m in models_from_points([1, 5, 10, 20], [4.32, 6.12, 6.696, 7.2],
    ...                                     near_h=8.0, curve_h=10.0)]
    ['table', 'peukert 1.15', 'kibam 0.475']
    """
    upper = min(max(1, bisect_left(list(hours), near_h)), len(hours) - 1)
    pair = [upper - 1, upper]
    exponent = peukert_exponent(
        [hours[i] for i in pair], [capacity_ah[i] for i in pair]
    )
    found: list[RateModel] = [
        Table.of(hours, capacity_ah),
        Peukert(
            capacity_ah=capacity_ah[upper],
            rating_h=hours[upper],
            exponent=exponent,
            most_ah=capacity_ah[-1],
        ),
    ]
    if len(hours) >= 3:
        inner = min(range(1, len(hours) - 1), key=lambda i: abs(hours[i] - near_h))
        three = [0, inner, len(hours) - 1]
        try:
            c, k, total = kibam_fit(
                [hours[i] for i in three], [capacity_ah[i] for i in three]
            )
        except ValueError:
            return tuple(found)
        found.append(
            Kibam.of(
                available_fraction=c, rate_per_h=k, total_ah=total, curve_h=curve_h
            )
        )
    return tuple(found)
