"""How well a loss, a slope and a place can be known at all.

Windows are N samples on each side with g samples skipped between them; sigma is the
noise of one sample. Coloured noise multiplies a variance by the colour factor.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def step_u_known_slope_db(before: int, after: int, sigma_db: float) -> float:
    """Uncertainty of a step between two windows whose slope is known.

    Parameters
    ----------
    before, after : int
        Samples in each window [1]
    sigma_db : float
        Noise of one sample, white [dB]

    Returns
    -------
    loss_u_db : float
        Standard uncertainty [dB]

    Examples
    --------
    >>> step_u_known_slope_db(100, 100, 0.02)
    0.0028
    """
    return float(sigma_db * np.sqrt(1.0 / before + 1.0 / after))


def step_u_separate_slopes_db(
    before: int, after: int, skipped: int, sigma_db: float
) -> float:
    """Uncertainty of a step between two lines fitted apart.

    Parameters
    ----------
    before, after : int
        Samples in each window [1]
    skipped : int
        Samples left out between the windows, the step in their middle [1]
    sigma_db : float
        Noise of one sample, white [dB]

    Returns
    -------
    loss_u_db : float
        Standard uncertainty [dB]

    References
    ----------
    .. [1] Variance of an extrapolated least-squares line (any regression text).

    Examples
    --------
    >>> step_u_separate_slopes_db(100, 100, 0, 0.02)
    0.005657
    """
    total = sum(
        (1.0 + 3.0 * (count + skipped) ** 2 / (count**2 - 1.0)) / count
        for count in (before, after)
    )
    return float(sigma_db * np.sqrt(total))


def step_u_common_slope_db(
    before: int, after: int, skipped: int, sigma_db: float
) -> float:
    """Uncertainty of a step between two windows that share one unknown slope.

    Parameters
    ----------
    before, after : int
        Samples in each window [1]
    skipped : int
        Samples left out between the windows [1]
    sigma_db : float
        Noise of one sample, white [dB]

    Returns
    -------
    loss_u_db : float
        Standard uncertainty [dB]

    Examples
    --------
    >>> round(step_u_common_slope_db(200, 30, 8, 1.0) ** 2, 6)
    0.060951
    """
    spread = before * (before**2 - 1.0) + after * (after**2 - 1.0)
    arm = 0.5 * (before + after) + skipped
    total = 1.0 / before + 1.0 / after + 12.0 * arm**2 / spread
    return float(sigma_db * np.sqrt(total))


def colour_factor(correlation: ArrayLike) -> float:
    """Factor by which coloured noise enlarges the variance of a mean or a line.

    Parameters
    ----------
    correlation : array_like of shape (K,)
        Autocorrelation at lags 1 to K samples [1]

    Returns
    -------
    factor : float
        One for white noise [1]

    Examples
    --------
    >>> colour_factor([0.5, 0.25])
    2.5
    """
    return float(1.0 + 2.0 * np.sum(np.asarray(correlation, dtype=float)))


def receiver_colour_factor(receiver_ns: float, spacing_ns: float) -> float:
    """Colour factor of noise behind a Gaussian receiver.

    Parameters
    ----------
    receiver_ns : float
        Standard deviation of the impulse response [ns]
    spacing_ns : float
        Two-way time between samples [ns]

    Returns
    -------
    factor : float
        Tends to 2 sqrt(pi) receiver over spacing [1]

    Examples
    --------
    >>> receiver_colour_factor(13.6, 12.5)
    3.857
    """
    lags = np.arange(1, int(8.0 * receiver_ns / spacing_ns) + 2)
    return colour_factor(np.exp(-((lags * spacing_ns) ** 2) / (4.0 * receiver_ns**2)))


def pattern_step_u_db(pattern_strength: float, window_m: float) -> float:
    """Part of a step's uncertainty that averaging cannot lower: the frozen pattern.

    Parameters
    ----------
    pattern_strength : float
        Variance of the pattern times pulse footprint [dB² m]
    window_m : float
        Window on each side [m]

    Returns
    -------
    loss_u_db : float
        Standard uncertainty, whatever the pulse [dB]

    References
    ----------
    .. [1] K. Shimizu et al., J. Lightwave Technol. 10 (1992) 982, fading noise.

    Examples
    --------
    >>> pattern_step_u_db(7.5e-4, 50.0)
    0.011
    """
    return float(np.sqrt(8.0 * pattern_strength / window_m))


def step_place_u(pulse: float, loss_db: float, sigma_db: float) -> float:
    """Least uncertainty of the place of a step that the pulse smears into a ramp.

    Parameters
    ----------
    pulse : float
        Pulse, in samples [1]
    loss_db : float
        Size of the step [dB]
    sigma_db : float
        Noise of one sample, white [dB]

    Returns
    -------
    place_u : float
        Standard uncertainty, in samples; times the root of the colour factor [1]

    References
    ----------
    .. [1] Fisher information of a ramp of known size, white Gaussian noise.

    Examples
    --------
    >>> step_place_u(8.0, 0.1, 0.01)
    0.283
    """
    return float(np.sqrt(pulse) * sigma_db / abs(loss_db))


def log_bias_db(noise_to_signal: float) -> float:
    """Bias of a level taken as logarithm of noisy power (second order and beyond).

    Parameters
    ----------
    noise_to_signal : float
        Standard deviation over mean of the power, below 0.3 [1]

    Returns
    -------
    bias_db : float
        Bias of 5 log10 of power; the attenuation axis has the other sign [dB]

    Examples
    --------
    >>> log_bias_db(0.1)
    -0.0110
    """
    r = noise_to_signal
    return float(
        -5.0 / np.log(10.0) * (r**2 / 2.0 + 3.0 * r**4 / 4.0 + 5.0 * r**6 / 2.0)
    )


def window_loss_db(
    samples_db: Array, left: tuple[int, int], right: tuple[int, int], place: float
) -> float:
    """Loss from two stated fit windows, as an instrument's record defines it.

    Parameters
    ----------
    samples_db : ndarray of shape (N,)
        Trace on the attenuation axis [dB]
    left, right : tuple of int
        First and last sample of each window, both included [1]
    place : float
        Sample at which both lines are read [1]

    Returns
    -------
    loss_db : float
        Right line less left line [dB]

    Examples
    --------
    >>> trace = np.r_[0.0:1.0:11j, 1.6:2.5:10j]
    >>> window_loss_db(trace, (0, 10), (11, 20), 10.0)
    0.5
    """
    levels = []
    for first, last in (left, right):
        index = np.arange(first, last + 1, dtype=float)
        values = samples_db[first : last + 1]
        if len(values) < 2:
            raise ValueError(
                f"window must hold at least two samples, got {first}..{last}"
            )
        centre = index.mean()
        slope = np.sum((index - centre) * values) / np.sum((index - centre) ** 2)
        levels.append(float(values.mean() + slope * (place - centre)))
    return levels[1] - levels[0]
