"""Speed of the light path: one plant for a screen, many for fleet planning."""

import time
from collections.abc import Callable
from statistics import median

import numpy as np

from eavelight.light.levels import (
    LevelReading,
    expected_levels,
    walk_down,
    window_launch,
)
from eavelight.light.path import PartPlan, build_path
from eavelight.standards.profiles import load_profile

NM = [1270.0, 1310.0, 1490.0, 1550.0, 1577.0, 1625.0]
GLASS = {1310: 0.34, 1490: 0.23, 1550: 0.20, 1625: 0.22}


def plant() -> list[PartPlan]:
    parts = []
    for number in range(3):
        parts += [
            PartPlan(
                name=f"f{number}", kind="fibre", length_m=2000,
                attenuation_db_per_km=GLASS,
            ),
            PartPlan(name=f"s{number}", kind="splice", count=3),
            PartPlan(name=f"c{number}", kind="connector"),
        ]  # fmt: skip
    return [
        *parts,
        PartPlan(name="splitter", kind="splitter", ratio=32),
        PartPlan(name="port", kind="connector"),
        PartPlan(name="terminal", kind="connector"),
    ]


def timed(work: Callable[[], object], repeats: int) -> float:
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return median(seconds)


def run() -> list[tuple[str, str, str]]:
    defaults = load_profile().part_defaults()
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-17.0, u_db=0.19)

    def one() -> object:
        path = build_path(plant(), NM, defaults=defaults)
        levels = expected_levels(path, window_launch(1.5, 5.0), readings=[reading])
        return levels.band_dbm()

    rng = np.random.default_rng(1)
    loss = rng.uniform(0.0, 2.0, (12, 100_000, 6))
    u = rng.uniform(0.0, 0.3, (12, 1, 6))
    seen = np.full((13, 100_000, 6), np.nan)
    seen[10, ::3, 2] = -18.0

    def many() -> object:
        return walk_down(3.0, 0.5, loss_db=loss, u_db=u)

    def many_read() -> object:
        return walk_down(
            3.0, 0.5, loss_db=loss, u_db=u, reading_dbm=seen, reading_u_db=0.19
        )

    return [
        (
            "12 parts at 6 wavelengths: path, levels, band",
            f"{1e3 * timed(one, 200):.2f} ms",
            "< 5 ms",
        ),
        (
            "100 000 plants of 12 parts at 6 wavelengths",
            f"{timed(many, 5):.2f} s",
            "< 2 s",
        ),
        (
            "the same with readings at a third of the ports",
            f"{timed(many_read, 5):.2f} s",
            "< 2 s",
        ),
    ]
