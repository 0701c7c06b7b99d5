"""Which points of no return lie behind, as far as the record shows.

What comes after a step shows that the step was taken: an estimate that the arc was
fired, a time online that the power is on. Common practice, no source.
"""

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import loaded
from eavelight.assess.selection import CLOSED
from eavelight.assess.splice import splices_of_drop
from eavelight.model.requirements import STEPS

IN_SERVICE = {
    "terminal_online_at", "seconds_stable", "level_reported", "level_upstream",
    "port_registered",
}  # fmt: skip
POWERED = {"status_line"}
WELDED = {"splice_estimate", "splice_loss"}
CUT = {"cleave_angle", "sleeve_seen"}


def passed_steps(context: Context) -> frozenset[str]:
    """Names of the steps that were taken.

    An audit cuts nothing and a repair finds the drop in service: there only an open
    lid is still to be closed.
    """
    closed = _closed(context)
    if context.plan.purpose != "turn-up":
        return frozenset(STEPS) - ({"close"} if closed is False else set())
    kinds = {reading.what for reading in context.observations.readings}
    online = bool(kinds & IN_SERVICE)
    welded = online or bool(closed) or bool(kinds & WELDED)
    spliced = bool(splices_of_drop(context))
    taken = {
        "cut": welded or bool(kinds & CUT) or not spliced,
        "arc": welded or not spliced,
        "mate": online,
        "plug in": online or bool(kinds & POWERED) or _loaded(context),
        "close": bool(closed),
    }
    return frozenset(step for step, done in taken.items() if done)


def _loaded(context: Context) -> bool:
    """Whether the terminal drew its load: then the power was on."""
    return any(loaded(item) for item in context.current("volts", "terminal"))


def _closed(context: Context) -> bool | None:
    """Whether the box was closed and stayed so; None where nothing says."""
    lids = [item.lid for item in context.selection.everything if item.lid]
    if lids:
        return lids[-1] == CLOSED
    views = {item.evidence.view for item in context.files("photo")}
    return True if "closed" in views else None
