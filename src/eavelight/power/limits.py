"""Limited sources: what a table of an electrical code prints for a voltage.

Information only. Whether an installation may be built so is for the adopted code, the
listing of the supply and the authority to say.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceRow:
    """One voltage row of a limited-source table.

    Either the current is printed (and the volt-amperes follow) or the volt-amperes
    are (and the current follows); the other is None.
    """

    up_to_v: float
    amps: float | None = None
    volt_amperes: float | None = None


def _row(supply_v: float, rows: Sequence[SourceRow]) -> SourceRow | None:
    if not supply_v > 0:
        raise ValueError(f"supply_v must be positive, got {supply_v}")
    fitting = [row for row in rows if supply_v <= row.up_to_v]
    return min(fitting, key=lambda row: row.up_to_v) if fitting else None


def source_current_a(supply_v: float, rows: Sequence[SourceRow]) -> float:
    """Largest nameplate current of a limited source.

    Parameters
    ----------
    supply_v : float
        Largest voltage of the source [V]
    rows : sequence of SourceRow
        The table [1]

    Returns
    -------
    current_a : float
        NaN above the last row [A]

    Examples
    --------
    >>> source_current_a(50.0, [SourceRow(up_to_v=60.0, volt_amperes=100.0)])
    2.0
    """
    row = _row(supply_v, rows)
    if row is None:
        return math.nan
    return row.amps if row.amps is not None else (row.volt_amperes or 0.0) / supply_v


def source_power_va(supply_v: float, rows: Sequence[SourceRow]) -> float:
    """Largest nameplate volt-amperes of a limited source.

    Parameters
    ----------
    supply_v : float
        Largest voltage of the source [V]
    rows : sequence of SourceRow
        The table [1]

    Returns
    -------
    power_va : float
        NaN above the last row [VA]

    Examples
    --------
    >>> source_power_va(12.0, [SourceRow(up_to_v=20.0, amps=5.0)])
    60.0
    """
    return supply_v * source_current_a(supply_v, rows)


def limit_notes(
    supply_v: float,
    peak_w: float,
    *,
    rows: Sequence[SourceRow],
    wet_contact_v: float,
    supply_limit_w: float | None = None,
    fuse_a: float | None = None,
    outdoors: bool = True,
) -> tuple[str, ...]:
    """What about the source must be looked at, as ids.

    Parameters
    ----------
    supply_v : float
        Largest voltage of the source [V]
    peak_w : float
        Largest power drawn from it, cable loss included; NaN if it collapses [W]
    rows : sequence of SourceRow
        Limited-source table [1]
    wet_contact_v : float
        Voltage above which wet contact needs other wiring [V]
    supply_limit_w : float, optional
        Rated power of the supply [W]
    fuse_a : float, optional
        Rated current of the fuse in the lead [A]
    outdoors : bool, optional
        Whether the cable is where wet contact is likely [1]

    Returns
    -------
    notes : tuple of str
        Any of "above wet contact", "outside table", "above table", "above supply",
        "above fuse", "collapses" [id]

    Examples
    --------
    >>> rows = [SourceRow(up_to_v=20.0, amps=5.0)]
    >>> limit_notes(13.6, 9.0, rows=rows, wet_contact_v=30.0, supply_limit_w=8.0)
    ('above supply',)
    """
    current = peak_w / supply_v
    limit = source_current_a(supply_v, rows)
    checks = (
        ("above wet contact", outdoors and supply_v > wet_contact_v),
        ("outside table", math.isnan(limit)),
        ("above table", current > limit),
        ("above supply", supply_limit_w is not None and peak_w > supply_limit_w),
        ("above fuse", fuse_a is not None and current > fuse_a),
        ("collapses", math.isnan(peak_w)),
    )
    return tuple(name for name, found in checks if found)
