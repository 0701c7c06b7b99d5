"""Decisions under uncertainty after JCGM 106: pass, fail, or undecided.

A pass needs the value to clear the limit by its guard band, a fail needs it to lie
beyond the limit by the same band; in between the reading does not decide. Limits are
exact numbers and are guarded once, by the uncertainty of the value.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Verdict = Literal["pass", "fail", "undecided"]
_ROUNDING = 1e-9  # binary fractions must not turn a value on the line into a fail


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a value says about its limits.

    `accept_low` and `accept_high` are the limits moved inward by the guard band.
    `deciding_u` is the largest standard uncertainty at which the same value would
    decide, or None where it lies on a limit.
    """

    verdict: Verdict
    probability: float
    guard: float
    accept_low: float | None
    accept_high: float | None
    deciding_u: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GlobalRisk:
    """Shares of a whole production: outside, wrongly accepted, wrongly rejected."""

    outside: float
    consumer: float
    producer: float


def guard_factor(
    risk: float,
    *,
    degrees_of_freedom: float | None = None,
    shape: Literal["normal", "rectangular"] = "normal",
) -> float:
    """Standard uncertainties of guard band that keep the one-sided risk.

    Parameters
    ----------
    risk : float
        Largest probability of a wrong claim, above 0 and at most one half [1]
    degrees_of_freedom : float, optional
        Of the uncertainty, where it comes from few readings [1]
    shape : str, optional
        `normal`, or `rectangular` where one rectangular part is all [-]

    Returns
    -------
    factor : float
        Guard band over the standard uncertainty [1]

    References
    ----------
    .. [1] JCGM 106:2012, clauses 8 and 9.

    Examples
    --------
    >>> guard_factor(0.05)
    1.6449
    >>> guard_factor(0.01, degrees_of_freedom=4)
    3.7469
    """
    if not 0.0 < risk <= 0.5:
        raise ValueError(f"risk must lie above 0 and not above 0.5, got {risk}")
    if shape == "rectangular":
        return math.sqrt(3.0) * (1.0 - 2.0 * risk)
    if degrees_of_freedom is not None:
        from scipy import special  # slow to import, and rarely needed

        return float(special.stdtrit(degrees_of_freedom, 1.0 - risk))
    return NormalDist().inv_cdf(1.0 - risk)


def probability_of_conformity(
    value: float,
    u: float,
    *,
    low: float | None = None,
    high: float | None = None,
    degrees_of_freedom: float | None = None,
) -> float:
    """Probability that the true value lies within its limits.

    Parameters
    ----------
    value : float
        The estimate [any]
    u : float
        Its standard uncertainty; zero makes the answer 0 or 1 [any]
    low : float, optional
        Lower limit [any]
    high : float, optional
        Upper limit [any]
    degrees_of_freedom : float, optional
        Of the uncertainty; without it the normal distribution counts [1]

    Returns
    -------
    probability : float
        Between 0 and 1 [1]

    References
    ----------
    .. [1] JCGM 106:2012, clause 7.

    Examples
    --------
    >>> probability_of_conformity(13.6, 1.8, low=12.5, high=16.3)
    0.6626
    """
    _check(value, u, low=low, high=high)
    below = 1.0 if high is None else _share_below(high - value, u, degrees_of_freedom)
    under = 0.0 if low is None else _share_below(low - value, u, degrees_of_freedom)
    if u == 0:
        above = low is None or value >= low - _ROUNDING
        return float(above and (high is None or value <= high + _ROUNDING))
    return min(max(below - under, 0.0), 1.0)


def decide(
    value: float,
    u: float,
    *,
    low: float | None = None,
    high: float | None = None,
    factor: float,
) -> Decision:
    """Verdict on a value with its uncertainty.

    Parameters
    ----------
    value : float
        The estimate [any]
    u : float
        Its standard uncertainty [any]
    low : float, optional
        Lower limit [any]
    high : float, optional
        Upper limit [any]
    factor : float
        Guard band over the standard uncertainty, the same on both sides of a limit [1]

    Returns
    -------
    decision : Decision
        Verdict, probability of conformity, acceptance limits [-]

    References
    ----------
    .. [1] JCGM 106:2012, clause 8; ISO 14253-1 for the middle verdict.

    Examples
    --------
    >>> decide(-26.0, 0.15, low=-26.5, factor=1.645).verdict
    'pass'
    >>> decide(-26.0, 0.50, low=-26.5, factor=1.645).verdict
    'undecided'
    """
    probability = probability_of_conformity(value, u, low=low, high=high)
    guard = factor * u
    inside = [
        margin
        for margin in (
            None if low is None else value - low,
            None if high is None else high - value,
        )
        if margin is not None
    ]
    margin = min(inside, default=math.inf)
    if margin >= guard - _ROUNDING:
        verdict: Verdict = "pass"
    elif margin < -guard - _ROUNDING:
        verdict = "fail"
    else:
        verdict = "undecided"
    known = math.isfinite(margin) and factor > 0 and abs(margin) > _ROUNDING
    return Decision(
        verdict=verdict,
        probability=probability,
        guard=guard,
        accept_low=None if low is None else low + guard,
        accept_high=None if high is None else high - guard,
        deciding_u=abs(margin) / factor if known else None,
    )


def accepted_risk(cost_of_rejecting: float, cost_of_accepting: float) -> float:
    """Risk at which rejecting a sound thing costs as much as accepting a bad one.

    Parameters
    ----------
    cost_of_rejecting : float
        Cost of rejecting what conforms [any]
    cost_of_accepting : float
        Cost of accepting what does not [any]

    Returns
    -------
    risk : float
        Largest probability of non-conformity worth accepting [1]

    Examples
    --------
    >>> accepted_risk(1.0, 19.0)
    0.05
    """
    if cost_of_rejecting < 0 or cost_of_accepting < 0:
        raise ValueError("costs must not be negative")
    if cost_of_rejecting + cost_of_accepting == 0:
        raise ValueError("cost_of_rejecting: one of the costs must be above zero")
    return cost_of_rejecting / (cost_of_accepting + cost_of_rejecting)


def proven_above(limit: float, *, factor: float, u_share: float) -> float:
    """Smallest reading that proves a limit exceeded, u growing with the reading.

    Parameters
    ----------
    limit : float
        The limit [any]
    factor : float
        Guard band over the standard uncertainty [1]
    u_share : float
        Standard uncertainty as a share of the reading [1]

    Returns
    -------
    reading : float
        Acceptance limit for the claim [any]

    Examples
    --------
    >>> proven_above(100.0, factor=3.0902, u_share=0.02)
    106.59
    """
    if not 0.0 <= factor * u_share < 1.0:
        raise ValueError(f"u_share: factor times share must be below 1, got {u_share}")
    return limit / (1.0 - factor * u_share)


def global_risk(
    *,
    prior: Literal["normal", "gamma"],
    parameters: Sequence[float],
    u: float,
    low: float | None = None,
    high: float | None = None,
    guard: float = 0.0,
) -> GlobalRisk:
    """Risks over a whole production measured with one uncertainty.

    Parameters
    ----------
    prior : str
        Distribution of the true values: `normal` or `gamma` [-]
    parameters : sequence of float
        Mean and standard deviation, or shape and scale [any]
    u : float
        Standard uncertainty of each measurement, above zero [any]
    low : float, optional
        Lower limit [any]
    high : float, optional
        Upper limit [any]
    guard : float, optional
        Guard band inside each limit [any]

    Returns
    -------
    risk : GlobalRisk
        Shares outside the limits, wrongly accepted and wrongly rejected [1]

    References
    ----------
    .. [1] JCGM 106:2012, clause 9.5.

    Examples
    --------
    >>> risk = global_risk(prior="normal", parameters=[9.5, 0.3], u=0.1, low=9, high=10)
    >>> risk.consumer, risk.producer
    (0.018942, 0.037208)
    """
    if u <= 0:
        raise ValueError(f"u must be above zero, got {u}")
    density, first, last = _prior(prior, parameters)
    edges = sorted(
        {first, last, *(x for x in (low, high) if x is not None and first < x < last)}
    )
    outside = consumer = producer = 0.0
    for left, right in pairwise(edges):
        y, weight = _nodes(left, right, step=u)
        mass = weight * density(y)
        accepted = _accepted(y, u, low=low, high=high, guard=guard)
        middle = (left + right) / 2.0
        good = (low is None or middle >= low) and (high is None or middle <= high)
        if good:
            producer += float(np.sum(mass * (1.0 - accepted)))
        else:
            outside += float(np.sum(mass))
            consumer += float(np.sum(mass * accepted))
    return GlobalRisk(outside=outside, consumer=consumer, producer=producer)


def guard_for_consumer_risk(
    risk: float,
    *,
    prior: Literal["normal", "gamma"],
    parameters: Sequence[float],
    u: float,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """Guard band that keeps the share of wrongly accepted things.

    Parameters
    ----------
    risk : float
        Largest share wrongly accepted [1]
    prior : str
        Distribution of the true values: `normal` or `gamma` [-]
    parameters : sequence of float
        Mean and standard deviation, or shape and scale [any]
    u : float
        Standard uncertainty of each measurement, above zero [any]
    low : float, optional
        Lower limit [any]
    high : float, optional
        Upper limit [any]

    Returns
    -------
    guard : float
        Guard band inside each limit, negative where even none is too strict [any]

    Examples
    --------
    >>> guard_for_consumer_risk(
    ...     0.001, prior="gamma", parameters=[4, 0.25], u=0.25, high=2.0
    ... )
    0.3282
    """
    few, many = -8.0 * u, 8.0 * u

    def share(guard: float) -> float:
        return global_risk(
            prior=prior, parameters=parameters, u=u, low=low, high=high, guard=guard
        ).consumer

    if not share(many) <= risk <= share(few):
        raise ValueError(f"risk: no guard band within 8 u gives {risk}")
    for _ in range(60):
        middle = (few + many) / 2.0
        if share(middle) > risk:
            few = middle
        else:
            many = middle
    return (few + many) / 2.0


def _check(value: float, u: float, *, low: float | None, high: float | None) -> None:
    if not (math.isfinite(value) and math.isfinite(u)):
        raise ValueError(f"value and u must be finite, got {value} and {u}")
    if u < 0:
        raise ValueError(f"u must not be negative, got {u}")
    if low is None and high is None:
        raise ValueError("low, high: at least one limit is needed")
    if low is not None and high is not None and low > high:
        raise ValueError(f"low must not exceed high, got {low} and {high}")


def _share_below(distance: float, u: float, freedom: float | None) -> float:
    if u == 0:
        return float(distance >= 0)
    if freedom is not None:
        from scipy import special  # slow to import, and rarely needed

        return float(special.stdtr(freedom, distance / u))
    return 0.5 * math.erfc(-distance / u / math.sqrt(2.0))


def _prior(
    name: str, parameters: Sequence[float]
) -> tuple[Callable[[NDArray[np.float64]], NDArray[np.float64]], float, float]:
    first, second = (float(item) for item in parameters)
    if second <= 0 or (name == "gamma" and first <= 0):
        raise ValueError(
            f"parameters: shape and scale must be above zero, {parameters}"
        )
    if name == "normal":
        area = second * math.sqrt(2.0 * math.pi)
        return (
            lambda y: np.exp(-0.5 * ((y - first) / second) ** 2) / area,
            first - 10.0 * second,
            first + 10.0 * second,
        )
    if name != "gamma":
        raise ValueError(f"prior: expected 'normal' or 'gamma', got {name!r}")
    constant = math.lgamma(first) + first * math.log(second)
    return (
        lambda y: np.exp((first - 1.0) * np.log(y) - y / second - constant),
        0.0,
        second * (first + 12.0 * math.sqrt(first) + 40.0),
    )


def _nodes(
    left: float, right: float, *, step: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gauss-Legendre nodes and weights on panels that resolve the step."""
    panels = int(np.clip(math.ceil((right - left) / step), 32, 4096))
    x, w = np.polynomial.legendre.leggauss(12)
    edges = np.linspace(left, right, panels + 1)
    half = np.diff(edges)[:, None] / 2.0
    middle = (edges[:-1] + edges[1:])[:, None] / 2.0
    return (middle + half * x).ravel(), (half * w).ravel()


def _accepted(
    y: NDArray[np.float64],
    u: float,
    *,
    low: float | None,
    high: float | None,
    guard: float,
) -> NDArray[np.float64]:
    from scipy import special  # slow to import, and rarely needed

    top = 1.0 if high is None else special.ndtr((high - guard - y) / u)
    bottom = 0.0 if low is None else special.ndtr((low + guard - y) / u)
    return np.asarray(np.maximum(top - bottom, 0.0))
