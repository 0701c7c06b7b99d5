"""What a terminal reports of its own light, and modulated power.

The steps of a report are fine and say nothing about its accuracy: transceiver
diagnostics promise 3 dB either way. Use them for change, not for acceptance.
"""

import math


def reported_level_dbm(word: int) -> float:
    """Level coded as a 16-bit two's complement number of 0.002 dB steps.

    Parameters
    ----------
    word : int
        The 16 bits as an unsigned number [1]

    Returns
    -------
    level_dbm : float
        Level against one milliwatt [dBm]

    References
    ----------
    .. [1] ITU-T G.988, clause 9.2.1.

    Examples
    --------
    >>> reported_level_dbm(0xD602)
    -21.5
    """
    if not 0 <= word <= 0xFFFF:
        raise ValueError(f"word must have 16 bits, got {word}")
    return (word - 0x10000 if word & 0x8000 else word) * 0.002


def reported_threshold_dbm(code: int) -> float | None:
    """Receive threshold coded as a number of half decibels below one milliwatt.

    Parameters
    ----------
    code : int
        One byte; 255 stands for the terminal's own choice [1]

    Returns
    -------
    level_dbm : float or None
        Threshold, None for the terminal's own choice [dBm]

    References
    ----------
    .. [1] ITU-T G.988, clause 9.2.1.

    Examples
    --------
    >>> reported_threshold_dbm(54)
    -27.0
    """
    if not 0 <= code <= 255:
        raise ValueError(f"code must be one byte, got {code}")
    return None if code == 255 else -0.5 * code


def modulation_amplitude_dbm(level_dbm: float, extinction_ratio_db: float) -> float:
    """Optical modulation amplitude of a mean level, `2 P (r - 1)/(r + 1)`.

    Parameters
    ----------
    level_dbm : float
        Mean level [dBm]
    extinction_ratio_db : float
        Power of a one over that of a zero, above zero [dB]

    Returns
    -------
    amplitude_dbm : float
        Power of a one less that of a zero [dBm]

    Examples
    --------
    >>> modulation_amplitude_dbm(4.0, 6.0)
    4.7808
    """
    if extinction_ratio_db <= 0:
        raise ValueError(
            f"extinction_ratio_db must be above 0, got {extinction_ratio_db}"
        )
    ratio = 10.0 ** (extinction_ratio_db / 10.0)
    return level_dbm + 10.0 * math.log10(2.0 * (ratio - 1.0) / (ratio + 1.0))
