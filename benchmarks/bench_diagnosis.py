"""Time of a diagnosis: one visit on one core, and many in one call."""

import dataclasses
import os
import statistics
import time

import numpy as np
from tests.diagnosis import other_physics

from eavelight.app.diagnosing import diagnose_many
from eavelight.app.diagnosing.case import case_of
from eavelight.assess.assessment import assess, context_of
from eavelight.demo.visit_simulator import simulate
from eavelight.diagnosis.case import Case
from eavelight.diagnosis.diagnose import diagnose
from eavelight.standards.profiles import load_profile

Row = tuple[str, str, str]
SINGLE, MANY = 80, 10_000


def template(seed: int) -> Case:
    """What one drawn crew reads and looks at."""
    world = other_physics.World(np.random.default_rng(seed))
    values = np.array([quantity.mean for quantity in world.quantities])
    looks = dict.fromkeys(sorted(world.looked), False)
    seen, _ = other_physics.record(world, values, looks, np.random.default_rng(seed))
    args = ("V", world.plan, seen, load_profile())
    return case_of(context_of(*args), assess(*args).findings)


def cases(count: int) -> list[Case]:
    kinds = [template(seed) for seed in range(20)]
    return [
        dataclasses.replace(
            simulate(kinds[i % 20], np.random.default_rng(i)).case, visit=f"V-{i}"
        )
        for i in range(count)
    ]


def run() -> list[Row]:
    listed = cases(SINGLE)
    diagnose(listed[0])
    taken = []
    for case in listed:
        start = time.process_time()
        diagnose(case)
        taken.append(1000.0 * (time.process_time() - start))
    many = (listed * (MANY // SINGLE + 1))[:MANY]
    start = time.perf_counter()
    count = sum(1 for _ in diagnose_many(many))
    whole = time.perf_counter() - start
    return [
        (
            "one visit, one core, median",
            f"{statistics.median(taken):.0f} ms",
            "< 200 ms",
        ),
        ("one visit, one core, slowest of 80", f"{max(taken):.0f} ms", "< 200 ms"),
        (
            f"{count} visits in one call, {os.cpu_count()} cores",
            f"{whole:.0f} s",
            "in one call",
        ),
    ]
