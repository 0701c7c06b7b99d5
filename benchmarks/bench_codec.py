"""Speed of reading and writing trace records."""

import statistics
import time
from collections.abc import Callable

import numpy as np

from eavelight.trace.codec import decode, encode, new_record

POINTS = 16_000
ROUNDS = 200


def _median_ms(call: Callable[[], object]) -> float:
    spent = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        call()
        spent.append(time.perf_counter() - start)
    return 1e3 * statistics.median(spent)


def run() -> list[tuple[str, str, str]]:
    record = new_record(
        np.linspace(-10.0, -40.0, POINTS),
        spacing_m=1.25,
        wavelength_nm=1550,
        pulse_ns=100,
        group_index=1.4682,
    )
    data = encode(record)
    both = _median_ms(lambda: decode(data).samples_db)
    return [
        ("decode 16 000 points", f"{both:.2f} ms", "a few ms"),
        ("encode 16 000 points", f"{_median_ms(lambda: encode(record)):.2f} ms", ""),
    ]
