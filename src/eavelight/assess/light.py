"""Levels: inside the window, and where this plan leads one to expect them."""

from dataclasses import replace
from typing import Any

from eavelight.assess.context import Context
from eavelight.assess.expectation import Expectation, expectation_of, plan_of_service
from eavelight.assess.judge import finding, ids, judged, limit_of, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.standards.clauses import Clause
from eavelight.standards.pon_classes import load_pon_classes


def assess_light(context: Context) -> list[Finding]:
    """Findings on every level that was read or should have been."""
    expectation = expectation_of(context)
    return [
        *_window(context, expectation),
        *_expected(context, expectation),
        *_services(context, expectation),
        _reported(context, expectation),
        _upstream(context, expectation),
    ]


def _levels(context: Context, at: str, wavelength_nm: int) -> tuple[Placed, ...]:
    return tuple(
        item
        for item in context.current("level", at)
        if item.reading.wavelength_nm == wavelength_nm
    )


def measured_level(context: Context, item: Placed) -> Quantity:
    """A level reading as a quantity with its uncertainty."""
    reading = item.reading
    return Quantity(value=reading.number, unit="dBm", u=context.u_of(reading))


def _window_limit(floor: Clause, ceiling: Clause) -> Limit:
    return Limit(
        low=floor.value,
        high=ceiling.value,
        unit="dBm",
        clause=floor.id.rpartition(".")[0],
        edition=f"{floor.document} {floor.edition}".strip(),
        confidence=floor.confidence,
    )


def _window(context: Context, expectation: Expectation) -> list[Finding]:
    """The level at the terminal against what class and path can deliver."""
    requirement = "level.window"
    pon, down = expectation.pon, expectation.down_nm
    floor, ceiling = pon.floor(), pon.ceiling()
    readings = _levels(context, "terminal", down)
    more: dict[str, Any] = {"wavelength_nm": down}
    if not readings:
        return [
            not_measured(
                context,
                requirement,
                "terminal",
                values={"wavelength": down, "class": pon.name},
                **more,
            )
        ]
    if floor is None or ceiling is None:
        return [
            not_measured(
                context,
                requirement,
                "terminal",
                reason="no_limits",
                values={"wavelength": down, "class": pon.name},
                measured=measured_level(context, readings[-1]),
                observations=ids(readings),
                **more,
            )
        ]
    limit = _window_limit(floor, ceiling)
    item = readings[-1]
    because = {"wavelength": down, "class": pon.name}
    more["observations"] = ids(readings)
    if item.reading.below:
        return [_below(context, requirement, item, limit, because=because, **more)]
    return [
        judged(
            context,
            requirement,
            "terminal",
            measured=measured_level(context, item),
            limit=limit,
            because=because,
            **more,
        )
    ]


def _below(
    context: Context,
    requirement: str,
    item: Placed,
    limit: Limit,
    *,
    because: dict[str, object],
    **more: Any,
) -> Finding:
    """The meter showed only "less than": a fail below the limit, else no answer."""
    reading = item.reading
    low = limit.low if limit.low is not None else -float("inf")
    guard = context.profile.guard_factor * context.u_of(reading)
    too_low = reading.number <= low - guard
    verdict = Verdict.FAIL if too_low else Verdict.UNDECIDED
    values = {
        "value": reading.number,
        "low": limit.low,
        "high": limit.high,
        "subject": reading.at,
        **because,
    }
    return finding(
        context,
        requirement,
        reading.at,
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.below", values),
        measured=measured_level(context, item),
        limit=limit,
        decide_by=None if too_low else Message("level.decide_by.sensitive", values),
        **more,
    )


def _places(context: Context) -> list[str]:
    """Connectors where a level was read, and the two where one must be."""
    read = {item.reading.at for item in context.current("level")}
    return [
        part.name
        for part in context.plan.plant.part
        if part.kind == "connector"
        and (part.name in read or part.name in {"port", "terminal"})
    ]


def _expected(context: Context, expectation: Expectation) -> list[Finding]:
    found = []
    for place in _places(context):
        readings = _levels(context, place, expectation.down_nm)
        found.append(_expected_at(context, expectation, place, readings))
    return found


def _expected_at(
    context: Context,
    expectation: Expectation,
    place: str,
    readings: tuple[Placed, ...],
) -> Finding:
    requirement = "level.expected"
    down, levels = expectation.down_nm, expectation.levels
    more: dict[str, Any] = {"wavelength_nm": down, "observations": ids(readings)}
    base: dict[str, object] = {"wavelength": down}
    if levels is None:
        return not_measured(
            context, requirement, place, reason="no_launch", values=base, **more
        )
    row, column = levels.row(place), levels.wavelengths_nm.tolist().index(down)
    value, u = levels.at(place, down)
    plan = float(levels.plan_dbm[row, column])
    more["expected"] = Quantity(value=value, unit="dBm", u=u)
    base |= {"expected": value, "plan": plan, "conditioned": abs(value - plan) > 1e-9}
    if not readings:
        return not_measured(context, requirement, place, values=base, **more)
    limit = expected_limit(context, value, u)
    item = readings[-1]
    if item.reading.below:
        return _below(context, requirement, item, limit, because=base, **more)
    base |= {"away": item.reading.number - value, "weak": item.reading.number < value}
    return judged(
        context,
        requirement,
        place,
        measured=measured_level(context, item),
        limit=limit,
        because=base,
        **more,
    )


def expected_limit(context: Context, value: float, u: float) -> Limit:
    """The band around an expectation: a fixed width, or more where it is unsure."""
    clause = context.profile.limit("level.expected")
    factor = context.profile.number("level.expected.factor")
    half = max(clause.value, factor * u)
    limit = limit_of(clause, low=value - half, high=value + half)
    return replace(limit, unit="dBm")


def _services(context: Context, expectation: Expectation) -> list[Finding]:
    """Other services on the fibre, where their level was read at their wavelength."""
    found = []
    for service in context.plan.plant.service:
        if service.pon_class not in load_pon_classes():
            continue
        other = replace(context, plan=plan_of_service(context.plan, service))
        theirs = expectation_of(other)
        if theirs.down_nm == expectation.down_nm:
            continue
        for place in _places(context):
            readings = _levels(context, place, theirs.down_nm)
            if readings:
                found.append(_expected_at(other, theirs, place, readings))
            if readings and place == "terminal":
                found.extend(_window(other, theirs))
    return found


def _reported(context: Context, expectation: Expectation) -> Finding:
    """What the terminal reports against the meter, or the plan where none was read."""
    requirement = "level.reported"
    seen = context.current("level_reported", "terminal")
    down = expectation.down_nm
    if not seen:
        return not_measured(
            context, requirement, "terminal", values={"wavelength": down}
        )
    item = seen[-1]
    wavelength = item.reading.wavelength_nm or down
    meters = _levels(context, "terminal", wavelength)
    clause = context.profile.limit(requirement)
    if meters and not meters[-1].reading.below:
        reference, against = meters[-1].reading.number, "meter"
        reference_u = context.u_of(meters[-1].reading)
    elif expectation.levels is not None and wavelength == down:
        reference, reference_u = expectation.levels.at("terminal", down)
        against = "plan"
    else:
        return not_measured(
            context,
            requirement,
            "terminal",
            reason="no_reference",
            values={"value": item.reading.number},
            measured=measured_level(context, item),
        )
    limit = limit_of(
        clause, low=reference - clause.value, high=reference + clause.value
    )
    # the limit is the accuracy that terminals promise: guarding it twice is wrong
    held = Quantity(value=item.reading.number, unit="dBm", u=reference_u)
    outcome = judged(
        context,
        requirement,
        "terminal",
        measured=held,
        limit=replace(limit, unit="dBm"),
        because={"expected": reference, "against": against, "limit": clause.value},
        wavelength_nm=wavelength,
        expected=Quantity(value=reference, unit="dBm", u=reference_u),
        observations=ids([*seen, *meters]),
    )
    return replace(outcome, measured=measured_level(context, item))


def _upstream(context: Context, expectation: Expectation) -> Finding:
    """The terminal's own light, read at the line terminal."""
    requirement = "level.upstream"
    seen = context.current("level_upstream", "hub")
    up, levels = expectation.up_nm, expectation.upstream
    if not seen:
        return not_measured(context, requirement, "hub", values={"wavelength": up})
    item = seen[-1]
    wavelength = item.reading.wavelength_nm or up
    more: dict[str, Any] = {"wavelength_nm": wavelength, "observations": ids(seen)}
    if levels is None or wavelength != up:
        return not_measured(
            context,
            requirement,
            "hub",
            reason="no_launch",
            values={"wavelength": wavelength, "value": item.reading.number},
            measured=measured_level(context, item),
            **more,
        )
    column = levels.wavelengths_nm.tolist().index(up)
    value = float(levels.expected_dbm[-1, column])
    u = float(levels.expected_u_db[-1, column])
    clause = context.profile.limit(requirement)
    half = max(clause.value, context.profile.number("level.expected.factor") * u)
    limit = limit_of(clause, low=value - half, high=value + half)
    return judged(
        context,
        requirement,
        "hub",
        measured=measured_level(context, item),
        limit=replace(limit, unit="dBm"),
        because={
            "expected": value,
            "away": item.reading.number - value,
            "wavelength": wavelength,
            "weak": item.reading.number < value,
        },
        expected=Quantity(value=value, unit="dBm", u=u),
        **more,
    )
