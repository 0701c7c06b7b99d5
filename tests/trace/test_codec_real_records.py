"""Records of real instruments, where a folder of them lies beside the project.

They carry no licence, so they are never part of it; without them these tests skip.
"""

import os
from pathlib import Path

import pytest

from eavelight.trace.codec import TraceRecord, decode, encode

BESIDE = Path(__file__).parents[3] / "shared" / "traces"
FOLDER = Path(os.environ.get("EAVELIGHT_TRACES", str(BESIDE)))
FILES = sorted(FOLDER.glob("*.sor")) if FOLDER.is_dir() else []
REPEATED = "2022_06_01_1310_100ns_10sec_no_1.sor"


def read(name: str) -> TraceRecord:
    path = FOLDER / name
    if not path.is_file():
        pytest.skip(f"no record {name} beside the project")
    return decode(path.read_bytes(), name=name)


@pytest.mark.skipif(not FILES, reason="no real records beside the project")
def test_every_record_is_written_back_byte_for_byte_with_nothing_left_over() -> None:
    for path in FILES:
        data = path.read_bytes()
        record = decode(data, name=path.name)
        assert encode(record) == data
        assert {note.kind for note in record.notes} <= {"checksum.wrong"}


@pytest.mark.skipif(not FILES, reason="no real records beside the project")
def test_a_record_whose_checksum_is_right_passes_the_strict_reading() -> None:
    for path in FILES:
        data = path.read_bytes()
        checksum = decode(data).checksum
        assert checksum is not None
        if checksum.right:
            decode(data, strict=True)


@pytest.mark.parametrize(
    ("name", "right"),
    [
        ("1310_20ns.sor", True),
        ("1310_1000ns.sor", True),
        ("1550_20ns.sor", True),
        ("1550_1000ns.sor", True),
        (REPEATED, False),
        (REPEATED.replace("no_1", "no_2"), False),
        ("PON_1.sor", True),
        ("St3.sor", True),
    ],
)
def test_the_checksum_is_right_in_six_of_eight(name: str, right: bool) -> None:
    checksum = read(name).checksum
    assert checksum is not None
    assert checksum.right is right


@pytest.mark.parametrize(
    ("name", "version", "points", "spacing_m", "index", "events"),
    [
        ("1310_20ns.sor", 1, 4096, 2.8362, 1.4681, 0),
        (REPEATED, 2, 15_669, 1.2766, 1.4677, 7),
        ("PON_1.sor", 2, 4084, 2.5501, 1.4695, 12),
        ("St3.sor", 2, 4092, 40.8214, 1.4688, 4),
    ],
)
def test_settings_are_those_that_were_measured_by_hand(
    name: str, version: int, points: int, spacing_m: float, index: float, events: int
) -> None:
    record = read(name)
    assert record.version == version
    assert record.points == points
    # The hand values are rounded to 0.1 mm.
    assert record.sample_spacing_m == pytest.approx(spacing_m, abs=5.1e-5)
    assert record.group_index == pytest.approx(index)
    assert len(record.stored_events) == events


@pytest.mark.parametrize(
    ("name", "at", "position_m", "loss_db", "reflectance_db"),
    [
        (REPEATED, 1, 12_004.1, 0.0, None),
        ("PON_1.sor", 1, None, 0.803, -50.734),
        ("St3.sor", 1, 25_186.8, 0.552, -45.326),
        ("St3.sor", 2, 50_536.9, 0.967, None),
        ("St3.sor", 3, 101_073.8, None, None),
    ],
)
def test_stored_events_are_those_that_were_read_by_hand(
    name: str,
    at: int,
    position_m: float | None,
    loss_db: float | None,
    reflectance_db: float | None,
) -> None:
    event = read(name).stored_events[at]
    if position_m is not None:
        assert event.position_m == pytest.approx(position_m, abs=0.051)
    if loss_db is not None:
        assert event.loss_db == loss_db
    if reflectance_db is not None:
        assert event.reflectance_db == reflectance_db


def test_a_foreign_block_may_stand_before_the_samples() -> None:
    names = [len(block.name) for block in read("St3.sor").blocks]
    assert len(names) == 7
    foreign = read("St3.sor").blocks[4]
    assert foreign.revision == 100
    assert len(foreign.body.raw) == 28
