"""Two directions: the true loss of a joint and the step of the mode field."""

import math

ONE_WAY_U_DB = 0.2
"""One direction alone: a backscatter step up to 0.35 dB either way, rectangular."""


def two_way_loss_db(forward_db: float, backward_db: float) -> float:
    """True loss of an event seen from both ends.

    Parameters
    ----------
    forward_db : float
        Step seen from the first end [dB]
    backward_db : float
        Step seen from the other end [dB]

    Returns
    -------
    loss_db : float
        Mean of both [dB]

    References
    ----------
    .. [1] IEC TR 62316, bidirectional backscatter measurement.

    Examples
    --------
    >>> two_way_loss_db(-0.27, 0.31)
    0.02
    """
    return 0.5 * (forward_db + backward_db)


def two_way_loss_u_db(forward_u_db: float, backward_u_db: float) -> float:
    """Standard uncertainty of the two-way loss.

    Parameters
    ----------
    forward_u_db : float
        Of the step seen from the first end [dB]
    backward_u_db : float
        Of the step seen from the other end [dB]

    Returns
    -------
    loss_u_db : float
        Standard uncertainty [dB]

    Examples
    --------
    >>> two_way_loss_u_db(0.03, 0.04)
    0.025
    """
    return 0.5 * math.hypot(forward_u_db, backward_u_db)


def mode_field_step_db(forward_db: float, backward_db: float) -> float:
    """Step of the backscatter between the two fibres, without any loss.

    Negative where the fibre behind has the smaller mode field.

    Parameters
    ----------
    forward_db : float
        Step seen from the first end [dB]
    backward_db : float
        Step seen from the other end [dB]

    Returns
    -------
    step_db : float
        Half the difference [dB]

    References
    ----------
    .. [1] IEC TR 62316, losers and gainers.

    Examples
    --------
    >>> mode_field_step_db(-0.27, 0.31)
    -0.29
    """
    return 0.5 * (forward_db - backward_db)


def apparent_step_db(mode_field_before_um: float, mode_field_after_um: float) -> float:
    """Step that different mode fields show from one end, without any loss.

    Parameters
    ----------
    mode_field_before_um : float
        Mode field diameter of the fibre before [µm]
    mode_field_after_um : float
        Mode field diameter of the fibre behind [µm]

    Returns
    -------
    step_db : float
        Negative for a gainer [dB]

    References
    ----------
    .. [1] IEC TR 62316; capture fraction as the inverse square of the mode field.

    Examples
    --------
    >>> apparent_step_db(9.2, 8.6)
    -0.293
    """
    return 10.0 * math.log10(mode_field_after_um / mode_field_before_um)
