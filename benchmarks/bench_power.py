"""Speed of the feed and of run time bands."""

import statistics
import time
from collections.abc import Callable, Sequence

import numpy as np

from eavelight.power.discharge import Circuit, runtime_band
from eavelight.power.feed import minimum_supply_v, terminal_voltage_v
from eavelight.power.rate_models import RateModel
from eavelight.standards.batteries import battery_type


def _median_s(call: Callable[[], object], repeats: int = 9) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def run() -> list[tuple[str, str, str]]:
    rng = np.random.default_rng(1)
    supply = rng.uniform(9.0, 14.0, 100_000)
    loop = rng.uniform(0.1, 6.0, 100_000)
    load = rng.uniform(2.0, 20.0, 100_000)

    def feeds() -> None:
        terminal_voltage_v(supply, loop, load)
        minimum_supply_v(loop, load, 10.0)

    kind = battery_type("vrla")
    block = kind.block(7.2, rating_hours=20.0, cells=6)
    three = kind.models(7.2, rating_hours=20.0, near_h=20.0)[:3]
    whole = kind.models(7.2, rating_hours=20.0, near_h=20.0)
    circuit = Circuit(loop_ohm=1.05, terminal_min_v=10.0, cutoff_v=11.0, peak_w=8.0)

    def band(models: Sequence[RateModel]) -> None:
        runtime_band(models, block, circuit, profile=[(0.0, 3.0)], capacity=(0.75, 1.0))

    def made() -> None:
        kind.models(7.2, rating_hours=20.0, near_h=8.0)

    return [
        ("1e5 feeds, volts and smallest supply", f"{_median_s(feeds):.4f} s", "2 s"),
        (
            "run time band, three models, low and high, 24 h",
            f"{1e3 * _median_s(lambda: band(three)):.1f} ms",
            "30 ms",
        ),
        (
            "run time band, all six models, low and high, 24 h",
            f"{1e3 * _median_s(lambda: band(whole)):.1f} ms",
            "-",
        ),
        (
            "models from a label",
            f"{1e3 * _median_s(made):.1f} ms",
            "-",
        ),
    ]
