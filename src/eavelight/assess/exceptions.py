"""How much an exception weighs: a step that cannot be undone before anything else."""

from collections.abc import Iterable

from eavelight.model.finding import Finding, Verdict
from eavelight.model.requirements import STEPS

STEP, ASKED, UNASKED = 0, 1, 2


def weight(what: str, findings: Iterable[Finding]) -> int:
    """0 for a point of no return, 1 for what the profile asks, 2 for anything else.

    A reason for what nobody asked is a note to the reader and nothing to decide on.

    >>> weight("close", [])
    0
    """
    if what in STEPS:
        return STEP
    about = [item for item in findings if item.requirement == what]
    asked = any(item.required or item.verdict is Verdict.FAIL for item in about)
    return ASKED if asked else UNASKED
