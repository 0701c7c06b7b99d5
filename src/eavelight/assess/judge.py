"""One way to hold a number against a limit, used by every module.

A value passes only if it clears the limit by its guard band, and fails only if it is
beyond it by as much; in between it is undecided and says what would decide.
"""

from collections.abc import Iterable
from typing import Any

from eavelight.assess.context import Context
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.standards.clauses import Clause
from eavelight.standards.conformity import decide


def limit_of(
    clause: Clause, *, low: float | None = None, high: float | None = None
) -> Limit:
    """A limit with its origin; the clause's own bound unless numbers are given."""
    if low is None and high is None:
        low = clause.value if clause.bound == "min" else None
        high = clause.value if clause.bound != "min" else None
    return Limit(
        low=low,
        high=high,
        unit=clause.unit,
        clause=clause.id,
        edition=clause.edition,
        confidence=clause.confidence,
    )


def judged(
    context: Context,
    requirement: str,
    subject: str,
    *,
    measured: Quantity,
    limit: Limit,
    because: dict[str, object],
    **more: Any,
) -> Finding:
    """A finding on a number with uncertainty against a limit.

    The sentence is `<requirement>.<verdict>`, so every requirement has one per
    verdict; `because` holds the values that the sentence needs besides the number.
    """
    value, u = float(measured.value), measured.u or 0.0
    decision = decide(
        value, u, low=limit.low, high=limit.high, factor=context.profile.guard_factor
    )
    verdict = Verdict(decision.verdict)
    values = {
        "value": value,
        "u": u,
        "low": limit.low,
        "high": limit.high,
        "subject": subject,
        **because,
    }
    decide_by = None
    if verdict is Verdict.UNDECIDED:
        decide_by = Message("decide.smaller_uncertainty", values)
    more.setdefault("decide_by", decide_by)
    return finding(
        context,
        requirement,
        subject,
        verdict=verdict,
        because=Message(f"{requirement}.{verdict.value}", values),
        measured=measured,
        limit=limit,
        probability=decision.probability,
        **more,
    )


def finding(
    context: Context,
    requirement: str,
    subject: str,
    *,
    verdict: Verdict,
    because: Message,
    **more: Any,
) -> Finding:
    """A finding with the profile's word on whether it is required or advisory."""
    more.setdefault("required", context.required(requirement))
    return Finding(
        requirement=requirement,
        subject=subject,
        verdict=verdict,
        because=because,
        advisory=context.advisory(requirement),
        **more,
    )


def not_measured(
    context: Context,
    requirement: str,
    subject: str,
    *,
    reason: str = "",
    values: dict[str, object] | None = None,
    **more: Any,
) -> Finding:
    """Nothing was seen; the sentence says what was looked for and how to get it."""
    name = f"{requirement}.not_measured" + (f".{reason}" if reason else "")
    filled = {"subject": subject, **(values or {})}
    more.setdefault("decide_by", Message(f"{requirement}.decide_by", filled))
    return finding(
        context,
        requirement,
        subject,
        verdict=Verdict.NOT_MEASURED,
        because=Message(name, filled),
        **more,
    )


def ids(items: Iterable[Placed]) -> tuple[str, ...]:
    """Reading ids, for the finding that rests on them."""
    return tuple(dict.fromkeys(item.reading.id for item in items))
