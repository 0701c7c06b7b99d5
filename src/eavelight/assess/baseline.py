"""What changed since the accepted visit: same place, same wavelength, same kind."""

import math
from collections.abc import Iterable
from dataclasses import replace

from eavelight.assess.context import Context
from eavelight.assess.judge import ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed, select
from eavelight.model.finding import Finding, Quantity
from eavelight.model.observation import OtherVisit

WATCHED = ("level", "loss", "level_reported", "level_upstream", "loop_resistance")
UNITS = {"loop_resistance": "ohm"}


def assess_baseline(context: Context) -> list[Finding]:
    """`baseline.changed` for every reading that both visits hold."""
    requirement = "baseline.changed"
    baseline = next((other for other in context.others if other.is_baseline), None)
    if baseline is None:
        return [not_measured(context, requirement, "path")]
    pairs = list(_pairs(context, baseline))
    if not pairs:
        values: dict[str, object] = {"visit": baseline.visit}
        return [
            not_measured(
                context, requirement, "path", reason="nothing_shared", values=values
            )
        ]
    return [_changed(context, baseline, now, then) for now, then in pairs]


def _key(item: Placed) -> tuple[object, ...]:
    reading = item.reading
    return reading.what, reading.at, reading.wavelength_nm, reading.below


def _pairs(context: Context, baseline: OtherVisit) -> Iterable[tuple[Placed, Placed]]:
    before = {
        _key(item): item
        for item in select(baseline.readings).current
        if item.reading.what in WATCHED and not item.reading.below
    }
    for item in context.selection.current:
        then = before.get(_key(item))
        if then is not None:
            yield item, then


def _changed(
    context: Context, baseline: OtherVisit, now: Placed, then: Placed
) -> Finding:
    """Judged both ways: light that came back tells as much as light that went."""
    reading = now.reading
    change = reading.number - then.reading.number
    unit = UNITS.get(reading.what, "dB")
    u = math.hypot(context.u_of(reading), context.u_of(then.reading))
    clause = context.profile.limit("baseline.changed")
    half = clause.value
    if reading.what == "loop_resistance":
        share = context.profile.number("feed.loop") / 100.0
        clause = context.profile.limit("feed.loop")
        half = share * abs(then.reading.number)
    limit = replace(limit_of(clause, low=-half, high=half), unit=unit)
    return judged(
        context,
        "baseline.changed",
        reading.at,
        measured=Quantity(value=change, unit=unit, u=u),
        expected=Quantity(value=0.0, unit=unit),
        limit=limit,
        because={
            "visit": baseline.visit,
            "what": reading.what.replace("_", " "),
            "ohm": unit == "ohm",
            "now": reading.number,
            "then": then.reading.number,
            "wavelength": reading.wavelength_nm,
        },
        wavelength_nm=reading.wavelength_nm,
        observations=ids([now]),
    )
