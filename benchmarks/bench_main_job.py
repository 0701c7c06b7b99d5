"""The main job: start of the command line, a cold and a warm assessment, a closeout."""

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import close_out
from eavelight.demo.crew import SCENARIOS, build_visit

Row = tuple[str, str, str]


def seconds(work: Callable[[], object], runs: int) -> float:
    """Median of several runs."""
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def command(*words: str) -> Callable[[], object]:
    """One command in a process of its own."""
    line = [sys.executable, "-m", "eavelight", *words]
    return lambda: subprocess.run(line, capture_output=True, check=False)


def run() -> list[Row]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        visits = [build_visit(scenario, folder) for scenario in SCENARIOS]
        visit = str(visits[1])
        assess_visit(visit)
        close_out(visit, folder / "warm.pdf")
        rows = [
            ("`eavelight --help`", seconds(command("--help"), 7), "< 0.4 s"),
            ("assess, cold start", seconds(command("assess", visit), 5), "< 2.5 s"),
            (
                "assess, running process",
                seconds(lambda: assess_visit(visit), 7),
                "< 0.5 s",
            ),
            (
                "closeout PDF, running process",
                seconds(lambda: close_out(visit, folder / "again.pdf"), 5),
                "< 1.5 s",
            ),
        ]
    return [(what, f"{taken:.3f} s", needed) for what, taken, needed in rows]
