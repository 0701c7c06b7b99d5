"""Attempts at one splice read as a series.

One bad estimate says little. Good cleaves with estimates that repeat speak for fibres
that do not match: another attempt gives the same number. Good cleaves with estimates
that jump speak for gel, crumbs in the groove or tired electrodes; angles that grow
speak for the blade.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from eavelight.diagnosis.case import Case, Seen
from eavelight.model.message import Message

GOOD_CLEAVE_DEG = 1.0
HIGH_DB, ALIKE_DB, JUMP_DB = 0.07, 0.04, 0.07
GROWTH_DEG = 0.3
STEP_DB = 0.08
# A one-way reading below this tempts nobody to splice again.
LOOKS_BAD_DB = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """All attempts at one splice: an estimate and the worse cleave of each."""

    at: str
    estimates: tuple[float, ...]
    cleaves: tuple[float, ...]
    attempts: int

    @property
    def good_cleaves(self) -> bool:
        """Whether every cleave that was read is good."""
        return bool(self.cleaves) and max(self.cleaves) <= GOOD_CLEAVE_DEG

    @property
    def spread_db(self) -> float:
        """How far the estimates lie apart."""
        return max(self.estimates) - min(self.estimates) if self.estimates else 0.0

    @property
    def repeats(self) -> bool:
        """Good cleaves, estimates high every time and alike."""
        high = len(self.estimates) >= 2 and min(self.estimates) >= HIGH_DB
        return high and self.good_cleaves and self.spread_db <= ALIKE_DB

    @property
    def jumps(self) -> bool:
        """Good cleaves, yet estimates that differ from attempt to attempt."""
        several = len(self.estimates) >= 2 and max(self.estimates) >= HIGH_DB
        return several and self.good_cleaves and self.spread_db > JUMP_DB

    @property
    def blade(self) -> bool:
        """Angles that grow from attempt to attempt."""
        pairs = zip(self.cleaves[:-1], self.cleaves[1:], strict=True)
        growing = len(self.cleaves) >= 3 and all(b > a for a, b in pairs)
        return growing and self.cleaves[-1] - self.cleaves[0] >= GROWTH_DEG


def series_of(case: Case) -> tuple[Series, ...]:
    """The attempts at every splice of the drop."""
    found = []
    for name in case.parts_of("splice"):
        estimates = _by_attempt(case, "splice_estimate", name)
        cleaves = _by_attempt(case, "cleave_angle", name)
        found.append(
            Series(
                at=name,
                estimates=tuple(items[-1] for items in estimates.values()),
                cleaves=tuple(max(items) for items in cleaves.values()),
                attempts=len(estimates.keys() | cleaves.keys()),
            )
        )
    return tuple(found)


def _by_attempt(case: Case, what: str, at: str) -> dict[int, list[float]]:
    seen: list[Seen] = [
        item
        for item in case.seen
        if item.reading.what == what and item.reading.at == at
    ]
    found: dict[int, list[float]] = {}
    for item in sorted(seen, key=lambda one: one.reading.attempt or 1):
        found.setdefault(item.reading.attempt or 1, []).append(item.reading.number)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A joint read from both ends: the mean is its loss, the rest is the fibres."""

    at: str
    first_db: float
    second_db: float
    nm: int

    @property
    def mean_db(self) -> float:
        """Loss of the joint."""
        return (self.first_db + self.second_db) / 2.0

    @property
    def explains(self) -> bool:
        """Whether one way looks bad although the joint is good."""
        apart = abs(self.first_db - self.second_db) / 2.0
        worse = max(self.first_db, self.second_db)
        looks_bad = worse >= LOOKS_BAD_DB
        return looks_bad and apart >= STEP_DB and self.mean_db <= 2.0 * STEP_DB


def steps_of(case: Case) -> Iterator[Step]:
    """Joints of the drop that were read from both ends at one wavelength."""
    ways: dict[tuple[str, int], dict[str, float]] = {}
    for item in case.seen:
        reading = item.reading
        if reading.what == "splice_loss" and item.counts and reading.direction:
            key = (reading.at, reading.wavelength_nm or 0)
            ways.setdefault(key, {})[reading.direction] = reading.number
    for (at, nm), both in sorted(ways.items()):
        if len(both) == 2:
            yield Step(
                at=at,
                nm=nm,
                first_db=both["toward port"],
                second_db=both["toward terminal"],
            )


def keep_splice(case: Case) -> dict[str, Message]:
    """Splices that another attempt would not better, with the reason."""
    found: dict[str, Message] = {}
    for step in steps_of(case):
        if step.explains:
            values = {
                "at": step.at,
                "first": step.first_db,
                "second": step.second_db,
                "mean": step.mean_db,
            }
            found.setdefault(step.at, Message("diagnosis.keep.step", values))
    both_ways = {step.at for step in steps_of(case)}
    for series in series_of(case):
        if series.repeats and series.at not in both_ways:
            values = {
                "at": series.at,
                "count": len(series.estimates),
                "low": min(series.estimates),
                "high": max(series.estimates),
            }
            found.setdefault(series.at, Message("diagnosis.keep.repeats", values))
    return found


def notes_of(case: Case) -> Iterator[Message]:
    """What the series say of tools and glass."""
    for series in series_of(case):
        values = {
            "at": series.at,
            "low": min(series.estimates, default=0.0),
            "high": max(series.estimates, default=0.0),
            "attempts": series.attempts,
        }
        if series.jumps:
            yield Message("diagnosis.series.jumps", values)
        if series.blade:
            cleaves = {"first": series.cleaves[0], "last": series.cleaves[-1]}
            yield Message("diagnosis.series.blade", values | cleaves)
        tray = case.plan.tray
        if tray is not None and series.attempts > 1:
            spare = tray.spare_attempts - (series.attempts - 1)
            if spare <= 1:
                yield Message("diagnosis.series.glass", values | {"spare": spare})
