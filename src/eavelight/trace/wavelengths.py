"""Loss against wavelength: what a joint does and what a bend does.

A joint loses by offset, tilt or mismatch: nearly flat or falling with wavelength. A
bend loses exponentially more at longer wavelengths. The odds come from the marginal
likelihood of each law over all its sizes and steepnesses.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.results import Measured

Array = NDArray[np.float64]

JOINT_POWERS = np.linspace(-0.4, 1.7, 8)
"""Loss of a joint falls as wavelength to this power: tilt 0.56, offset 1.48."""

BEND_PER_NM = np.geomspace(0.004, 0.03, 8)
"""Steepness of a bend; 0.004 per nm is a factor 2.6 from 1310 to 1550 nm."""

SIZES_DB = np.geomspace(0.003, 20.0, 160)
COMMON_U_DB = 0.01
"""Step of the backscatter between glasses, as far as it differs with wavelength."""


def offset_loss_ratio(mode_field_1_um: float, mode_field_2_um: float) -> float:
    """Loss of a sideways offset at a second wavelength over that at the first.

    Parameters
    ----------
    mode_field_1_um, mode_field_2_um : float
        Mode field diameters at the two wavelengths [µm]

    Returns
    -------
    ratio : float
        Loss ratio for small offsets [1]

    References
    ----------
    .. [1] D. Marcuse, Bell Syst. Tech. J. 56 (1977) 703, Gaussian modes.

    Examples
    --------
    >>> offset_loss_ratio(9.2, 10.4)
    0.7825
    """
    return (mode_field_1_um / mode_field_2_um) ** 2


def _evidence(values: Array, sigma: Array, shapes: Array) -> float:
    """Mean likelihood over sizes (log-uniform) and shapes."""
    expected = SIZES_DB[:, None, None] * shapes[None, :, :]
    miss = (values[None, None, :] - expected) / sigma[None, None, :]
    return float(np.mean(np.exp(-0.5 * np.sum(miss**2, axis=2))))


def bend_probability(losses_db: Mapping[int, Measured]) -> float | None:
    """Probability that an event is a bend and not a joint, from its losses.

    Parameters
    ----------
    losses_db : mapping of int to Measured
        Loss with uncertainty by wavelength in nm [dB]

    Returns
    -------
    probability : float or None
        None with fewer than two wavelengths [1]

    References
    ----------
    .. [1] D. Marcuse, J. Opt. Soc. Am. 66 (1976) 216, bend loss against wavelength.

    Examples
    --------
    >>> bend = {1310: Measured(value=0.02, u=0.01), 1550: Measured(value=0.5, u=0.01)}
    >>> bend_probability(bend) > 0.99
    True
    """
    known = sorted(losses_db)
    if len(known) < 2 or known[-1] - known[0] < 50:
        return None
    wavelength = np.array(known, dtype=float)
    values = np.array([losses_db[key].value for key in known])
    sigma = np.array([np.hypot(losses_db[key].u, COMMON_U_DB) for key in known])
    middle = wavelength.mean()
    joint_shapes = (wavelength[None, :] / middle) ** -JOINT_POWERS[:, None]
    bend_shapes = np.exp(BEND_PER_NM[:, None] * (wavelength[None, :] - middle))
    # a step of the backscatter can make a good joint read as a small gain
    joint = _evidence(values, sigma, joint_shapes)
    joint = 0.85 * joint + 0.15 * _evidence(-values, sigma, joint_shapes)
    bend = _evidence(values, sigma, bend_shapes)
    least = 1e-300
    return (bend + least) / (bend + joint + 2.0 * least)
