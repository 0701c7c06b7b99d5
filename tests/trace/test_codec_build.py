"""New records are well formed, or the wrong argument is named."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.trace.codec import Settings, decode, encode, new_record

GOOD: dict[str, Any] = {
    "samples_db": [-1.0, -2.0],
    "spacing_m": 1.0,
    "wavelength_nm": 1550.0,
    "pulse_ns": 10.0,
    "group_index": 1.468,
}


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"samples_db": [-1.0]}, "samples_db must hold two samples"),
        ({"samples_db": np.zeros((2, 2, 2))}, "samples_db must hold two samples"),
        ({"samples_db": [-1.0, np.nan]}, "samples_db must be finite"),
        ({"samples_db": [-1.0, 3.0]}, "samples_db must be finite and at most 0"),
        ({"pulse_ns": 0.2}, "pulse_ns must be at least 1"),
        ({"pulse_ns": [10, 20]}, "pulse_ns must be at least 1 for each of 1"),
        ({"group_index": 0.5}, "group_index must be between 1 and 2"),
        ({"wavelength_nm": 131.0}, "wavelength_nm must be between 600 and 1800"),
        ({"spacing_m": 0.0}, "spacing_m must be above zero"),
        ({"settings": Settings(version=3)}, "version must be 1 or 2"),
        ({"settings": Settings(texts={"colour": "blue"})}, "texts must name"),
        ({"settings": Settings(distance_unit="miles")}, "distance_unit must hold 2"),
    ],
)
def test_a_wrong_argument_is_named(wrong: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        new_record(**{**GOOD, **wrong})


@pytest.mark.parametrize("version", [1, 2])
def test_an_empty_text_is_a_blank_in_version_two_only(version: int) -> None:
    record = new_record(**GOOD, settings=Settings(version=version))
    assert record.general is not None
    assert record.general.comment == (b" " if version == 2 else b"")


def test_without_events_there_is_no_event_table() -> None:
    assert new_record(**GOOD).key_events is None
    table = new_record(**GOOD, events=[]).key_events
    assert table is not None
    assert table.events == ()


@settings(max_examples=50, deadline=None)
@given(
    levels=st.lists(st.floats(-65.0, 0.0), min_size=2, max_size=20),
    spacing_m=st.floats(0.01, 80.0),
    wavelength_nm=st.floats(850.0, 1700.0),
    pulse_ns=st.integers(1, 20_000),
    group_index=st.floats(1.40, 1.55),
    version=st.sampled_from([1, 2]),
)
def test_a_new_record_is_well_formed_and_rounds_by_one_step_at_most(
    levels: list[float],
    spacing_m: float,
    wavelength_nm: float,
    pulse_ns: int,
    group_index: float,
    version: int,
) -> None:
    record = new_record(
        levels,
        spacing_m=spacing_m,
        wavelength_nm=wavelength_nm,
        pulse_ns=pulse_ns,
        group_index=group_index,
        settings=Settings(version=version, range_m=0.0),
    )
    again = decode(encode(record), strict=True)
    assert again == record
    np.testing.assert_allclose(again.samples_db, levels, atol=0.000501)
    assert again.sample_spacing_m == pytest.approx(spacing_m, rel=2e-5, abs=2e-6)
    assert again.wavelength_nm == pytest.approx(wavelength_nm, abs=0.051)
    assert again.pulse_ns == (float(pulse_ns),)
