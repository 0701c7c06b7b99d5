"""Losses of the drop: small enough, the same at two wavelengths, and possible."""

import math

from eavelight.assess.context import Context
from eavelight.assess.expectation import Expectation, expectation_of
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message

SHORT_NM, LONG_NM = 1310, 1550
# Below this slope over the long-wavelength loss a joint explains it (bend is above).
JOINT_SHARE, BEND_SHARE = 0.15, 0.5


def assess_loss(context: Context) -> list[Finding]:
    """Findings on the readings of loss by light source and meter."""
    expectation = expectation_of(context)
    return [
        *_drop(context, expectation),
        _slope(context),
        *_plausible(context, expectation),
    ]


def _measured(context: Context, item: Placed) -> Quantity:
    reading = item.reading
    return Quantity(value=reading.number, unit="dB", u=context.u_of(reading))


def _drop(context: Context, expectation: Expectation) -> list[Finding]:
    requirement = "loss.drop"
    readings = context.current("loss", "drop")
    if not readings:
        value, u = expectation.loss("drop", LONG_NM)
        return [
            not_measured(
                context,
                requirement,
                "drop",
                values={"expected": value, "wavelength": LONG_NM},
                expected=Quantity(value=value, unit="dB", u=u),
            )
        ]
    return [_drop_at(context, expectation, item) for item in readings]


def _drop_at(context: Context, expectation: Expectation, item: Placed) -> Finding:
    wavelength = item.reading.wavelength_nm or 0
    value, u = expectation.loss("drop", wavelength)
    outcome = judged(
        context,
        "loss.drop",
        "drop",
        measured=_measured(context, item),
        limit=limit_of(context.profile.limit("loss.drop")),
        because={"wavelength": wavelength, "expected": value},
        wavelength_nm=wavelength,
        expected=Quantity(value=value, unit="dB", u=u),
        observations=ids([item]),
    )
    if outcome.verdict is not Verdict.PASS:
        return outcome
    return not_closed(context, outcome, item)


def not_closed(context: Context, outcome: Finding, item: Placed) -> Finding:
    """A pass that was read with the lid open, or before it was opened again."""
    if not item.stale and item.lid in (0, 3):
        return outcome
    state = "stale" if item.stale else "open"
    values = {**outcome.because.values, "state": state}
    return finding(
        context,
        outcome.requirement,
        outcome.subject,
        verdict=Verdict.UNDECIDED,
        because=Message(f"{outcome.requirement}.undecided.{state}", values),
        measured=outcome.measured,
        expected=outcome.expected,
        limit=outcome.limit,
        wavelength_nm=outcome.wavelength_nm,
        probability=outcome.probability,
        required=outcome.required,
        decide_by=Message("loss.decide_by.close", values),
        observations=outcome.observations,
    )


def _slope(context: Context) -> Finding:
    """Loss at the long less the short wavelength: tells a bend from a joint."""
    requirement = "loss.slope"
    by_nm = {
        item.reading.wavelength_nm: item for item in context.current("loss", "drop")
    }
    short, long = by_nm.get(SHORT_NM), by_nm.get(LONG_NM)
    if short is None or long is None:
        return not_measured(
            context,
            requirement,
            "drop",
            values={"short": SHORT_NM, "long": LONG_NM, "have": tuple(map(str, by_nm))},
            observations=ids(by_nm.values()),
        )
    slope = long.reading.number - short.reading.number
    u = math.hypot(context.u_of(long.reading), context.u_of(short.reading))
    share = slope / long.reading.number if long.reading.number > 0 else 0.0
    outcome = judged(
        context,
        requirement,
        "drop",
        measured=Quantity(value=slope, unit="dB", u=u),
        limit=limit_of(context.profile.limit(requirement)),
        because={
            "short": short.reading.number,
            "long": long.reading.number,
            "shape": _shape(share),
        },
        observations=ids([short, long]),
        broken_by=ids([long]),
    )
    if outcome.verdict is not Verdict.PASS:
        return outcome
    open_one = next((i for i in (long, short) if i.stale or i.lid in (1, 2)), long)
    return not_closed(context, outcome, open_one)


def _shape(share: float) -> str:
    """What the share of slope in the long-wavelength loss looks like."""
    if share > BEND_SHARE:
        return "bend"
    return "joint" if share <= JOINT_SHARE else "between"


def _plausible(context: Context, expectation: Expectation) -> list[Finding]:
    """No loss lies below what glass and splitter alone must lose."""
    requirement = "loss.plausible"
    readings = [
        item for place in ("drop", "path") for item in context.current("loss", place)
    ]
    if not readings:
        return [not_measured(context, requirement, "drop")]
    found = []
    for item in readings:
        reading = item.reading
        wavelength = reading.wavelength_nm or 0
        least = expectation.least_loss(reading.at, wavelength)
        found.append(_plausible_at(context, item, least))
    return found


def _plausible_at(context: Context, item: Placed, least: float) -> Finding:
    """Fails only beyond the guard band: a reading at the edge is not impossible."""
    reading = item.reading
    u = context.u_of(reading)
    guard = context.profile.guard_factor * u
    if reading.number >= least:
        verdict = Verdict.PASS
    elif reading.number >= least - guard:
        verdict = Verdict.UNDECIDED
    else:
        verdict = Verdict.FAIL
    values = {
        "value": reading.number,
        "u": u,
        "low": least,
        "wavelength": reading.wavelength_nm,
        "subject": reading.at,
    }
    return finding(
        context,
        "loss.plausible",
        reading.at,
        verdict=verdict,
        because=Message(f"loss.plausible.{verdict}", values),
        measured=_measured(context, item),
        limit=Limit(low=least, unit="dB", clause="plan.plant", confidence="computed"),
        wavelength_nm=reading.wavelength_nm,
        decide_by=(
            Message("loss.plausible.decide_by", values)
            if verdict is Verdict.UNDECIDED
            else None
        ),
        observations=ids([item]),
    )
