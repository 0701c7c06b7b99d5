"""What the terminal takes over an outage: service shedding and talk.

A profile is a rising sequence of (from hour, watts); the first entry starts at 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

Profile = Sequence[tuple[float, float]]
"""Steps of (hours since mains failed, watts from then on)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """One service of the terminal and how soon it is shed.

    `shed_s` follows the shedding intervals of ITU-T G.988: 0 is never, 1 is at once,
    n is after n seconds without mains.
    """

    name: str
    watts: float
    shed_s: int


def checked_profile(profile: Profile) -> tuple[tuple[float, float], ...]:
    """The profile, or a ValueError: it starts at 0, rises, and is not negative.

    Parameters
    ----------
    profile : sequence of tuple
        Steps of hour and watts [h, W]

    Returns
    -------
    profile : tuple of tuple
        The same steps as floats [h, W]

    Examples
    --------
    >>> checked_profile([(0, 8), (0.1, 4.5)])
    ((0.0, 8.0), (0.1, 4.5))
    """
    steps = tuple((float(hour), float(watts)) for hour, watts in profile)
    hours = [hour for hour, _ in steps]
    if not hours or hours[0] != 0.0 or any(b <= a for a, b in pairwise(hours)):
        raise ValueError(f"profile must start at hour 0 and rise, got {profile!r}")
    if any(not watts >= 0.0 for _, watts in steps):
        raise ValueError(f"profile watts must not be negative, got {profile!r}")
    return steps


def shedding_profile(
    base_w: float, services: Sequence[Service]
) -> tuple[tuple[float, float], ...]:
    """Load over an outage when services are shed one after the other.

    Parameters
    ----------
    base_w : float
        What the terminal takes with every service shed [W]
    services : sequence of Service
        Services that add to it [1]

    Returns
    -------
    profile : tuple of tuple
        Steps of hour and watts [h, W]

    References
    ----------
    .. [1] ITU-T G.988, power shedding.

    Examples
    --------
    >>> data = Service(name="data", watts=9.0, shed_s=300)
    >>> shedding_profile(6.0, [data])
    ((0.0, 15.0), (0.0833, 6.0))
    """
    at = sorted({0} | {s.shed_s for s in services if s.shed_s > 1})
    return checked_profile(
        [(s / 3600.0, base_w + sum(_alive(services, s))) for s in at]
    )


def _alive(services: Sequence[Service], seconds: float) -> list[float]:
    return [s.watts for s in services if not _shed(s, seconds)]


def _shed(service: Service, seconds: float) -> bool:
    if service.shed_s == 0:
        return False
    return service.shed_s == 1 or seconds >= service.shed_s


def services_left(services: Sequence[Service], hours: float) -> tuple[str, ...]:
    """Names of the services that still run after a time without mains.

    Parameters
    ----------
    services : sequence of Service
        All services [1]
    hours : float
        Time since mains failed [h]

    Returns
    -------
    names : tuple of str
        Those not shed, in the given order [name]

    Examples
    --------
    >>> voice = Service(name="voice", watts=1.0, shed_s=0)
    >>> data = Service(name="data", watts=9.0, shed_s=300)
    >>> services_left([voice, data], 1.0)
    ('voice',)
    """
    return tuple(s.name for s in services if not _shed(s, hours * 3600.0))


def with_talk(
    profile: Profile, from_h: float, *, hours: float, extra_w: float
) -> tuple[tuple[float, float], ...]:
    """A profile with a call in it.

    Parameters
    ----------
    profile : sequence of tuple
        Steps of hour and watts [h, W]
    from_h : float
        When the call begins [h]
    hours : float
        How long it lasts, positive [h]
    extra_w : float
        What the open line adds [W]

    Returns
    -------
    profile : tuple of tuple
        Steps of hour and watts [h, W]

    Examples
    --------
    >>> with_talk([(0.0, 6.0)], 2.0, hours=1.0, extra_w=1.5)
    ((0.0, 6.0), (2.0, 7.5), (3.0, 6.0))
    """
    steps = checked_profile(profile)
    if not (from_h >= 0.0 and hours > 0.0):
        raise ValueError(f"hours must be positive and from_h not negative, got {hours}")
    at = sorted({hour for hour, _ in steps} | {from_h, from_h + hours})
    return tuple(
        (t, watts_at(steps, t) + (extra_w if from_h <= t < from_h + hours else 0.0))
        for t in at
    )


def watts_at(profile: Profile, hours: float) -> float:
    """Load at one moment of the outage.

    Parameters
    ----------
    profile : sequence of tuple
        Steps of hour and watts [h, W]
    hours : float
        Time since mains failed [h]

    Returns
    -------
    load_w : float
        Load from that moment on [W]

    Examples
    --------
    >>> watts_at([(0.0, 15.0), (0.1, 6.0)], 0.1)
    6.0
    """
    return [watts for hour, watts in profile if hour <= hours][-1]


def profile_energy_wh(profile: Profile, hours: float) -> float:
    """Energy that the terminal takes in the first hours of an outage.

    Parameters
    ----------
    profile : sequence of tuple
        Steps of hour and watts [h, W]
    hours : float
        Length of the outage [h]

    Returns
    -------
    energy_wh : float
        Energy at the terminal [Wh]

    Examples
    --------
    >>> profile_energy_wh([(0.0, 15.0), (5 / 60, 6.0)], 8.0)
    48.75
    """
    steps = checked_profile(profile)
    edges = [min(hour, hours) for hour, _ in steps] + [hours]
    return sum(
        w * (b - a) for (_, w), (a, b) in zip(steps, pairwise(edges), strict=True)
    )
