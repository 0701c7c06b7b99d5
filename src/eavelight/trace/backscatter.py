"""Backscatter level, reflectance and peak height, pulse footprint.

The trace axis is one-way: 5 log10 of power. The backscatter coefficient belongs to a
pulse of one nanosecond; a spread of 2 dB between instruments moves every reflectance
by the same amount, so a result names the coefficient it used.
"""

import numpy as np

from eavelight.units import SPEED_OF_LIGHT_M_PER_S

TYPICAL_BACKSCATTER_DB = {
    1310: -79.5,
    1490: -81.4,
    1550: -82.0,
    1625: -82.7,
    1650: -83.2,
}
"""Middle of the values that instruments use, by nominal wavelength [dB]."""

BACKSCATTER_U_DB = 1.0
"""Standard uncertainty of a coefficient nobody measured: the spread is about 2 dB."""


def typical_backscatter_db(wavelength_nm: float) -> float:
    """Backscatter coefficient where the record states none.

    Parameters
    ----------
    wavelength_nm : float
        Wavelength [nm]

    Returns
    -------
    backscatter_db : float
        Two-way level of a one-nanosecond pulse [dB]

    Examples
    --------
    >>> typical_backscatter_db(1550)
    -82.0
    """
    known = sorted(TYPICAL_BACKSCATTER_DB)
    levels = [TYPICAL_BACKSCATTER_DB[key] for key in known]
    return float(np.interp(wavelength_nm, known, levels))


def pulse_footprint_m(pulse_ns: float, group_index: float) -> float:
    """Length of fibre that one pulse covers on the trace.

    Parameters
    ----------
    pulse_ns : float
        Pulse width [ns]
    group_index : float
        Group index of the glass [1]

    Returns
    -------
    footprint_m : float
        Half the length of the pulse in the glass [m]

    References
    ----------
    .. [1] IEC 61746-1, spatial resolution of a backscatter instrument.

    Examples
    --------
    >>> pulse_footprint_m(100.0, 1.468)
    10.211
    """
    return SPEED_OF_LIGHT_M_PER_S * pulse_ns * 1e-9 / (2.0 * group_index)


def reflectance_db(height_db: float, backscatter_db: float, pulse_ns: float) -> float:
    """Reflectance of a peak of known height above the backscatter before it.

    Parameters
    ----------
    height_db : float
        Height on the one-way axis, positive [dB]
    backscatter_db : float
        Two-way backscatter of a one-nanosecond pulse [dB]
    pulse_ns : float
        Pulse width [ns]

    Returns
    -------
    reflectance_db : float
        Negative for a passive part [dB]

    References
    ----------
    .. [1] IEC 61746-1; A. H. Hartog, An Introduction to Distributed Optical Fibre
       Sensors, CRC Press, 2017, chapter 3.

    Examples
    --------
    >>> reflectance_db(5.558, -81.5, 100.0)
    -50.73
    """
    excess = 10.0 ** (height_db / 5.0) - 1.0
    if excess <= 0.0:
        raise ValueError(f"height_db must be positive, got {height_db}")
    return float(backscatter_db + 10.0 * np.log10(pulse_ns) + 10.0 * np.log10(excess))


def peak_height_db(
    reflectance_db: float, backscatter_db: float, pulse_ns: float
) -> float:
    """Height of the peak that a reflectance makes on the one-way axis.

    Parameters
    ----------
    reflectance_db : float
        Reflectance, negative [dB]
    backscatter_db : float
        Two-way backscatter of a one-nanosecond pulse [dB]
    pulse_ns : float
        Pulse width [ns]

    Returns
    -------
    height_db : float
        Height above the backscatter [dB]

    References
    ----------
    .. [1] IEC 61746-1.

    Examples
    --------
    >>> peak_height_db(-50.0, -79.5, 100.0)
    4.98
    """
    level = reflectance_db - backscatter_db - 10.0 * np.log10(pulse_ns)
    return float(5.0 * np.log10(1.0 + 10.0 ** (level / 10.0)))
