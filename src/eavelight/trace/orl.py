"""Return loss of a line: the energy that comes back over the energy that went in."""

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.backscatter import pulse_footprint_m

Array = NDArray[np.float64]


def fibre_return_loss_db(
    length_m: float,
    *,
    attenuation_db_per_km: float,
    backscatter_db: float,
    group_index: float,
) -> float:
    """Return loss of bare fibre without any reflection.

    Parameters
    ----------
    length_m : float
        Length [m]
    attenuation_db_per_km : float
        Attenuation [dB/km]
    backscatter_db : float
        Two-way backscatter of a one-nanosecond pulse [dB]
    group_index : float
        Group index [1]

    Returns
    -------
    return_loss_db : float
        Positive [dB]

    References
    ----------
    .. [1] IEC 61746-1; integral of the backscatter over the length.

    Examples
    --------
    >>> fibre_return_loss_db(12004.0, attenuation_db_per_km=0.328,
    ...                      backscatter_db=-79.4, group_index=1.468)
    32.055
    """
    per_m = 10.0 ** (backscatter_db / 10.0) / pulse_footprint_m(1.0, group_index)
    alpha = attenuation_db_per_km / 1000.0 * np.log(10.0) / 10.0
    if alpha <= 0.0:
        return float(-10.0 * np.log10(per_m * length_m))
    share = per_m * -np.expm1(-2.0 * alpha * length_m) / (2.0 * alpha)
    return float(-10.0 * np.log10(share))


def trace_return_loss_db(
    samples_db: Array,
    *,
    launch_level_db: float,
    backscatter_db: float,
    spacing_m: float,
    group_index: float,
) -> float:
    """Return loss by summing a trace, reflections included.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace from the start to behind the end, dead zone at the port replaced [dB]
    launch_level_db : float
        Level of the fibre extrapolated to the start [dB]
    backscatter_db : float
        Two-way backscatter of a one-nanosecond pulse [dB]
    spacing_m : float
        Sample spacing [m]
    group_index : float
        Group index [1]

    Returns
    -------
    return_loss_db : float
        Positive [dB]

    References
    ----------
    .. [1] IEC 61746-1; sum of the returned energy over the launched energy.

    Examples
    --------
    >>> fibre = 0.328e-3 * np.arange(0.5, 12004.0)
    >>> trace_return_loss_db(fibre, launch_level_db=0.0, backscatter_db=-79.4,
    ...                      spacing_m=1.0, group_index=1.468)
    32.055
    """
    step_ns = spacing_m / pulse_footprint_m(1.0, group_index)
    share = np.sum(10.0 ** (-(samples_db - launch_level_db) / 5.0)) * step_ns
    return float(-backscatter_db - 10.0 * np.log10(share))
