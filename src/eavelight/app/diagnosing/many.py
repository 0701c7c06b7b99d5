"""Many visits in one call, over all cores; same answers as one by one."""

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor

from eavelight.diagnosis.case import Case
from eavelight.diagnosis.diagnose import diagnose
from eavelight.diagnosis.outcome import Diagnosis

BATCH = 50


def diagnose_many(
    cases: Sequence[Case], *, workers: int | None = None
) -> Iterator[Diagnosis]:
    """Diagnose every case, in the order given; `workers` 1 stays in this process."""
    count = workers or os.cpu_count() or 1
    if count == 1 or len(cases) < 2 * BATCH:
        yield from map(diagnose, cases)
        return
    with ProcessPoolExecutor(max_workers=count) as pool:
        yield from pool.map(diagnose, cases, chunksize=BATCH)
