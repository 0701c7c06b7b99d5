"""The layout itself: what is written is read back, and lies are told apart."""

import struct
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.errors import EvidenceError
from eavelight.trace.codec import (
    Settings,
    StoredEvent,
    TraceRecord,
    decode,
    encode,
    new_record,
)
from eavelight.trace.codec.blocks import (
    Block,
    Checksum,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvents,
    Landmark,
    LinkParameters,
    Opaque,
    SampleSet,
)

LEVELS = np.linspace(-10.0, -30.0, 50)
EVENTS = [
    StoredEvent(position_m=0.0, code="2F9999"),
    StoredEvent(position_m=12.0, loss_db=-0.2, comment="gain"),
]


def made(version: int = 2, **more: object) -> TraceRecord:
    return new_record(
        LEVELS,
        spacing_m=0.5,
        wavelength_nm=1550,
        pulse_ns=10,
        group_index=1.4682,
        events=EVENTS,
        settings=Settings(version=version, **more),
    )


def changed(record: TraceRecord, kind: type, **values: object) -> bytes:
    blocks = tuple(
        replace(block, body=replace(block.body, **values))
        if isinstance(block.body, kind)
        else block
        for block in record.blocks
    )
    return encode(replace(record, blocks=blocks))


def kinds(record: TraceRecord) -> set[str]:
    return {note.kind for note in record.notes}


@pytest.mark.parametrize("version", [1, 2])
def test_a_record_is_written_back_byte_for_byte(version: int) -> None:
    data = encode(made(version))
    assert encode(decode(data)) == data


@pytest.mark.parametrize("version", [1, 2])
def test_a_well_formed_record_passes_the_strict_reading(version: int) -> None:
    record = decode(encode(made(version)), strict=True)
    assert record.version == version
    assert record.notes == ()


def test_block_sizes_are_those_of_the_layout() -> None:
    empty = new_record(
        LEVELS, spacing_m=1, wavelength_nm=1310, pulse_ns=5, group_index=1.468,
        events=[], settings=Settings(version=2),
    )  # fmt: skip
    data = encode(empty)
    sizes = {}
    place = 12
    for _ in empty.blocks:
        stop = data.index(b"\0", place)
        sizes[data[place:stop]] = struct.unpack_from("<i", data, stop + 3)[0]
        place = stop + 7
    assert sizes == {
        b"GenParams": 40,
        b"SupParams": 10 + 14,
        b"FxdParams": 92,
        b"KeyEvents": 10 + 2 + 22,
        b"DataPts": 8 + 12 + 2 * LEVELS.size,
        b"Cksum": 8,
    }


def test_the_first_version_has_shorter_blocks_without_names() -> None:
    data = encode(
        new_record(
            LEVELS, spacing_m=1, wavelength_nm=1310, pulse_ns=5, group_index=1.468,
            settings=Settings(version=1),
        )
    )  # fmt: skip
    assert data[:2] == b"\x64\x00"
    assert b"FxdParams\0" in data[:82]
    assert b"FxdParams\0" not in data[82:]
    assert len(data) == 82 + 17 + 7 + 54 + 12 + 2 * LEVELS.size + 2


def test_fields_that_the_first_version_lacks_are_none() -> None:
    record = made(1)
    assert record.general is not None
    assert record.general.fibre_type is None
    assert record.fixed.trace_type is None
    assert record.fixed.averaging_time is None
    assert record.key_events is not None
    assert record.key_events.events[0].markers is None


def test_each_block_is_read_by_its_own_revision() -> None:
    old, new = made(1), made(2)
    blocks = tuple(
        old.blocks[3] if block.name == b"KeyEvents" else block for block in new.blocks
    )
    data = encode(replace(new, blocks=blocks))
    record = decode(data, strict=True)
    assert record.key_events == old.key_events
    assert encode(record) == data


def test_blocks_in_any_order_are_read_and_kept_in_it() -> None:
    record = made()
    order = (*reversed(record.blocks[:-1]), record.blocks[-1])
    data = encode(replace(record, blocks=order))
    again = decode(data, strict=True)
    assert again.stored_events == record.stored_events
    assert [block.name for block in again.blocks] == [block.name for block in order]


def test_a_foreign_block_is_kept_byte_for_byte_wherever_it_stands() -> None:
    raw = bytes(range(256))
    record = made(proprietary={"OwnThing": raw})
    at = [block.name for block in record.blocks].index(b"OwnThing")
    assert record.blocks[at].body == Opaque(raw=raw)
    assert at < len(record.blocks) - 2
    assert decode(encode(record), strict=True).blocks[at].body == Opaque(raw=raw)


def test_bytes_of_texts_are_kept_whatever_they_mean() -> None:
    raw = bytes(range(1, 256))
    data = changed(made(), GeneralParameters, comment=raw, cable_id=b"")
    record = decode(data, strict=True)
    assert record.general is not None
    assert record.general.comment == raw
    assert encode(record) == data


def test_landmarks_are_read_when_their_layout_fits() -> None:
    mark = Landmark(
        number=1, code=b"WM", location=100, related_event=1, longitude=-5, latitude=6,
        fibre_correction=10, sheath_entering=1, sheath_leaving=2, units=b"mt",
        mode_field_diameter=920, comment=b"pole",
    )  # fmt: skip
    record = made()
    block = Block(
        name=b"LnkParams", revision=200, headed=True,
        body=LinkParameters(landmarks=(mark,)),
    )  # fmt: skip
    data = encode(replace(record, blocks=(block, *record.blocks)))
    again = decode(data, strict=True)
    assert again.link == LinkParameters(landmarks=(mark,))
    assert encode(again) == data


def test_landmarks_of_another_layout_are_kept_as_bytes() -> None:
    record = made()
    block = Block(
        name=b"LnkParams", revision=200, headed=False,
        body=Opaque(raw=b"LnkParams\0\x03\x00what is this"),
    )  # fmt: skip
    data = encode(replace(record, blocks=(block, *record.blocks)))
    again = decode(data)
    assert again.link is None
    assert "block.damaged" in kinds(again)
    assert encode(again) == data


def test_a_wrong_checksum_is_noted_and_written_back() -> None:
    data = bytearray(encode(made()))
    data[-1] ^= 0x55
    record = decode(bytes(data))
    assert kinds(record) == {"checksum.wrong"}
    assert record.checksum is not None
    assert not record.checksum.right
    assert encode(record) == data


def test_a_right_checksum_is_computed_anew_after_a_change() -> None:
    record = made()
    data = changed(record, GeneralParameters, comment=b"another")
    checksum = decode(data, strict=True).checksum
    assert checksum is not None
    assert checksum.right
    assert checksum != record.checksum


def test_strict_reading_refuses_what_a_tolerant_one_notes() -> None:
    data = encode(made()) + b"more"
    assert kinds(decode(data)) == {"file.longer"}
    with pytest.raises(EvidenceError, match=r"byte \d+: expected the end of the file"):
        decode(data, strict=True)


def test_a_damaged_event_table_does_not_cost_the_trace() -> None:
    record = made()
    start = encode(record).index(b"KeyEvents\0", 100)
    data = bytearray(encode(record))
    struct.pack_into("<h", data, start + 10, 300)
    again = decode(bytes(data))
    assert again.key_events is None
    assert again.stored_events == ()
    assert "block.damaged" in kinds(again)
    np.testing.assert_array_equal(again.samples_db, record.samples_db)
    assert encode(again) == data


@pytest.mark.parametrize("name", [b"GenParams", b"SupParams", b"Cksum"])
def test_a_missing_side_block_is_noted(name: bytes) -> None:
    record = made()
    blocks = tuple(block for block in record.blocks if block.name != name)
    data = encode(replace(record, blocks=blocks))
    assert kinds(decode(data)) == {"block.missing"}
    assert encode(decode(data)) == data


@pytest.mark.parametrize("name", [b"FxdParams", b"DataPts"])
def test_without_settings_or_samples_there_is_no_trace(name: bytes) -> None:
    record = made()
    blocks = tuple(block for block in record.blocks if block.name != name)
    with pytest.raises(EvidenceError, match="expected a block " + name.decode()):
        decode(encode(replace(record, blocks=blocks)))


def test_a_repeated_block_is_kept_and_the_first_one_counts() -> None:
    record = made()
    blocks = (*record.blocks[:-1], record.blocks[0], record.blocks[-1])
    data = encode(replace(record, blocks=blocks))
    again = decode(data)
    assert "block.repeated" in kinds(again)
    assert again.general == record.general
    assert encode(again) == data


def test_bytes_after_the_fields_of_a_block_are_kept_and_noted() -> None:
    data = changed(made(), FixedParameters, rest=b"beyond")
    assert kinds(decode(data)) == {"block.longer"}
    assert encode(decode(data)) == data


def test_a_block_without_its_name_is_noted() -> None:
    record = made()
    blocks = tuple(
        replace(block, headed=False) if block.name == b"SupParams" else block
        for block in record.blocks
    )
    data = encode(replace(record, blocks=blocks))
    assert kinds(decode(data)) == {"block.header"}
    assert encode(decode(data)) == data


def test_bytes_after_the_last_entry_of_the_map_are_kept() -> None:
    data = encode(replace(made(), map_rest=b"xyz"))
    assert kinds(decode(data)) == {"map.longer"}
    assert encode(decode(data)) == data


def test_a_map_revision_of_the_other_version_is_noted() -> None:
    data = encode(replace(made(), map_revision=100))
    assert kinds(decode(data)) == {"map.revision"}


def test_a_checksum_before_other_blocks_covers_what_comes_before_it() -> None:
    record = made()
    blocks = (*record.blocks[:3], record.blocks[-1], *record.blocks[3:-1])
    again = decode(encode(replace(record, blocks=blocks)))
    assert kinds(again) == {"checksum.place"}
    assert again.checksum is not None
    assert again.checksum.right


def test_a_checksum_block_of_another_size_is_kept_as_bytes() -> None:
    record = made()
    block = replace(record.blocks[-1], headed=True, body=Opaque(raw=b"\1\2\3\4"))
    data = encode(replace(record, blocks=(*record.blocks[:-1], block)))
    assert decode(data).checksum is None
    assert encode(decode(data)) == data


@pytest.mark.parametrize(
    ("kind", "values", "expected"),
    [
        (FixedParameters, {"group_index": 0}, "a group index"),
        (FixedParameters, {"group_index": 2**31 - 1}, "a group index"),
        (FixedParameters, {"data_spacings": (0,)}, "a sample spacing above zero"),
        (FixedParameters, {"data_spacings": (-5,)}, "a sample spacing above zero"),
        (FixedParameters, {"pulse_widths": (0,)}, "a pulse width above zero"),
        (
            FixedParameters,
            {"pulse_widths": (), "data_spacings": (), "points": ()},
            "1 to 256 pulse widths",
        ),
        (DataPoints, {"sets": ()}, "1 to 1024 scale factors"),
        (DataPoints, {"sets": (SampleSet(scale=0, raw=b"abcd"),)}, "a scale factor"),
        (DataPoints, {"sets": (SampleSet(scale=1000, raw=b""),)}, "two samples"),
    ],
)
def test_a_value_from_which_no_trace_can_come_is_refused(
    kind: type, values: dict[str, object], expected: str
) -> None:
    with pytest.raises(EvidenceError, match=f"byte [0-9]+: expected .*{expected}"):
        decode(changed(made(), kind, **values))


def test_no_plausible_wavelength_is_refused() -> None:
    data = changed(made(), FixedParameters, wavelength=0)
    record = decode(data)
    assert record.wavelength_nm == 1550
    assert kinds(record) == {"wavelength.actual"}
    with pytest.raises(EvidenceError, match="a wavelength between"):
        decode(changed(record, GeneralParameters, nominal_wavelength=0))


@pytest.mark.parametrize(
    ("kind", "values", "note"),
    [
        (GeneralParameters, {"nominal_wavelength": 1310}, "wavelength.nominal"),
        (FixedParameters, {"group_index": 120_000}, "index.unusual"),
        (FixedParameters, {"pulse_widths": (-25536,)}, "pulse.sign"),
        (FixedParameters, {"points": (49,)}, "points.settings"),
        (FixedParameters, {"acquisition_range": 9_000_000}, "range.unlike"),
        (DataPoints, {"total": 7}, "points.total"),
    ],
)
def test_statements_that_disagree_are_noted(
    kind: type, values: dict[str, object], note: str
) -> None:
    data = changed(made(), kind, **values)
    record = decode(data)
    assert kinds(record) == {note}
    assert encode(record) == data
    assert record.samples_db.size == LEVELS.size


@pytest.mark.parametrize(
    ("field", "values", "note"),
    [
        ("number", (3, 2), "events.numbers"),
        ("time", (800, 100), "events.order"),
        ("time", (0, 10**9), "events.beyond"),
    ],
)
def test_an_odd_event_table_is_noted(
    field: str, values: tuple[int, int], note: str
) -> None:
    record = made()
    assert record.key_events is not None
    events = tuple(
        replace(event, **{field: value})
        for event, value in zip(record.key_events.events, values, strict=True)
    )
    assert kinds(decode(changed(record, KeyEvents, events=events))) == {note}


def test_a_negative_pulse_width_is_read_as_unsigned() -> None:
    record = decode(changed(made(), FixedParameters, pulse_widths=(-25536,)))
    assert record.pulse_ns == (40_000.0,)


def test_several_curves_without_stated_points_come_apart_by_scale_factor() -> None:
    record = new_record(
        np.vstack([LEVELS, LEVELS - 1]), spacing_m=0.5, wavelength_nm=1550,
        pulse_ns=(10, 30), group_index=1.4682,
    )  # fmt: skip
    again = decode(changed(record, FixedParameters, points=(0, 0)))
    assert kinds(again) == {"points.settings"}
    assert [curve.samples_db.size for curve in again.curves] == [50, 50]
    short = changed(record, FixedParameters, points=(0, 0, 0), pulse_widths=(1, 2, 3),
                    data_spacings=(9, 9, 9))  # fmt: skip
    with pytest.raises(EvidenceError, match="points that add up to 100"):
        decode(short)


def test_one_curve_may_have_several_scale_factors() -> None:
    low, high = b"\x10\x27" * 25, b"\x10\x27" * 25
    sets = (SampleSet(scale=1000, raw=low), SampleSet(scale=500, raw=high))
    record = decode(changed(made(), DataPoints, sets=sets), strict=True)
    assert record.samples_db[0] == -10.0
    assert record.samples_db[-1] == -5.0


def test_one_curve_is_all_samples_whatever_the_settings_state() -> None:
    sets = (SampleSet(scale=1000, raw=b"\x10\x27" * 20),) * 2
    record = decode(changed(made(), DataPoints, sets=sets))
    assert record.samples_db.size == 40
    assert kinds(record) == {"points.total", "points.settings"}


def test_a_field_that_has_no_value_is_written_as_zero() -> None:
    data = changed(made(), GeneralParameters, fibre_type=None)
    general = decode(data, strict=True).general
    assert general is not None
    assert general.fibre_type == 0


def test_a_count_that_lies_costs_neither_time_nor_memory() -> None:
    record = made()
    start = encode(record).index(b"DataPts\0", 100)
    data = bytearray(encode(record))
    struct.pack_into("<i", data, start + 14, 2**31 - 1)
    with pytest.raises(EvidenceError, match="expected at most 50 points"):
        decode(bytes(data))


def test_a_file_larger_than_any_record_is_refused() -> None:
    with pytest.raises(EvidenceError, match="the end of a record"):
        decode(encode(made()) + bytes(9 * 2**20))


@pytest.mark.parametrize("version", [1, 2])
def test_every_truncation_gives_one_clear_error(version: int) -> None:
    data = encode(made(version))
    for size in range(len(data)):
        with pytest.raises(EvidenceError) as caught:
            decode(data[:size], name="short")
        assert caught.value.place.startswith("byte ")
        assert caught.value.path == "short"


def test_every_single_bit_flip_gives_a_noted_reading_or_one_error() -> None:
    data = encode(made())
    for bit in range(8 * len(data)):
        mutant = bytearray(data)
        mutant[bit // 8] ^= 1 << bit % 8
        try:
            record = decode(bytes(mutant))
        except EvidenceError:
            continue
        assert record.notes
        assert encode(record) == mutant


def test_the_number_of_notes_is_bounded() -> None:
    record = made()
    data = encode(replace(record, blocks=record.blocks + record.blocks[:1] * 500))
    assert len(decode(data).notes) == 64


def test_a_note_reads_like_an_error() -> None:
    data = encode(made()) + b"!!"
    note = decode(data).notes[0]
    assert str(note) == (
        f"file.longer: byte {len(data) - 2}: expected the end of the file, "
        "found 2 bytes"
    )


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"nominal_wavelength": 70_000}, "nominal_wavelength does not fit"),
        ({"comment": b"a\0b"}, "comment must not hold a zero byte"),
        ({"language": b"ENG"}, "language must hold 2 bytes"),
    ],
)
def test_a_value_that_fits_no_field_is_named(
    values: dict[str, object], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        changed(made(), GeneralParameters, **values)


def test_lists_of_different_length_are_not_written() -> None:
    with pytest.raises(ValueError, match="points must have one entry per pulse"):
        changed(made(), FixedParameters, points=(25, 25))


def test_a_record_without_vital_blocks_says_so() -> None:
    bare = replace(made(), blocks=())
    with pytest.raises(ValueError, match="FxdParams"):
        _ = bare.fixed
    with pytest.raises(ValueError, match="DataPts"):
        _ = bare.data
    assert bare.stored_loss_db is None
    assert bare.stored_return_loss_db is None


def test_without_any_statement_there_is_no_wavelength() -> None:
    record = made()
    blocks = tuple(
        replace(block, body=replace(block.body, wavelength=0))
        if isinstance(block.body, FixedParameters)
        else block
        for block in record.blocks
        if block.name != b"GenParams"
    )
    bare = replace(record, blocks=blocks)
    with pytest.raises(ValueError, match="wavelength"):
        _ = bare.wavelength_nm
    assert bare.user_offset_m == 0.0


raw_texts = st.binary(max_size=12).map(lambda raw: raw.replace(b"\0", b""))
int16 = st.integers(-32768, 32767)
int32 = st.integers(-(2**31), 2**31 - 1)


@settings(max_examples=50, deadline=None)
@given(
    texts=st.lists(raw_texts, min_size=7, max_size=7),
    numbers=st.lists(int32, min_size=4, max_size=4),
    small=st.lists(int16, min_size=2, max_size=2),
    samples=st.binary(min_size=4, max_size=64).map(
        lambda raw: raw[: len(raw) // 2 * 2]
    ),
    extra=st.binary(max_size=30),
)
def test_any_values_survive_writing_and_reading(
    texts: list[bytes],
    numbers: list[int],
    small: list[int],
    samples: bytes,
    extra: bytes,
) -> None:
    names = ("cable_id", "fibre_id", "originating_location", "terminating_location",
             "cable_code", "operator", "comment")  # fmt: skip
    record = made(proprietary={"Own": extra})
    general = replace(
        record.general,
        **dict(zip(names, texts, strict=True)),
        user_offset=numbers[0],
        fibre_type=small[0],
    )
    fixed = replace(
        record.fixed,
        window=tuple(numbers),
        front_panel_offset=numbers[1],
        noise_floor_scale=small[1],
    )
    data = DataPoints(total=numbers[2], sets=(SampleSet(scale=3, raw=samples),))
    bodies = {b"GenParams": general, b"FxdParams": fixed, b"DataPts": data}
    blocks = tuple(
        replace(block, body=bodies.get(block.name, block.body))
        for block in record.blocks
    )
    encoded = encode(replace(record, blocks=blocks))
    again = decode(encoded)
    assert (again.general, again.fixed, again.data) == (general, fixed, data)
    assert isinstance(again.checksum, Checksum)
    assert encode(again) == encoded
