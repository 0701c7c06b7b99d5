"""The record of one visit as the diagnosis takes it."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from eavelight.app.diagnosing.marks import marks_of
from eavelight.assess.context import Context
from eavelight.assess.endface import cleaned_at, last_graded, pictures_of
from eavelight.assess.expectation import Expectation, expectation_of
from eavelight.assess.feed_resistance import planned_loop, shown_resistance
from eavelight.assess.selection import Placed, select
from eavelight.diagnosis.case import Case, Event, FeedCase, Resistance, Seen
from eavelight.light.levels import Launch
from eavelight.model.finding import Finding
from eavelight.model.plan import Plan
from eavelight.trace.results import TraceAnalysis

NUMBERS = (
    "level", "level_reported", "level_upstream", "loss", "splice_loss",
    "splice_estimate", "cleave_angle", "volts",
)  # fmt: skip
OF_BASELINE = ("level", "loss", "level_upstream")
ALARM_SLACK = timedelta(minutes=5)
# What the loss of one event is good to beside its noise: dead zones, markers.
EVENT_U_DB = 0.08
NOT_LOSSES = {"launch", "ghost", "end", "splitter"}


def case_of(context: Context, findings: Sequence[Finding]) -> Case:
    """Readings, marks and plan of a visit, with the findings for what was seen."""
    expectation = expectation_of(context)
    seen = tuple(_seen(context, context.selection.everything))
    return Case(
        visit=context.visit,
        plan=context.plan,
        path=expectation.path,
        launch=_pair(expectation.launch),
        terminal_launch=_pair(expectation.terminal_launch),
        down_nm=expectation.down_nm,
        up_nm=expectation.up_nm,
        seen=seen,
        baseline=tuple(_baseline(context, expectation)),
        marks=tuple(marks_of(context, findings)),
        events=tuple(_events(context)),
        feed=_feed(context),
        circumstances=frozenset(_circumstances(context)),
        done=frozenset(_done(context)),
        cleaned=dict(_cleaned(context)),
    )


def _cleaned(context: Context) -> Iterator[tuple[str, datetime]]:
    for part in context.plan.plant.drop:
        time = cleaned_at(context, part.name) if part.kind == "connector" else None
        if time is not None:
            yield part.name, time


def _pair(launch: Launch | None) -> tuple[float, float] | None:
    return None if launch is None else (launch.mean_dbm, launch.u_db)


def _seen(context: Context, items: Sequence[Placed]) -> Iterator[Seen]:
    counted = {id(item) for item in context.selection.current}
    for item in items:
        reading = item.reading
        number = reading.what in NUMBERS
        yield Seen(
            reading=reading,
            u=context.u_of(reading) if number else 0.0,
            lid=item.lid,
            counts=id(item) in counted,
        )


def _baseline(context: Context, expectation: Expectation) -> Iterator[Seen]:
    known = set(expectation.wavelengths_nm)
    for other in context.others:
        if not other.is_baseline:
            continue
        for item in select(other.readings).current:
            reading = item.reading
            nm = reading.wavelength_nm
            if reading.what not in OF_BASELINE or reading.below:
                continue
            if nm is None or nm in known:
                yield Seen(reading=reading, u=context.u_of(reading), lid=item.lid)


def _feed(context: Context) -> FeedCase | None:
    feed = context.plan.feed
    if feed is None:
        return None
    loop, u = planned_loop(feed)
    shown = shown_resistance(context, feed)
    estimates = shown.estimates if shown is not None else ()
    battery = {
        item.reading.id
        for item in context.selection.everything
        if {"on battery", "mains pulled"} & set(item.reading.state)
    }
    return FeedCase(
        loop_ohm=loop,
        loop_u_ohm=u,
        float_v=feed.supply_float_v,
        cutoff_v=feed.supply_cutoff_v,
        estimates=tuple(
            Resistance(
                kind=item.kind,
                ohm=item.ohm,
                u_ohm=item.u_ohm,
                ids=item.readings,
                on_battery=bool(battery & set(item.readings)),
            )
            for item in estimates
        ),
    )


def _events(context: Context) -> Iterator[Event]:
    """Events of the traces of the drop, with places counted from the terminal."""
    for item in context.files("trace"):
        analysis = item.analysis
        if not isinstance(analysis, TraceAnalysis):
            continue
        at = item.evidence.at or "terminal"
        if at not in {"terminal", "port"}:
            continue
        length = drop_length_m(context.plan)
        for event in analysis.events:
            inside = -2.0 < event.position_m < length + 5.0
            if event.loss_db is None or event.kind in NOT_LOSSES or not inside:
                continue
            flip = at == "port"
            ends = (event.start_m, event.end_m)
            if flip:
                ends = (length - event.end_m, length - event.start_m)
            yield Event(
                position_m=length - event.position_m if flip else event.position_m,
                position_u_m=event.position_u_m,
                nm=round(analysis.wavelength_nm),
                loss_db=event.loss_db,
                loss_u_db=((event.loss_u_db or 0.0) ** 2 + EVENT_U_DB**2) ** 0.5,
                kind=event.kind,
                reflectance_db=event.reflectance_db,
                start_m=ends[0],
                end_m=ends[1],
                id=item.evidence.file,
            )


def drop_length_m(plan: Plan) -> float:
    """Length of all fibre between port and terminal."""
    return sum(part.length_m or 0.0 for part in plan.plant.drop)


def _circumstances(context: Context) -> Iterator[str]:
    affected = context.selection.latest("neighbours_affected")
    if affected is not None:
        well = affected.reading.value is not True
        yield "neighbours well" if well else "neighbours affected"
    for item in context.current("neighbour_alarm_at"):
        alarm = item.reading.value
        if isinstance(alarm, datetime) and _during(context, alarm):
            yield "neighbour lost service during the visit"
    lids = {
        item.lid
        for item in context.selection.everything
        if item.reading.what in {"loss", "level"}
    }
    if 3 in lids and lids & {1, 2}:
        yield "lid just closed"
    outside = context.selection.latest("temperature", "outside")
    if outside is not None and outside.reading.number <= 0.0:
        yield "freezing"
    polishes = {part.polish for part in context.plan.plant.drop if part.polish}
    if len(polishes) > 1:
        yield "mixed polish planned"


def _during(context: Context, alarm: datetime) -> bool:
    observed = context.observations
    if alarm.tzinfo is None or alarm < observed.started - ALARM_SLACK:
        return False
    return observed.ended is None or alarm <= observed.ended + ALARM_SLACK


def _done(context: Context) -> Iterator[str]:
    """Words of the catalogue for what was already measured or looked at."""
    for item in context.selection.current:
        reading = item.reading
        if reading.what == "level" and not reading.below:
            yield f"level at {reading.at}"
        elif reading.what == "loss":
            yield f"loss at {reading.wavelength_nm}"
            if item.lid_closed:
                yield f"loss closed at {reading.wavelength_nm}"
        elif reading.what == "splice_loss":
            yield f"splice {reading.direction}"
        elif reading.what == "volts":
            yield from _volts_done(item)
        elif reading.what in {"loop_resistance", "fibre_light", "port_label"}:
            yield reading.what
    yield from _looks_done(context)


def _looks_done(context: Context) -> Iterator[str]:
    for part in context.plan.plant.drop:
        if part.kind == "connector" and _looked_at(context, part.name):
            yield f"faces at {part.name}"
    if traced(context):
        yield "trace"


def _volts_done(item: Placed) -> Iterator[str]:
    states = set(item.reading.state)
    if {"on battery", "mains pulled"} & states:
        yield "volts on battery"
    if item.reading.at == "terminal" and "loaded" in states:
        yield "volts under load"


def _looked_at(context: Context, connector: str) -> bool:
    stated = {
        item.reading.side or "plug"
        for item in context.selection.all_of("endface_stated", connector)
    }
    pictured = {
        side
        for side in ("plug", "adapter")
        if last_graded(pictures_of(context, connector, side)) is not None
    }
    return {"plug", "adapter"} <= stated | pictured


def traced(context: Context) -> bool:
    """Whether a trace of the drop was read."""
    return any(
        isinstance(item.analysis, TraceAnalysis) for item in context.files("trace")
    )
