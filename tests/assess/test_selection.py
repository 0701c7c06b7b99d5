"""Which reading counts: later, and in the same or a later stage of the work."""

from datetime import UTC, datetime, timedelta

from eavelight.assess.selection import select
from eavelight.model.observation import Reading

START = datetime(2026, 4, 1, 9, tzinfo=UTC)


def loss(number: int, value: float, *state: str, nm: int = 1550) -> Reading:
    return Reading(
        id=f"r{number}",
        what="loss",
        at="drop",
        value=value,
        unit="dB",
        wavelength_nm=nm,
        state=state,  # type: ignore[arg-type]
        time=START + timedelta(minutes=number),
    )


def test_later_reading_counts():
    chosen = select([loss(1, 2.0), loss(2, 0.5)]).of("loss")
    assert [item.reading.number for item in chosen] == [0.5]


def test_order_of_the_list_does_not_matter():
    readings = [loss(3, 0.7, "lid closed"), loss(1, 2.0), loss(2, 0.5, "lid open")]
    forward, backward = select(readings), select(list(reversed(readings)))
    assert forward.current == backward.current


def test_lid_open_does_not_supersede_lid_closed():
    chosen = select([loss(1, 2.0, "lid closed"), loss(2, 0.5, "lid open")])
    assert [item.reading.number for item in chosen.of("loss")] == [2.0]


def test_unstated_lid_inherits_the_last_one_stated():
    chosen = select([loss(1, 2.0, "lid closed"), loss(2, 0.5)])
    assert [item.reading.number for item in chosen.of("loss")] == [0.5]
    assert chosen.of("loss")[0].lid_closed


def test_reopening_makes_a_closed_reading_stale():
    note = Reading(
        id="n", what="note", at="box", value="open", state=("reopened",),
        time=START + timedelta(minutes=5),
    )  # fmt: skip
    chosen = select([loss(1, 0.5, "lid closed"), note])
    assert chosen.of("loss")[0].stale
    again = select([loss(1, 0.5, "lid closed"), note, loss(9, 0.6, "lid closed")])
    assert [i.stale for i in again.of("loss")] == [False]


def test_two_wavelengths_are_two_things():
    chosen = select([loss(1, 2.0), loss(2, 0.5, nm=1310)])
    assert len(chosen.of("loss")) == 2


def test_mains_and_battery_are_two_things():
    def volts(number: int, *state: str) -> Reading:
        return Reading(
            id=f"v{number}", what="volts", at="terminal", value=12.0, unit="V",
            state=state, time=START + timedelta(minutes=number),
        )  # fmt: skip

    chosen = select([volts(1, "loaded"), volts(2, "loaded", "on battery")])
    assert len(chosen.of("volts")) == 2


def test_superseded_readings_are_kept():
    chosen = select([loss(1, 2.0), loss(2, 0.5)])
    assert len(chosen.all_of("loss")) == 2
