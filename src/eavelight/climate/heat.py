"""Heat balance of a small box on a wall: steady and over a day, many boxes at once.

A box is one or two shells (front and other faces) around one body of air. Thin plastic
does not carry heat sideways, so each shell has its own balance; the air couples to all.
Arrays: choices of colour and wall on the first axis, shells on the last.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.units import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_CELSIUS_K

Values = NDArray[np.float64]
WALL_SKY_VIEW = 0.5 * 0.5**0.5
NATURAL_FILM = 1.31
PLASTIC_RESISTANCE_M2_K_PER_W = 0.015
EMISSIVITY = 0.9
SHELL_J_PER_K = 1350.0
CONTENTS_J_PER_K = 730.0
# Natural and forced convection in thin air (density ratio to these powers).
NATURAL_DENSITY_EXPONENT = 2.0 / 3.0
FORCED_DENSITY_EXPONENT = 0.65
NEWTON_ROUNDS = 300
NEWTON_DONE_K = 1e-9
# A step may be this long, or this part of the temperature where that is more.
LARGEST_NEWTON_STEP_K, LARGEST_NEWTON_SHARE = 30.0, 0.3
ROS2_GAMMA = 1.0 + 0.5**0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shells:
    """What a box is made of, per shell."""

    area_m2: Values
    emissivity: float = EMISSIVITY
    resistance_m2_k_per_w: float = PLASTIC_RESISTANCE_M2_K_PER_W
    back_w_per_k: Values = field(default_factory=lambda: np.zeros(1))
    shell_j_per_k: float = SHELL_J_PER_K
    contents_j_per_k: float = CONTENTS_J_PER_K


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """What acts on the shells at one moment; `film` is constant + factor·ΔT^⅓."""

    outside_c: ArrayLike
    sky_c: ArrayLike
    absorbed_w: Values
    power_w: ArrayLike
    film: tuple[float, float]
    behind_c: ArrayLike = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxState:
    """Temperatures of one box in balance; `shell_c` is front, others or one shell."""

    shell_c: tuple[float, ...]
    air_c: float


def outside_film(
    wind_m_per_s: float, *, density_ratio: float = 1.0
) -> tuple[float, float]:
    """Film of a box in wind as the building standard has it, thinned by height.

    Parameters
    ----------
    wind_m_per_s : float
        Wind at the box, not at the airport [m/s]
    density_ratio : float, optional
        Density of the air over that at sea level [1]

    Returns
    -------
    film : tuple of float
        Constant part, and factor of the cube root of the difference [W/m²K]

    References
    ----------
    .. [1] ISO 6946:2017, annex C.

    Examples
    --------
    >>> outside_film(1.0)
    (8.0, 0.0)
    """
    still = 4.0 * density_ratio**NATURAL_DENSITY_EXPONENT
    return (still + 4.0 * wind_m_per_s * density_ratio**FORCED_DENSITY_EXPONENT, 0.0)


def _lost(state: Values, shells: Shells, around: Surroundings) -> tuple[Values, Values]:
    """Watts that each shell gives off outside, and their slope."""
    shell = state[..., :-1]
    air = np.asarray(around.outside_c, dtype=float)[..., None]
    sky = np.asarray(around.sky_c, dtype=float)[..., None]
    behind = np.asarray(around.behind_c, dtype=float)[..., None]
    constant, factor = around.film
    difference = shell - air
    root = factor * np.cbrt(np.abs(difference))
    sigma = shells.emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4
    kelvin = shell + ZERO_CELSIUS_K
    outward = WALL_SKY_VIEW * (sky + ZERO_CELSIUS_K) ** 4
    outward = outward + (1 - WALL_SKY_VIEW) * (air + ZERO_CELSIUS_K) ** 4
    flux = (constant + root) * difference + sigma * (kelvin**4 - outward)
    slope = constant + 4.0 / 3.0 * root + 4.0 * sigma * kelvin**3
    back = shells.back_w_per_k
    return (
        flux * shells.area_m2 + back * (shell - behind),
        slope * shells.area_m2 + back,
    )


def _inward(state: Values, shells: Shells) -> tuple[Values, Values, Values]:
    """Watts from the air to each shell, slopes by air and by shell temperature."""
    shell, air = state[..., :-1], state[..., -1:]
    difference = air - shell
    root = NATURAL_FILM * np.cbrt(np.abs(difference))
    kelvin = shell + ZERO_CELSIUS_K
    radiation = 4 * EMISSIVITY * STEFAN_BOLTZMANN_W_PER_M2_K4 * kelvin**2
    film = root + radiation * kelvin
    through = 1.0 / (1.0 / film + shells.resistance_m2_k_per_w)
    by_film = (through / film) ** 2
    by_air = through + by_film * root / 3.0
    by_shell = -by_air + difference * by_film * 3.0 * radiation
    area = shells.area_m2
    return through * difference * area, by_air * area, by_shell * area


def _balance(
    state: Values, shells: Shells, around: Surroundings
) -> tuple[Values, Values]:
    """Net watts into each node and their matrix of slopes."""
    lost, lost_slope = _lost(state, shells, around)
    inward, by_air, by_shell = _inward(state, shells)
    count = state.shape[-1]
    net = np.empty(state.shape)
    net[..., :-1] = around.absorbed_w - lost + inward
    net[..., -1] = np.asarray(around.power_w) - inward.sum(axis=-1)
    slopes = np.zeros((*state.shape, count))
    nodes = np.arange(count - 1)
    slopes[..., nodes, nodes] = by_shell - lost_slope
    slopes[..., :-1, -1] = by_air
    slopes[..., -1, :-1] = -by_shell
    slopes[..., -1, -1] = -by_air.sum(axis=-1)
    return net, slopes


def _solved(matrix: Values, right: Values) -> Values:
    return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0])


def balance_steady(shells: Shells, around: Surroundings) -> Values:
    """Temperatures at which every shell and the air are in balance.

    Parameters
    ----------
    shells : Shells
        What the boxes are made of [1]
    around : Surroundings
        What acts on them; `absorbed_w` has shape (choices, shells) [W]

    Returns
    -------
    nodes_c : ndarray of shape (choices, shells + 1)
        Shells first, inside air last [°C]

    Examples
    --------
    >>> around = Surroundings(outside_c=25.0, sky_c=25.0, absorbed_w=np.zeros((1, 1)),
    ...     power_w=10.0, film=(0.0, 1.31))
    >>> balance_steady(Shells(area_m2=np.array([0.185])), around).round(2).tolist()
    [[31.70, 39.01]]
    """
    absorbed = np.asarray(around.absorbed_w, dtype=float)
    start = np.asarray(around.outside_c, dtype=float)[..., None] + 5.0
    state = np.array(
        np.broadcast_to(start, (*absorbed.shape[:-1], absorbed.shape[-1] + 1))
    )
    state[..., -1] += 5.0
    for _ in range(NEWTON_ROUNDS):
        net, slopes = _balance(state, shells, around)
        step = _solved(slopes, -net)
        kelvin = np.abs(state + ZERO_CELSIUS_K)
        longest = np.maximum(LARGEST_NEWTON_STEP_K, LARGEST_NEWTON_SHARE * kelvin)
        state += np.clip(step, -longest, longest)
        if np.all(np.abs(step) < NEWTON_DONE_K * np.maximum(1.0, kelvin / 1000.0)):
            return state
    raise ValueError(f"no balance found for absorbed_w {absorbed.tolist()}")


def steady_box(
    *,
    outside_c: float,
    sky_c: float,
    absorbed_w: ArrayLike,
    power_w: float,
    area_m2: ArrayLike,
    film: Sequence[float],
    resistance_m2_k_per_w: float = PLASTIC_RESISTANCE_M2_K_PER_W,
    emissivity: float = EMISSIVITY,
) -> BoxState:
    """One box in balance with air, sky, sun and its own electronics; back adiabatic.

    Parameters
    ----------
    outside_c : float
        Outside air [°C]
    sky_c : float
        Equivalent temperature of the sky [°C]
    absorbed_w : array_like
        Sunlight taken in, per shell [W]
    power_w : float
        Heat of the electronics inside [W]
    area_m2 : array_like
        Exposed area per shell, the back left out [m²]
    film : sequence of float
        Outside convection: constant part, and factor of the cube root of the
        difference between shell and air [W/m²K]
    resistance_m2_k_per_w : float, optional
        Thickness of the plastic over its conductivity [m²K/W]
    emissivity : float, optional
        Of the shell outside [1]

    Returns
    -------
    state : BoxState
        Temperatures of shells and air [°C]

    Examples
    --------
    >>> steady_box(outside_c=46.0, sky_c=31.0, absorbed_w=[0.1085 * 0.5 * 753],
    ...     power_w=10.0, area_m2=[0.185], film=(6.0, 0.0)).air_c
    70.39
    """
    constant, factor = film
    found = balance_steady(
        Shells(
            area_m2=np.asarray(area_m2, dtype=float),
            emissivity=emissivity,
            resistance_m2_k_per_w=resistance_m2_k_per_w,
        ),
        Surroundings(
            outside_c=outside_c,
            sky_c=sky_c,
            absorbed_w=np.atleast_2d(np.asarray(absorbed_w, dtype=float)),
            power_w=power_w,
            film=(float(constant), float(factor)),
        ),
    )[0]
    return BoxState(shell_c=tuple(found[:-1].tolist()), air_c=float(found[-1]))


def balance_over_time(
    shells: Shells, moments: Sequence[Surroundings], *, step_s: float
) -> Values:
    """Temperatures over time, from balance at the first moment.

    Rosenbrock method of second order, stable for any step.

    Parameters
    ----------
    shells : Shells
        What the boxes are made of [1]
    moments : sequence of Surroundings
        What acts on them, one step apart [W]
    step_s : float
        Time between moments [s]

    Returns
    -------
    nodes_c : ndarray of shape (moments, choices, shells + 1)
        Shells first, inside air last [°C]

    References
    ----------
    .. [1] J. Verwer et al., SIAM J. Sci. Comput. 20 (1999) 1456-1480, ROS2.

    Examples
    --------
    >>> off = Surroundings(outside_c=20.0, sky_c=20.0, absorbed_w=np.zeros((1, 1)),
    ...     power_w=0.0, film=(8.0, 0.0))
    >>> shells = Shells(area_m2=np.array([0.185]))
    >>> balance_over_time(shells, [off] * 3, step_s=300.0)[-1].tolist()
    [[20.0, 20.0]]
    """
    state = balance_steady(shells, moments[0])
    share = shells.area_m2 / shells.area_m2.sum()
    capacity = np.append(share * shells.shell_j_per_k, shells.contents_j_per_k)
    identity = np.eye(capacity.size)
    history = [state]
    for now, later in itertools.pairwise(moments):
        net, slopes = _balance(state, shells, now)
        ahead, _ = _balance(state, shells, later)
        forced = ROS2_GAMMA * (ahead - net) / capacity
        matrix = identity - ROS2_GAMMA * step_s * slopes / capacity[:, None]
        first = _solved(matrix, net / capacity + forced)
        there, _ = _balance(state + step_s * first, shells, later)
        second = _solved(matrix, there / capacity - 2.0 * first - forced)
        state = state + step_s * (1.5 * first + 0.5 * second)
        history.append(state)
    return np.stack(history)


def enclosure_rise(
    power_w: float, *, area_m2: float, outside_c: float, emissivity: float = EMISSIVITY
) -> float:
    """Rise of the air in a closed indoor enclosure, still air, thin walls.

    Published rules differ by a factor of two; hold it to ±30 %.

    Parameters
    ----------
    power_w : float
        Heat released inside [W]
    area_m2 : float
        Exposed area; faces against a wall left out [m²]
    outside_c : float
        Air outside, and the surfaces around [°C]
    emissivity : float, optional
        Of the enclosure, outside [1]

    Returns
    -------
    rise_k : float
        Inside air above outside air [K]

    Examples
    --------
    >>> enclosure_rise(300.0, area_m2=3.964, outside_c=25.0)
    17.8
    """
    state = steady_box(
        outside_c=outside_c,
        sky_c=outside_c,
        absorbed_w=[0.0],
        power_w=power_w,
        area_m2=[area_m2],
        film=(0.0, NATURAL_FILM),
        resistance_m2_k_per_w=0.0,
        emissivity=emissivity,
    )
    return state.air_c - outside_c
