"""How often drawn plants fall inside the band that the light path states."""

import numpy as np

from benchmarks.bench_light import NM, plant
from eavelight.light.levels import (
    LevelReading,
    expected_levels,
    known_launch,
    window_launch,
)
from eavelight.light.path import Path, build_path
from eavelight.standards.profiles import load_profile

DRAWS = 200_000


def drawn_losses(path: Path, rng: np.random.Generator) -> np.ndarray:
    """Losses of many built plants at the third wavelength, part by part."""
    out = np.empty((DRAWS, len(path.names)))
    for row, kind in enumerate(path.kinds):
        mean, u = float(path.loss_db[row, 2]), float(path.u_db[row, 2])
        if kind == "splice":
            shape = (mean / u) ** 2
            out[:, row] = rng.gamma(shape, mean / shape, DRAWS)
        else:
            out[:, row] = rng.normal(mean, u, DRAWS)
    return out


def run() -> list[tuple[str, str, str]]:
    rng = np.random.default_rng(20)
    path = build_path(plant(), NM, defaults=load_profile().part_defaults())
    down = np.cumsum(drawn_losses(path, rng), axis=1)
    rows = []
    for name, launch, drawn in (
        ("launch known to 0.3 dB", known_launch(3.0, 0.3), rng.normal(3.0, 0.3, DRAWS)),
        (
            "launch of a class window",
            window_launch(1.5, 5.0),
            rng.uniform(1.5, 5, DRAWS),
        ),
    ):
        low, high = expected_levels(path, launch).band_dbm(0.95)
        level = drawn - down[:, -1]
        inside = np.mean((level > low[-1, 2]) & (level < high[-1, 2]))
        rows.append(
            (f"95 % band at the terminal, {name}", f"{inside:.1%}", "95 to 99 %")
        )
        port = path.index("port")
        seen = drawn - down[:, port] + rng.normal(0.0, 0.19, DRAWS)
        # the same law for every reading: shift one computed case by the innovation
        reading = LevelReading(at="port", wavelength_nm=NM[2], value_dbm=0.0, u_db=0.19)
        after = expected_levels(path, launch, readings=[reading])
        gain = (after.expected_dbm[-1, 2] - after.plan_dbm[-1, 2]) / -float(
            after.plan_dbm[port + 1, 2]
        )
        mean = after.plan_dbm[-1, 2] + gain * (seen - after.plan_dbm[port + 1, 2])
        error = level - mean
        said = float(after.expected_u_db[-1, 2])
        rows.append(
            (
                f"u below a port reading, {name}: drawn over stated",
                f"{error.std() / said:.3f}",
                "1.00 ± 0.02",
            )
        )
    return rows
