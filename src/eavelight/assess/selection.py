"""Which of several readings of the same thing counts for the verdict.

A later reading in the same or a later stage of the work supersedes an earlier one.
The box has one lid: a reading that does not state the lid inherits what the last
reading before it stated, and a stated reopening begins the stages anew.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from eavelight.model.observation import Reading

LID_STAGE = {"lid open": 1, "tray covered": 2, "lid closed": 3}
CLEANING_STAGE = {
    "before cleaning": 1,
    "after cleaning one side": 2,
    "after cleaning both sides": 3,
}
SHRINK_STAGE = {"before shrink": 1, "after shrink": 2}
CLOSED = LID_STAGE["lid closed"]
# States in which the supply is not on its normal mains feed.
BATTERY_STATES = {"on battery", "mains pulled"}
SEPARATE_STATES = ("battery lead off", "restored", "disconnected")


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A reading with the stage of the work in which it was taken."""

    reading: Reading
    opening: int
    lid: int
    stale: bool = False

    @property
    def lid_closed(self) -> bool:
        """Taken with the lid closed, and the lid not opened since."""
        return self.lid == CLOSED and not self.stale

    @property
    def stages(self) -> tuple[int, ...]:
        """Stage of the work in each respect, 0 where nothing was stated."""
        states = self.reading.state
        return (
            self.reading.attempt or 0,
            _stage(states, SHRINK_STAGE),
            _stage(states, CLEANING_STAGE),
            self.lid,
        )

    def supersedes(self, earlier: "Placed") -> bool:
        """Whether this later reading counts instead of an earlier one.

        A respect that only one of the two states does not stand in the way.
        """
        if self.opening > earlier.opening:
            return True
        pairs = zip(self.stages, earlier.stages, strict=True)
        return all(new >= old for new, old in pairs if new and old)


def _stage(states: Iterable[str], table: dict[str, int]) -> int:
    return max((table[state] for state in states if state in table), default=0)


def placed(readings: Iterable[Reading]) -> tuple[Placed, ...]:
    """All readings in order of time, each with the stage it belongs to."""
    ordered = sorted(enumerate(readings), key=lambda item: (item[1].time, item[0]))
    opening, lid = 0, 0
    found: list[Placed] = []
    for _, reading in ordered:
        if "reopened" in reading.state:
            opening += 1
            lid = LID_STAGE["lid open"]
        stated = _stage(reading.state, LID_STAGE)
        if stated:
            lid = stated
        found.append(Placed(reading=reading, opening=opening, lid=lid))
    return tuple(
        Placed(
            reading=item.reading,
            opening=item.opening,
            lid=item.lid,
            stale=item.lid == CLOSED and item.opening < opening,
        )
        for item in found
    )


def thing(reading: Reading) -> tuple[object, ...]:
    """What a reading is a reading of: two of the same thing may supersede."""
    states = set(reading.state)
    supply: tuple[object, ...] = ()
    if reading.what in {"volts", "status_line", "lamp"}:
        supply = (
            bool(states & BATTERY_STATES),
            *(state in states for state in SEPARATE_STATES),
        )
    if reading.what == "volts":
        supply = (*supply, "loaded" in states, "no load" in states)
    return (
        reading.what,
        reading.at,
        reading.wavelength_nm,
        reading.direction,
        reading.end,
        reading.side,
        reading.line,
        reading.lamp,
        reading.entry,
        reading.kind,
        *supply,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Every reading of a visit, and those that count."""

    everything: tuple[Placed, ...]
    current: tuple[Placed, ...]

    def of(self, what: str, at: str | None = None) -> tuple[Placed, ...]:
        """Readings that count, of one kind and optionally at one place."""
        return tuple(
            item
            for item in self.current
            if item.reading.what == what and at in (None, item.reading.at)
        )

    def all_of(self, what: str, at: str | None = None) -> tuple[Placed, ...]:
        """Every reading of one kind, superseded ones included, in order of time."""
        return tuple(
            item
            for item in self.everything
            if item.reading.what == what and at in (None, item.reading.at)
        )

    def latest(self, what: str, at: str | None = None) -> Placed | None:
        """The last of the readings that count."""
        found = self.of(what, at)
        return found[-1] if found else None


def select(readings: Iterable[Reading]) -> Selection:
    """Decide which readings count.

    Parameters
    ----------
    readings : iterable of Reading
        In any order; equal times keep their given order.
    """
    everything = placed(readings)
    best: dict[tuple[object, ...], Placed] = {}
    for item in everything:
        key = thing(item.reading)
        held = best.get(key)
        if held is None or item.supersedes(held):
            best[key] = item
    chosen = {id(item) for item in best.values()}
    current = tuple(item for item in everything if id(item) in chosen)
    return Selection(everything=everything, current=current)
