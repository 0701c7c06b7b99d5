"""Readings as rows: what a sound plant would show, how surely, and what each row sees.

What is uncertain of a sound plant (launch, every part, one-way steps) is shared by the
rows that see it, so two levels of one path are known to move together. Readings of an
accepted baseline see the same plant without today's faults.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.case import Case, Event, Seen
from eavelight.standards.priors import signatures

Array = NDArray[np.float64]
OPTICAL = ("level", "level_reported", "level_upstream", "loss", "splice_loss")
SIGN = {"level": -1.0, "level_reported": -1.0, "level_upstream": -1.0}
CENSORED_DB = 5.0
ESTIMATE_DB, ESTIMATE_SIGMA_DB = 0.03, 0.03
SOUND_JOINT_OHM, SOUND_JOINT_SIGMA_OHM = 0.03, 0.03
SUPPLY_SIGMA_V = 0.15
BATTERY_SIGMA_V = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One reading; `sees` has a signed share for every part of the path."""

    kind: str
    at: str
    value: float
    u: float
    mean: float
    unit: str
    sees: tuple[float, ...]
    nm: int | None = None
    ids: tuple[str, ...] = ()
    lid: int = 0
    states: tuple[str, ...] = ()
    time: datetime | None = None
    direction: str | None = None
    tool: str | None = None
    baseline: bool = False
    censored: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Table:
    """All rows with residuals against a sound plant and their joint precision."""

    rows: tuple[Row, ...]
    residual: Array
    covariance: Array
    precision: Array
    sees: Array
    nm: Array

    @property
    def here(self) -> Array:
        """One for rows of this visit, zero for those of the baseline."""
        return np.array([0.0 if row.baseline else 1.0 for row in self.rows])

    def mask(self, *kinds: str) -> Array:
        """One where a row is of one of the kinds, on this visit."""
        found = [row.kind in kinds and not row.baseline for row in self.rows]
        return np.array(found, dtype=float)

    @property
    def sigma(self) -> Array:
        """Standard deviation of each residual in a sound plant."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def build_table(case: Case) -> Table:
    """Every row of a case with what a sound plant leads one to expect."""
    rows = [
        *_optical(case, case.seen, baseline=False),
        *_optical(case, case.baseline, baseline=True),
        *_estimates(case),
        *_events(case),
        *_copper(case),
    ]
    residual = np.array([row.value - row.mean for row in rows])
    share = signatures().stray["model_share"]
    own = np.array([row.u for row in rows]) ** 2 + (share * residual) ** 2
    covariance = np.diag(own) if rows else np.zeros((0, 0))
    for loading in _latents(case, rows):
        covariance = covariance + np.outer(loading, loading)
    precision = np.asarray(np.linalg.inv(covariance) if rows else covariance)
    sees = np.array([row.sees for row in rows]).reshape(len(rows), len(case.path.names))
    return Table(
        rows=tuple(rows),
        residual=residual,
        covariance=covariance,
        precision=precision,
        sees=sees,
        nm=np.array([float(row.nm or 0) for row in rows]),
    )


def _useful(seen: Iterable[Seen]) -> Iterator[Seen]:
    """Readings that count, and superseded ones that tell of another stage."""
    listed = [item for item in seen if item.reading.what in OPTICAL]
    counted = [item for item in listed if item.counts]
    for item in listed:
        if item.counts or _other_stage(item, counted):
            yield item


def _other_stage(item: Seen, counted: Iterable[Seen]) -> bool:
    reading = item.reading
    for other in counted:
        theirs = other.reading
        same = (
            theirs.what == reading.what
            and theirs.at == reading.at
            and theirs.wavelength_nm == reading.wavelength_nm
            and theirs.direction == reading.direction
        )
        if same and (theirs.attempt or 0) != (reading.attempt or 0):
            return False
        if same:
            stages = (item.lid, _stage(reading.state))
            return stages != (other.lid, _stage(theirs.state))
    return False


def _stage(states: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(s for s in states if "clean" in s or "shrink" in s)


def _optical(case: Case, seen: Iterable[Seen], *, baseline: bool) -> Iterator[Row]:
    for item in _useful(seen):
        row = _optical_row(case, item, baseline=baseline)
        if row is not None:
            yield row


def _optical_row(case: Case, item: Seen, *, baseline: bool) -> Row | None:
    reading = item.reading
    nm = reading.wavelength_nm
    if nm is None:
        nm = case.up_nm if reading.what == "level_upstream" else case.down_nm
    sees = _sees(case, reading.what, reading.at)
    columns = np.flatnonzero(np.isclose(case.path.wavelengths_nm, nm))
    if sees is None or columns.size == 0:
        return None
    mean = float(sees @ case.path.loss_db[:, columns[0]])
    if reading.what == "level_upstream":
        mean += case.terminal_launch[0] if case.terminal_launch else 0.0
    elif reading.what in SIGN:
        mean += case.launch[0] if case.launch else 0.0
    value, u = reading.number, item.u
    if reading.below:
        value, u = min(value, mean) - CENSORED_DB, CENSORED_DB
    return Row(
        kind=reading.what,
        at=reading.at,
        value=value,
        u=u,
        mean=mean,
        unit="dB" if reading.what not in SIGN else "dBm",
        sees=tuple(sees.tolist()),
        nm=nm,
        ids=(reading.id,),
        lid=item.lid,
        states=reading.state,
        time=reading.time,
        direction=reading.direction,
        tool=reading.tool,
        baseline=baseline,
        censored=reading.below,
    )


def _sees(case: Case, what: str, at: str) -> Array | None:
    """Signed share of every part in a reading."""
    names = case.path.names
    found = np.zeros(len(names))
    if what == "level":
        if at == "hub":
            return found
        if at not in names:
            return None
        found[: names.index(at) + 1] = -1.0
    elif what in {"level_reported", "level_upstream"}:
        found[:] = -1.0
    elif what == "loss":
        first = 0 if at == "path" else names.index("port") if "port" in names else 0
        found[first:] = 1.0
    elif at in names:
        found[names.index(at)] = 1.0
    else:
        return None
    return found


def last_attempt(seen: Iterable[Seen]) -> list[Seen]:
    """Of readings of one splice, those of its last attempt."""
    listed = list(seen)
    last = max((item.reading.attempt or 0 for item in listed), default=0)
    return [item for item in listed if (item.reading.attempt or 0) == last]


def _estimates(case: Case) -> Iterator[Row]:
    """What the splicer computed, of the last attempt of every splice of the drop."""
    for name in case.parts_of("splice"):
        items = [
            item
            for item in case.seen
            if item.reading.what == "splice_estimate" and item.reading.at == name
        ]
        for item in last_attempt(items):
            reading = item.reading
            yield Row(
                kind="splice_estimate",
                at=name,
                value=reading.number,
                u=math.hypot(item.u, ESTIMATE_SIGMA_DB),
                mean=ESTIMATE_DB,
                unit="dB",
                sees=(0.0,) * len(case.path.names),
                ids=(reading.id,),
                states=reading.state,
                time=reading.time,
            )


def distances_m(case: Case) -> dict[str, tuple[float, float]]:
    """Start and end of every part of the drop, counted from the terminal."""
    found, here = {}, 0.0
    for part in reversed(case.plan.plant.drop):
        length = part.length_m or 0.0
        found[part.name] = (here, here + length)
        here += length
    return found


def parts_at(case: Case, event: Event) -> list[str]:
    """Joints that an event covers, else the fibre it lies on."""
    reach = max(2.0 * event.position_u_m, 1.0)
    low = min(event.position_m, event.start_m or event.position_m) - reach
    high = max(event.position_m, event.end_m or event.position_m) + reach
    places = distances_m(case)
    kinds = {part.name: part.kind for part in case.plan.plant.drop}
    joints = [
        name
        for name, (start, _) in places.items()
        if kinds[name] != "fibre" and low <= start <= high
    ]
    if joints:
        inside = [
            name
            for name, (start, end) in places.items()
            if kinds[name] == "fibre" and low <= start and end <= high
        ]
        return [*joints, *inside]
    return [
        name
        for name, (start, end) in places.items()
        if kinds[name] == "fibre" and start <= event.position_m <= end
    ][:1]


def _events(case: Case) -> Iterator[Row]:
    names = case.path.names
    for event in case.events:
        columns = np.flatnonzero(np.isclose(case.path.wavelengths_nm, event.nm))
        covered = parts_at(case, event)
        if event.loss_db is None or not covered or columns.size == 0:
            continue
        sees = np.array([1.0 if name in covered else 0.0 for name in names])
        joints = np.array([kind != "fibre" for kind in case.path.kinds], dtype=float)
        mean = float((sees * joints) @ case.path.loss_db[:, columns[0]])
        yield Row(
            kind="event",
            at=covered[0],
            value=event.loss_db,
            u=math.hypot(event.loss_u_db, 0.04),
            mean=mean,
            unit="dB",
            sees=tuple(sees.tolist()),
            nm=event.nm,
            ids=(event.id,) if event.id else (),
        )


def _copper(case: Case) -> Iterator[Row]:
    """Resistances of the feed, volts of supply and battery."""
    feed = case.feed
    if feed is None:
        return
    nothing = (0.0,) * len(case.path.names)
    for item in feed.estimates:
        mean = feed.loop_ohm + (SOUND_JOINT_OHM if item.kind == "load" else 0.0)
        spread = SOUND_JOINT_SIGMA_OHM if item.kind == "load" else 0.0
        yield Row(
            kind=item.kind,
            at="terminal" if item.kind == "load" else "supply",
            value=item.ohm,
            u=math.hypot(item.u_ohm, spread),
            mean=mean,
            unit="ohm",
            sees=nothing,
            ids=item.ids,
            states=("on battery",) if item.on_battery else (),
        )
    for seen in case.seen:
        row = _volts(seen, feed.float_v, feed.cutoff_v, nothing)
        if row is not None:
            yield row


def _volts(
    item: Seen, float_v: float, cutoff_v: float, nothing: tuple[float, ...]
) -> Row | None:
    reading = item.reading
    if reading.what != "volts" or not item.counts or reading.at == "terminal":
        return None
    states = set(reading.state)
    battery = reading.at == "battery" or states & {"on battery", "mains pulled"}
    if battery and not states & {"on battery", "mains pulled"}:
        return None
    mean, spread = float_v, SUPPLY_SIGMA_V
    if battery:
        mean, spread = (0.4 * cutoff_v + 0.6 * float_v), BATTERY_SIGMA_V
    return Row(
        kind="battery_v" if battery else "supply_v",
        at=reading.at,
        value=abs(reading.number),
        u=math.hypot(item.u, spread),
        mean=mean,
        unit="V",
        sees=nothing,
        ids=(reading.id,),
        states=reading.state,
        time=reading.time,
    )


def _latents(case: Case, rows: list[Row]) -> Iterator[Array]:
    """What is uncertain of a sound plant, one loading vector each."""
    if not rows:
        return
    stray = signatures().stray
    sees = np.array([row.sees for row in rows])
    nm = [row.nm for row in rows]
    wavelengths = case.path.wavelengths_nm
    column = [
        int(np.argmin(np.abs(wavelengths - value))) if value else 0 for value in nm
    ]
    for index in range(len(case.path.names)):
        yield sees[:, index] * case.path.u_db[index, column]
    down = {"level", "level_reported"}
    for wavelength in sorted({row.nm or 0 for row in rows if row.kind in down}):
        known = wavelength == case.down_nm and case.launch is not None
        sigma = case.launch[1] if known and case.launch else stray["unknown_launch_db"]
        yield np.array(
            [sigma * (row.kind in down and row.nm == wavelength) for row in rows]
        )
    sigma = case.terminal_launch[1] if case.terminal_launch else 4.0
    yield np.array([sigma * (row.kind == "level_upstream") for row in rows])
    yield from _steps(rows, float(stray["step_sigma_db"]))
    if case.feed is not None:
        copper = {"loop", "load"}
        yield np.array([case.feed.loop_u_ohm * (row.kind in copper) for row in rows])
        battery = np.array([row.kind == "battery_v" for row in rows])
        yield BATTERY_SIGMA_V * battery


def _steps(rows: list[Row], sigma: float) -> Iterator[Array]:
    """One-way readings carry the step of mode fields, opposite from the other end."""
    for name in sorted(
        {row.at for row in rows if row.kind in {"splice_loss", "event"}}
    ):
        loading = np.zeros(len(rows))
        for index, row in enumerate(rows):
            if row.at != name:
                continue
            if row.kind == "splice_loss":
                loading[index] = -sigma if row.direction == "toward port" else sigma
            elif row.kind == "event":
                loading[index] = -0.4 * sigma
        yield loading
