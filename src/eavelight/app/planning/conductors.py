"""The conductor map of a cord: which wire goes where, and what its loop should read."""

from dataclasses import dataclass

from eavelight.app.planning.feed import FeedPlan
from eavelight.power.conductor_map import Conductor, lines_to_strap
from eavelight.power.status_lines import LINES
from eavelight.standards.cords import cord


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorsPlan:
    """Rows of the map, loop of the power pairs, lines that the cord lacks."""

    construction: str
    rows: tuple[Conductor, ...]
    power_loop_ohm: float
    strap: tuple[str, ...]
    polarity: str | None
    shared_return: bool | None


def plan_conductors(feed: FeedPlan | None) -> ConductorsPlan | None:
    """The map, None where the construction of the cord is not planned."""
    if feed is None or feed.feed.construction is None:
        return None
    rows = _carried(cord(feed.feed.construction), feed.feed.status_lines)
    return ConductorsPlan(
        construction=feed.feed.construction,
        rows=rows,
        power_loop_ohm=feed.loop_ohm,
        strap=lines_to_strap(rows, LINES),
        polarity=feed.feed.status_polarity,
        shared_return=feed.feed.return_shared,
    )


def _carried(
    rows: tuple[Conductor, ...], status_lines: int | None
) -> tuple[Conductor, ...]:
    """The rows of the cord, less the status lines beyond those it carries."""
    if status_lines is None:
        return rows
    kept, lines = [], 0
    for row in rows:
        if row.function in LINES:
            lines += 1
            if lines > status_lines:
                continue
        kept.append(row)
    return tuple(kept)
