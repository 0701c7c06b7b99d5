"""What a record says in usual units."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from eavelight.trace.codec import (
    Settings,
    StoredEvent,
    TraceRecord,
    decode,
    encode,
    new_record,
)
from eavelight.trace.codec.blocks import FixedParameters, KeyEvents

EVENT = StoredEvent(
    position_m=1000.0,
    loss_db=0.803,
    reflectance_db=-50.734,
    lead_in_db_per_km=0.19,
    code="1F9999",
    method="2P",
    windows_m=(100.0, 900.0, 1100.0, 1900.0),
    peak_m=1003.0,
    comment="joint",
)


def made(version: int = 2, **more: object) -> TraceRecord:
    return new_record(
        [-3.0, -3.25, -70.0],
        spacing_m=2.0,
        wavelength_nm=1549.7,
        pulse_ns=100,
        group_index=1.4685,
        events=[EVENT],
        settings=Settings(version=version, **more),
    )


def test_levels_fall_with_loss_and_stop_at_the_bottom_of_the_axis() -> None:
    np.testing.assert_allclose(made().samples_db, [-3.0, -3.25, -65.535], atol=1e-12)


def test_plain_numbers_come_back_in_the_steps_of_the_layout() -> None:
    record = made(backscatter_db=-81.9, averages=4000, averaging_time_s=15)
    assert record.wavelength_nm == pytest.approx(1549.7)
    assert record.pulse_ns == (100.0,)
    assert record.group_index == pytest.approx(1.4685)
    # One step of the spacing is 1e-14 s of one-way time, 2 µm of fibre.
    assert record.sample_spacing_m == pytest.approx(2.0, abs=2e-6)
    assert record.backscatter_db == -81.9
    assert record.averages == 4000
    assert record.averaging_time_s == 15.0
    assert record.points == 3


def test_a_spacing_is_one_way_time_per_ten_thousand_points() -> None:
    record = made()
    blocks = tuple(
        replace(block, body=replace(block.body, data_spacings=(1_388_888,),
                                    group_index=146_810))
        if isinstance(block.body, FixedParameters) else block
        for block in record.blocks
    )  # fmt: skip
    again = decode(encode(replace(record, blocks=blocks)))
    assert again.sample_spacing_m == pytest.approx(2.8362, abs=5e-5)


def test_what_was_left_out_is_none() -> None:
    record = made()
    assert record.averages is None
    assert record.averaging_time_s is None
    assert record.acquired is None


def test_thresholds_come_back_with_their_sign() -> None:
    record = made(
        loss_threshold_db=0.02, reflectance_threshold_db=-40.0, end_threshold_db=5.0
    )
    assert record.loss_threshold_db == 0.02
    assert record.reflectance_threshold_db == -40.0
    assert record.end_threshold_db == 5.0


def test_the_time_stamp_is_read_as_utc() -> None:
    moment = datetime(2026, 3, 9, 16, 15, tzinfo=UTC)
    assert made(acquired=moment).acquired == moment


def test_the_first_sample_lies_at_the_acquisition_offset() -> None:
    record = made(first_sample_m=-4.0, user_offset_m=150.0)
    # One tick of 100 ps one-way is 20.4 mm.
    assert record.first_sample_m == pytest.approx(-4.0, abs=0.011)
    assert record.user_offset_m == pytest.approx(150.0, abs=0.011)
    np.testing.assert_allclose(
        record.curves[0].positions_m, [-4.0, -2.0, 0.0], atol=0.011
    )


def test_the_range_may_exceed_the_samples() -> None:
    assert made(range_m=10.0).range_m == pytest.approx(10.0, abs=0.011)
    assert made().range_m == pytest.approx(6.0, abs=0.011)


@pytest.mark.parametrize("version", [1, 2])
def test_a_stored_event_comes_back_in_metres_and_decibels(version: int) -> None:
    event = made(version).stored_events[0]
    assert event.position_m == pytest.approx(1000.0, abs=0.011)
    assert event.loss_db == 0.803
    assert event.reflectance_db == -50.734
    assert event.lead_in_db_per_km == 0.19
    assert (event.code, event.method, event.comment) == ("1F9999", "2P", "joint")


def test_windows_of_an_event_exist_from_version_two_on() -> None:
    assert made(1).stored_events[0].windows_m is None
    assert made(1).stored_events[0].peak_m is None
    event = made(2).stored_events[0]
    assert event.windows_m == pytest.approx((100.0, 900.0, 1100.0, 1900.0), abs=0.011)
    assert event.peak_m == pytest.approx(1003.0, abs=0.011)


@pytest.mark.parametrize("stored", [0, -32768])
def test_a_coefficient_that_means_none_is_none(stored: int) -> None:
    record = made()
    assert record.key_events is not None
    table = replace(
        record.key_events,
        events=(replace(record.key_events.events[0], lead_in=stored, reflectance=0),),
    )
    blocks = tuple(
        replace(block, body=table) if isinstance(block.body, KeyEvents) else block
        for block in record.blocks
    )
    event = replace(record, blocks=blocks).stored_events[0]
    assert event.lead_in_db_per_km is None
    assert event.reflectance_db is None


@pytest.mark.parametrize(
    ("code", "reflective", "saturated", "is_end", "by_user"),
    [
        ("0F9999", False, False, False, False),
        ("1F9999", True, False, False, False),
        ("2F9999", True, True, False, False),
        ("1E9999", True, False, True, False),
        ("1D9999", True, False, True, False),
        ("0A9999", False, False, False, True),
    ],
)
def test_event_codes_are_understood(
    code: str, reflective: bool, saturated: bool, is_end: bool, by_user: bool
) -> None:
    event = StoredEvent(position_m=1.0, code=code)
    assert event.reflective is reflective
    assert event.saturated is saturated
    assert event.is_end is is_end
    assert event.added_by_user is by_user


def test_totals_are_told_as_stored() -> None:
    record = made(total_loss_db=3.941, return_loss_db=32.091)
    assert record.stored_loss_db == 3.941
    assert record.stored_return_loss_db == 32.091


def test_each_pulse_width_has_its_own_curve() -> None:
    record = new_record(
        [[-1.0, -2.0], [-3.0, -4.0]],
        spacing_m=1.0,
        wavelength_nm=1310,
        pulse_ns=(5, 30),
        group_index=1.4677,
    )
    assert [curve.pulse_ns for curve in record.curves] == [5.0, 30.0]
    np.testing.assert_allclose(record.curves[1].samples_db, [-3.0, -4.0])
    np.testing.assert_allclose(record.samples_db, [-1.0, -2.0])


def test_texts_that_hold_something_are_listed() -> None:
    record = made(texts={"fibre_id": "2/5", "module": "any"})
    assert record.texts == {
        "language": "EN",
        "data_flag": "BC",
        "fibre_id": "2/5",
        "module": "any",
    }
