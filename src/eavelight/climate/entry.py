"""Cable entries of the box: grommet, drip loop to scale, sheath movement, slack."""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

BEND_MULTIPLE = 10.0
ENTRY_SIDES = ("below", "side", "back", "above")
# Thermal expansion per kelvin, common values.
EXPANSION_PER_K = MappingProxyType(
    {
        "silica": 0.55e-6,
        "glass-fibre rod": 6e-6,
        "steel": 12e-6,
        "copper": 17e-6,
        "pvc": 70e-6,
        "hdpe": 120e-6,
        "pe": 150e-6,
        "ldpe": 200e-6,
    }
)
RESTRIPS = 2
RESTRIP_M = 0.15
COVER_QUESTIONS = (
    "lowest point below the entry",
    "seal seated",
    "gasket seated",
    "nothing across the gasket",
    "unused openings closed",
)
"""What has to be seen at the box before an entry is called good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One cable entry, as planned or found."""

    outside_diameter_mm: float
    grommet_min_mm: float
    grommet_max_mm: float
    side: str
    loop_width_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryCheck:
    """What is wrong with an entry, by id, and the numbers behind it."""

    faults: tuple[str, ...]
    unknown: tuple[str, ...]
    loop_needed_mm: float
    loop_spare_mm: float | None
    grommet_spare_mm: float

    @property
    def good(self) -> bool | None:
        if self.faults:
            return False
        return None if self.unknown else True


def loop_width(outside_diameter_mm: float, *, multiple: float = BEND_MULTIPLE) -> float:
    """Width that a drip loop needs so that no bend is tighter than allowed.

    Parameters
    ----------
    outside_diameter_mm : float
        Cable over its sheath [mm]
    multiple : float, optional
        Smallest bend radius in cable diameters [1]

    Returns
    -------
    width_mm : float
        Width of the loop, from cable axis to cable axis [mm]

    Examples
    --------
    >>> loop_width(8.0)
    160.0
    """
    if not outside_diameter_mm > 0:
        raise ValueError(
            f"outside_diameter_mm must be positive, got {outside_diameter_mm}"
        )
    return 2.0 * multiple * outside_diameter_mm


def loop_outline(
    outside_diameter_mm: float,
    *,
    width_mm: float | None = None,
    multiple: float = BEND_MULTIPLE,
    points: int = 61,
) -> Values:
    """Axis of a drip loop, to scale: down from the wall, around, up into the box.

    The loop is a half circle hung between the run down the wall (left) and the entry at
    the origin; y counts upward, so the lowest point is below the entry.

    Parameters
    ----------
    outside_diameter_mm : float
        Cable over its sheath [mm]
    width_mm : float, optional
        Width there is; default what the cable needs [mm]
    multiple : float, optional
        Smallest bend radius in cable diameters [1]
    points : int, optional
        Points on the line [1]

    Returns
    -------
    outline_mm : ndarray of shape (points, 2)
        x and y of the cable axis [mm]

    Examples
    --------
    >>> float(loop_outline(8.0)[:, 1].min())
    -80.0
    """
    width = loop_width(outside_diameter_mm, multiple=multiple)
    radius = (width if width_mm is None else width_mm) / 2.0
    angle = np.linspace(np.pi, 2.0 * np.pi, points)
    return np.column_stack([radius * (np.cos(angle) - 1.0), radius * np.sin(angle)])


def check_entry(
    entry: Entry,
    *,
    seen: Sequence[str] | None = None,
    wrong: Sequence[str] = (),
    multiple: float = BEND_MULTIPLE,
) -> EntryCheck:
    """Whether a cable fits its entry and sheds its water.

    Parameters
    ----------
    entry : Entry
        Cable, grommet, side and loop [mm]
    seen : sequence of str, optional
        Cover questions answered well; None when nobody looked [1]
    wrong : sequence of str, optional
        Cover questions answered badly [1]
    multiple : float, optional
        Smallest bend radius in cable diameters [1]

    Returns
    -------
    check : EntryCheck
        Faults and open questions by id, with the numbers [mm]

    Examples
    --------
    >>> check_entry(Entry(outside_diameter_mm=8.0, grommet_min_mm=5.0,
    ...     grommet_max_mm=7.0, side="above", loop_width_mm=120.0)).faults
    ('cable too thick for grommet', 'entry from above', 'loop too narrow')
    """
    if entry.side not in ENTRY_SIDES:
        raise ValueError(f"side must be one of {ENTRY_SIDES}, got {entry.side!r}")
    diameter = entry.outside_diameter_mm
    needed = loop_width(diameter, multiple=multiple)
    faults: list[str] = []
    unknown: list[str] = []
    if diameter > entry.grommet_max_mm:
        faults.append("cable too thick for grommet")
    elif diameter < entry.grommet_min_mm:
        faults.append("cable too thin for grommet")
    if entry.side == "above":
        faults.append("entry from above")
    if entry.loop_width_mm is None:
        unknown.append("loop width")
    elif entry.loop_width_mm < needed:
        faults.append("loop too narrow")
    faults.extend(wrong)
    known = {*wrong, *(seen or ())}
    unknown.extend(item for item in COVER_QUESTIONS if item not in known)
    loop = entry.loop_width_mm
    return EntryCheck(
        faults=tuple(faults),
        unknown=tuple(unknown),
        loop_needed_mm=needed,
        loop_spare_mm=None if loop is None else loop - needed,
        grommet_spare_mm=min(
            entry.grommet_max_mm - diameter, diameter - entry.grommet_min_mm
        ),
    )


def sheath_movement(
    length_m: float, *, low_c: float, high_c: float, expansion_per_k: float
) -> float:
    """Free change of length over the local extremes.

    The strength member governs when it is clamped together with the sheath.

    Parameters
    ----------
    length_m : float
        Free length of the cable [m]
    low_c : float
        Coldest [°C]
    high_c : float
        Hottest, of the sheath in the sun [°C]
    expansion_per_k : float
        Thermal expansion of the material that governs [1/K]

    Returns
    -------
    movement_mm : float
        Change of length [mm]

    Examples
    --------
    >>> sheath_movement(10.0, low_c=-20.0, high_c=40.0, expansion_per_k=120e-6)
    72.0
    """
    return 1000.0 * length_m * expansion_per_k * (high_c - low_c)


def entry_slack(
    movement_mm: float, *, restrips: int = RESTRIPS, restrip_m: float = RESTRIP_M
) -> float:
    """Cable to leave at the entry: for repairs, and for what the sheath moves.

    Parameters
    ----------
    movement_mm : float
        Change of length of the sheath [mm]
    restrips : int, optional
        Times that the end may have to be opened again [1]
    restrip_m : float, optional
        Cable that one opening uses up [m]

    Returns
    -------
    slack_m : float
        Length to leave [m]

    Examples
    --------
    >>> entry_slack(50.0)
    0.35
    """
    return restrips * restrip_m + movement_mm / 1000.0
