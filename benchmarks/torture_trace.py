"""Mutated trace records: a reading that writes back the same bytes, or one clear error.

The corpus is made here from plain numbers. EAVELIGHT_TORTURE_COUNT sets how many.
"""

import os
import resource
import struct
import sys
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np
from numpy.random import Generator

from eavelight.errors import EvidenceError
from eavelight.trace.codec import (
    Settings,
    StoredEvent,
    TraceRecord,
    decode,
    encode,
    new_record,
    samples_digest,
)
from eavelight.trace.codec.blocks import Block, Landmark, LinkParameters

COUNT = 200_000
SEED = 20_250_301
MOST_S = 1.0
MOST_MB = 200.0
NASTY_16 = (0, 1, -1, 2, 127, 255, 256, -32768, 32767, 0x7FF0, 200, 100)
NASTY_32 = (0, 1, -1, 7, 65536, -(2**31), 2**31 - 1, 0x7FF00000, 0x7F800000, 10**9)


def corpus() -> list[bytes]:
    """Records of both versions, with and without every optional part."""
    rng = np.random.default_rng(SEED)
    return [encode(record) for record in _records(rng)]


def _fibre(rng: Generator, points: int, slope_db: float) -> np.ndarray:
    level = -20.0 - slope_db * np.arange(points) + rng.normal(0.0, 0.01, points)
    level[points // 2 :] -= 0.7
    level[points // 3] += 8.0
    return np.clip(level, -60.0, 0.0)


def _records(rng: Generator) -> list[TraceRecord]:
    events = [
        StoredEvent(position_m=0.0, code="2F9999", method="2P"),
        StoredEvent(
            position_m=100.0,
            loss_db=0.7,
            reflectance_db=-48.0,
            lead_in_db_per_km=0.33,
            code="1F9999",
            windows_m=(10.0, 90.0, 110.0, 190.0),
            comment="joint, écart",
        ),
        StoredEvent(
            position_m=240.0, loss_db=14.0, reflectance_db=-15.0, code="1E9999"
        ),
    ]
    texts = {"cable_id": "drop 7", "comment": "полная линия", "supplier": "nobody"}
    common = {"spacing_m": 0.5, "wavelength_nm": 1550, "group_index": 1.4682}
    plain = new_record(
        _fibre(rng, 96, 0.02),
        pulse_ns=10,
        settings=Settings(version=1, texts=texts),
        **common,
    )
    table = new_record(
        _fibre(rng, 512, 0.01),
        pulse_ns=30,
        events=events,
        settings=Settings(version=1, acquired=datetime(2026, 3, 9, tzinfo=UTC)),
        **common,
    )
    full = new_record(
        _fibre(rng, 512, 0.01),
        pulse_ns=30,
        events=events,
        settings=Settings(texts=texts, proprietary={"OwnBlock": bytes(range(64))}),
        **common,
    )
    several = new_record(
        np.vstack([_fibre(rng, 256, 0.01), _fibre(rng, 256, 0.02)]),
        pulse_ns=(10, 100),
        events=[],
        **common,
    )
    long = new_record(_fibre(rng, 4096, 0.002), pulse_ns=300, events=events, **common)
    return [plain, table, full, several, long, _with_link(full)]


def _with_link(record: TraceRecord) -> TraceRecord:
    mark = Landmark(
        number=1, code=b"WM", location=5000, related_event=2, longitude=0, latitude=0,
        fibre_correction=0, sheath_entering=0, sheath_leaving=0, units=b"mt",
        mode_field_diameter=920, comment=b"wall",
    )  # fmt: skip
    body = LinkParameters(landmarks=(mark, replace(mark, number=2)))
    block = Block(name=b"LnkParams", revision=200, headed=True, body=body)
    blocks = (*record.blocks[:3], block, *record.blocks[3:])
    return decode(encode(replace(record, blocks=blocks)))


def mutated(rng: Generator, records: list[bytes]) -> bytes:
    """One record with one to four things wrong."""
    data = bytearray(records[rng.integers(len(records))])
    for _ in range(int(rng.integers(1, 5))):
        if data:
            data = MUTATIONS[rng.integers(len(MUTATIONS))](rng, data, records)
    return bytes(data)


def _place(rng: Generator, data: bytearray) -> int:
    # Headers come first and hold the lies worth telling: favour the first 400 bytes.
    reach = min(len(data), 400) if rng.random() < 0.7 else len(data)
    return int(rng.integers(reach))


def _flip(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    data[_place(rng, data)] ^= 1 << int(rng.integers(8))
    return data


def _byte(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    data[_place(rng, data)] = int(rng.integers(256))
    return data


def _truncate(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    return data[: int(rng.integers(len(data) + 1))]


def _lengthen(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    return data + rng.bytes(int(rng.integers(1, 64)))


def _remove(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    start = _place(rng, data)
    del data[start : start + int(rng.integers(1, 32))]
    return data


def _insert(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    start = _place(rng, data)
    data[start:start] = rng.bytes(int(rng.integers(1, 32)))
    return data


def _zero(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    start, size = _place(rng, data), int(rng.integers(1, 64))
    fill = 0 if rng.random() < 0.5 else 0xFF
    data[start : start + size] = bytes([fill]) * len(data[start : start + size])
    return data


def _nasty(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    wide = rng.random() < 0.5
    form, values = ("<i", NASTY_32) if wide else ("<h", NASTY_16)
    start = _place(rng, data)
    if start + 4 <= len(data):
        struct.pack_into(form, data, start, values[rng.integers(len(values))])
    return data


def _sizes(rng: Generator, data: bytearray, _all: list[bytes]) -> bytearray:
    """Shift the border of two blocks in the map, or give one a size that lies."""
    places = []
    for name in (b"GenParams", b"SupParams", b"FxdParams", b"KeyEvents", b"DataPts"):
        found = data.find(name + b"\0")
        if 0 <= found < len(data) - len(name) - 7:
            places.append(found + len(name) + 3)
    if len(places) < 2:
        return data
    first, second = rng.permutation(places)[:2]
    step = int(rng.integers(-40, 41))
    size = struct.unpack_from("<i", data, first)[0]
    struct.pack_into("<i", data, first, max(-(2**31), min(2**31 - 1, size + step)))
    if rng.random() < 0.7:
        size = struct.unpack_from("<i", data, second)[0]
        struct.pack_into("<i", data, second, max(-(2**31), min(2**31 - 1, size - step)))
    return data


def _cross(rng: Generator, data: bytearray, records: list[bytes]) -> bytearray:
    other = records[rng.integers(len(records))]
    return data[: _place(rng, data)] + other[int(rng.integers(len(other))) :]


MUTATIONS = (
    _flip, _flip, _byte, _truncate, _lengthen, _remove, _insert, _zero, _nasty, _nasty,
    _sizes, _cross,
)  # fmt: skip


def outcome(data: bytes) -> str:
    """What became of one record; anything but a reading or one error is raised."""
    try:
        record = decode(data, name="mutant")
    except EvidenceError as error:
        if not error.place.startswith("byte "):
            raise AssertionError(f"no byte in: {error}") from error
        return "refused"
    if encode(record) != data:
        raise AssertionError("the reading does not write back the same bytes")
    _use(record)
    return "noted" if record.notes else "read"


def _use(record: TraceRecord) -> None:
    """Touch every value that the analysis may ask for."""
    for curve in record.curves:
        if not (np.isfinite(curve.samples_db).all() and curve.spacing_m > 0):
            raise AssertionError("a curve without finite levels and spacing")
        if curve.pulse_ns <= 0 or curve.samples_db.size < 2:
            raise AssertionError("a curve without pulse or samples")
    numbers = [record.wavelength_nm, record.group_index, record.sample_spacing_m]
    numbers += [event.position_m for event in record.stored_events]
    numbers += [record.range_m, record.first_sample_m, record.user_offset_m]
    if not np.isfinite(numbers).all():
        raise AssertionError("a number that is not finite")
    _ = record.texts, record.acquired, record.stored_loss_db, samples_digest(record)


@dataclass(kw_only=True)
class Tally:
    """Outcomes of a run."""

    outcomes: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    seconds: float = 0.0


def torture(count: int, *, seed: int = SEED) -> Tally:
    """Mutate and read `count` times."""
    rng, records, tally = np.random.default_rng(seed), corpus(), Tally()
    begun = time.perf_counter()
    for number in range(count):
        data = mutated(rng, records)
        start = time.perf_counter()
        try:
            tally.outcomes[outcome(data)] += 1
        except Exception as error:  # the point of the run is to catch any other kind
            tally.wrong.append(f"{number}: {type(error).__name__}: {error}")
        tally.slowest_s = max(tally.slowest_s, time.perf_counter() - start)
    tally.seconds = time.perf_counter() - begun
    return tally


def run() -> list[tuple[str, str, str]]:
    count = int(os.environ.get("EAVELIGHT_TORTURE_COUNT", str(COUNT)))
    tally = torture(count)
    for line in tally.wrong[:20]:
        print(line, file=sys.stderr)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    kinds = ", ".join(f"{n} {kind}" for kind, n in sorted(tally.outcomes.items()))
    return [
        ("mutated records", f"{count} in {tally.seconds:.0f} s", f"{COUNT}"),
        ("what became of them", kinds, "read, noted or refused"),
        ("any other outcome", str(len(tally.wrong)), "0"),
        ("slowest record", f"{tally.slowest_s * 1e3:.1f} ms", f"{MOST_S * 1e3:.0f} ms"),
        ("peak memory of the process", f"{peak_mb:.0f} MB", f"{MOST_MB:.0f} MB"),
    ]
