"""Real records, where a folder of them lies beside the project; never part of it."""

import os
from pathlib import Path

import pytest

from eavelight.trace.analyse import analyse
from eavelight.trace.bounds import window_loss_db
from eavelight.trace.codec import TraceRecord, decode
from eavelight.trace.results import TraceAnalysis

BESIDE = Path(__file__).parents[3] / "shared" / "traces"
FOLDER = Path(os.environ.get("EAVELIGHT_TRACES", str(BESIDE)))


def record(name: str) -> TraceRecord:
    path = FOLDER / name
    if not path.is_file():
        pytest.skip(f"no record {name} beside the project")
    return decode(path.read_bytes(), name=name)


def read(name: str) -> TraceAnalysis:
    taken = record(name)
    return analyse(
        -taken.samples_db,
        sample_spacing_m=taken.sample_spacing_m,
        pulse_ns=taken.pulse_ns[0],
        wavelength_nm=taken.wavelength_nm,
        group_index=taken.group_index,
        backscatter_db=taken.backscatter_db,
    )


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("1310_20ns.sor", 0.75), ("1310_1000ns.sor", 0.75),
        ("1550_20ns.sor", 0.60), ("1550_1000ns.sor", 0.60),
    ],
)  # fmt: skip
def test_the_joint_near_three_kilometres_comes_out(name: str, wanted: float) -> None:
    near = [
        event for event in read(name).events if abs(event.position_m - 3010.0) < 30.0
    ]
    assert len(near) == 1
    assert near[0].loss_db == pytest.approx(wanted, abs=0.02)


@pytest.mark.parametrize("name", ["PON_1.sor", "St3.sor"])
def test_every_stored_event_of_a_tenth_of_a_decibel_is_found(name: str) -> None:
    found = read(name)
    reach = 1.5 * found.found.trace.footprint * found.sample_spacing_m + 12.0
    for stored in record(name).stored_events:
        if abs(stored.loss_db or 0.0) < 0.1:
            continue
        gaps = [abs(event.position_m - stored.position_m) for event in found.events]
        assert min(gaps) < reach, stored


def test_the_branches_of_a_network_end_one_after_the_other() -> None:
    found = read("2022_06_01_1310_100ns_10sec_no_1.sor")
    assert found.length_m == pytest.approx(18_018.0, abs=12.0)
    splitter = [event for event in found.events if event.kind == "splitter"]
    assert len(splitter) == 1
    assert splitter[0].position_m == pytest.approx(12_006.0, abs=12.0)
    assert splitter[0].loss_db == pytest.approx(5.72, abs=0.02)


def test_the_return_loss_of_a_real_network_is_recomputed() -> None:
    assert read("2022_06_01_1310_100ns_10sec_no_1.sor").orl_db == pytest.approx(
        32.06, abs=0.05
    )


def test_stored_losses_come_out_of_the_stored_windows() -> None:
    taken = record("St3.sor")
    spacing = taken.sample_spacing_m
    assert window_loss_db(
        -taken.samples_db,
        (round(816 / spacing), round(25_146 / spacing)),
        (round(26_779 / spacing), round(50_496 / spacing)),
        25_186.8 / spacing,
    ) == pytest.approx(0.552, abs=0.02)
