"""What a limited-source table prints."""

import math

import pytest

from eavelight.power.limits import (
    SourceRow,
    limit_notes,
    source_current_a,
    source_power_va,
)

ROWS = [
    SourceRow(up_to_v=20.0, amps=5.0),
    SourceRow(up_to_v=60.0, volt_amperes=100.0),
    SourceRow(up_to_v=150.0, amps=0.005),
]


def test_twelve_volts_are_limited_by_current_and_not_to_100_va() -> None:
    assert source_current_a(12.0, ROWS) == 5.0
    assert source_power_va(12.0, ROWS) == 60.0


def test_fifty_volts_are_limited_by_volt_amperes() -> None:
    assert source_current_a(50.0, ROWS) == 2.0


def test_above_the_last_row_nothing_is_stated() -> None:
    assert math.isnan(source_power_va(200.0, ROWS))


@pytest.mark.parametrize(
    ("given", "note"),
    [
        ({"supply_v": 48.0, "peak_w": 9.0}, "above wet contact"),
        ({"supply_v": 200.0, "peak_w": 0.1}, "outside table"),
        ({"supply_v": 12.0, "peak_w": 70.0}, "above table"),
        ({"supply_v": 12.0, "peak_w": 33.0, "supply_limit_w": 32.0}, "above supply"),
        ({"supply_v": 12.0, "peak_w": 33.0, "fuse_a": 2.0}, "above fuse"),
        ({"supply_v": 12.0, "peak_w": math.nan}, "collapses"),
    ],
)
def test_each_note_is_given_when_it_holds(given, note) -> None:
    assert note in limit_notes(**given, rows=ROWS, wet_contact_v=30.0)


def test_a_small_dry_feed_has_no_notes() -> None:
    assert limit_notes(13.6, 9.0, rows=ROWS, wet_contact_v=30.0) == ()
    assert limit_notes(48.0, 9.0, rows=ROWS, wet_contact_v=30.0, outdoors=False) == ()


def test_a_reversed_source_has_no_row() -> None:
    with pytest.raises(ValueError, match="supply_v"):
        source_current_a(-12.0, ROWS)
