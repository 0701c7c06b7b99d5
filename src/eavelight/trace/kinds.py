"""What an event is, as far as one trace can tell."""

from collections.abc import Sequence

LOSSLESS_DB = 0.03
SPLITTER_DB = 2.5
"""A 1:2 splitter costs 3 dB from the house; a single bend or joint rarely as much."""

LOSSY_DB = 0.5
"""More than any fusion splice that was kept: a bend, or something broken."""


def echo_positions_m(reflectors_m: Sequence[float]) -> list[float]:
    """Where light that bounces between two reflectors seems to come from.

    Parameters
    ----------
    reflectors_m : sequence of float
        Positions, the instrument's port included [m]

    Returns
    -------
    positions_m : list of float
        Far position twice less the near one, rising [m]

    Examples
    --------
    >>> echo_positions_m([0.0, 100.0, 130.0])
    [160.0, 200.0, 260.0]
    """
    return sorted(
        2.0 * far - near for near in reflectors_m for far in reflectors_m if far > near
    )


def is_echo(
    position_m: float, reflectors_m: Sequence[float], *, tolerance_m: float
) -> bool:
    """Whether a lossless reflection lies where an echo of stronger ones must lie.

    Parameters
    ----------
    position_m : float
        Position of the candidate [m]
    reflectors_m : sequence of float
        Stronger reflectors before it, the port included [m]
    tolerance_m : float
        Half a pulse and one sample [m]

    Returns
    -------
    echo : bool
        True where an echo explains it [1]

    Examples
    --------
    >>> is_echo(260.4, [0.0, 130.0], tolerance_m=1.0)
    True
    """
    before = [place for place in reflectors_m if place < position_m - tolerance_m]
    return any(
        abs(place - position_m) < tolerance_m for place in echo_positions_m(before)
    )


def event_kind(
    loss_db: float | None, *, loss_u_db: float, reflective: bool, wavelength_nm: float
) -> str:
    """Kind of an event between fibres, echoes and ends already told apart.

    Parameters
    ----------
    loss_db : float or None
        One-way loss [dB]
    loss_u_db : float
        Its standard uncertainty [dB]
    reflective : bool
        Whether a peak was seen [1]
    wavelength_nm : float
        Wavelength [nm]

    Returns
    -------
    kind : str
        splice, connector, bend, splitter or unknown [1]

    Examples
    --------
    >>> event_kind(-0.2, loss_u_db=0.02, reflective=False, wavelength_nm=1550)
    'splice'
    """
    if loss_db is not None and loss_db - 2.0 * loss_u_db > SPLITTER_DB:
        return "splitter"
    if reflective:
        return "connector"
    if loss_db is None:
        return "unknown"
    if loss_db - 2.0 * loss_u_db > LOSSY_DB:
        return "bend" if wavelength_nm > 1450.0 else "unknown"
    return "splice"
