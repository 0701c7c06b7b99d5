"""Speed of the trace analysis on one core, and two peers from general libraries.

Times are processor times, so that a busy machine does not change them.

The peers are what one would write in an afternoon: a smoothed derivative with a
threshold (`scipy.signal`), and change points of the detrended trace (`ruptures`). They
get the best threshold for their own false alarms on each set; ours has none to set.
"""

import statistics
import time
import tracemalloc
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import ruptures
from scipy.signal import find_peaks, savgol_filter

from benchmarks.accuracy_trace import Case, matched, standard_case
from eavelight.demo.trace_simulator import (
    Fibre,
    Instrument,
    Joint,
    SimulatedTrace,
    simulate_trace,
)
from eavelight.trace.analyse import analyse
from eavelight.trace.codec import decode, encode, new_record

Row = tuple[str, str, str]
FALSE_ALARMS = 0.05
SMOOTHING = 2.0


def feeder() -> SimulatedTrace:
    """A feeder of 20 km on 16 000 points."""
    parts: list[Fibre | Joint] = []
    for number in range(5):
        parts.append(Fibre(length_m=3900.0, seed=number))
        level = -50.0 if number == 2 else None
        kind = "splice" if level is None else "connector"
        parts.append(Joint(kind=kind, loss_db=0.12, reflectance_db=level))
    parts[-1] = Joint(kind="end", reflectance_db=-40.0)
    instrument = Instrument(spacing_m=1.276, range_m=1.276 * 16_000, receiver_ns=13.6)
    return simulate_trace(tuple(parts), instrument, 1550, rng=np.random.default_rng(4))


def derivative_peer(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Places and heights of the smoothed derivative, `scipy.signal`.

    The window is the one that finds most on these sets; several at once find less.
    """
    trace, pulse, values = _usable(case)
    window = max(5, 2 * int(SMOOTHING * pulse) + 1)
    slope = savgol_filter(values, window, 2, deriv=1)
    slope = np.abs(slope - np.median(slope))
    places, found = find_peaks(slope, height=0.0, distance=max(1, int(2.0 * pulse)))
    return places * trace.spacing_m, found["peak_heights"]


def change_point_peer(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Places and steps of change points of the detrended trace, `ruptures`."""
    trace, pulse, values = _usable(case)
    every = max(1, int(pulse))
    count = len(values) // every
    thin = np.median(values[: count * every].reshape(count, every), axis=1)
    thin -= np.median(np.diff(thin)) * np.arange(count)
    search = ruptures.BottomUp(model="l2", min_size=4, jump=1).fit(thin)
    edges = [0, *search.predict(n_bkps=14)]
    levels = [np.mean(thin[a:b]) for a, b in pairwise(edges)]
    sizes = [min(b - a, 60) for a, b in pairwise(edges)]
    heights = [
        abs(levels[k + 1] - levels[k]) * np.sqrt(min(sizes[k], sizes[k + 1]))
        for k in range(len(levels) - 1)
    ]
    return np.array(edges[1:-1]) * every * trace.spacing_m, np.array(heights)


def _usable(case: Case) -> tuple[SimulatedTrace, float, np.ndarray]:
    """The fibre only: the peers are told where it starts and ends."""
    trace = case.trace
    pulse = trace.pulse_ns * 0.299792458 / 2.0 / trace.group_index / trace.spacing_m
    stop = int(trace.events[-1].position_m / trace.spacing_m) - 3
    values = trace.samples_db[:stop].copy()
    start = int(3.0 * pulse)
    values[:start] = values[start]
    return trace, pulse, values


def peer_recall(
    cases: list[Case], peer: Callable[[Case], tuple[np.ndarray, np.ndarray]]
) -> float:
    """Recall at the threshold that leaves the peer as many false alarms as allowed."""
    hits, wrong = [], []
    for case in cases:
        places, heights = peer(case)
        pulse_m = case.trace.pulse_ns * 0.299792458 / 2.0 / case.trace.group_index
        free = np.ones(len(places), dtype=bool)
        for number, truth in enumerate(case.trace.events[:-1]):
            reach = max(2.5 * pulse_m, 6.0 * case.place_bounds_m[number])
            near = np.abs(places + case.trace.first_m - truth.position_m) < reach
            free &= ~near
            if abs(truth.apparent_db) >= 4.0 * case.bounds_db[number]:
                hits.append(float(np.max(heights[near], initial=0.0)))
        wrong += list(heights[free])
    allowed = int(FALSE_ALARMS * len(cases))
    ordered = np.sort(np.array(wrong))[::-1]
    threshold = ordered[allowed] if len(ordered) > allowed else 0.0
    return float(np.mean(np.array(hits) > threshold))


def own_recall(cases: list[Case]) -> tuple[float, float]:
    found, false = [], []
    for case in cases:
        pairs, rest = matched(case)
        false.append(len(rest))
        found += [
            event is not None
            for event, truth, bound in zip(
                pairs, case.trace.events, case.bounds_db, strict=False
            )
            if abs(truth.apparent_db) >= 4.0 * bound
        ]
    return float(np.mean(found)), float(np.mean(false))


def median_ms(call: Callable[[], object], rounds: int = 15) -> float:
    spent = []
    for _ in range(rounds):
        start = time.process_time()
        call()
        spent.append(time.process_time() - start)
    return 1e3 * statistics.median(spent)


def _whole(data: bytes) -> None:
    record = decode(data)
    analyse(
        -record.samples_db,
        sample_spacing_m=record.sample_spacing_m,
        pulse_ns=record.pulse_ns[0],
        wavelength_nm=record.wavelength_nm,
        group_index=record.group_index,
        backscatter_db=record.backscatter_db,
    )


def speed_rows() -> list[Row]:
    trace = feeder()
    data = encode(
        new_record(
            -trace.samples_db,
            spacing_m=trace.spacing_m,
            wavelength_nm=trace.wavelength_nm,
            pulse_ns=trace.pulse_ns,
            group_index=trace.group_index,
        )
    )
    one = median_ms(lambda: _whole(data))
    start = time.process_time()
    for _ in range(1000):
        _whole(data)
    spent = time.process_time() - start
    tracemalloc.start()
    _whole(data)
    first = tracemalloc.get_traced_memory()[1]
    for _ in range(20):
        _whole(data)
    later = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return [
        ("decode and analyse 16 000 points", f"{one:.1f} ms", "< 25 ms"),
        ("1000 traces of 16 000 points in one call", f"{spent:.1f} s", "< 30 s"),
        (
            "peak memory, one trace / twenty-one",
            f"{first / 1e6:.1f} / {later / 1e6:.1f} MB",
            "flat",
        ),
    ]


def peer_rows(count: int = 150) -> list[Row]:
    cases = [
        standard_case(np.random.default_rng([31, number])) for number in range(count)
    ]
    recall, false = own_recall(cases)
    rows = [
        ("recall at 4 sigma and more, ours", f"{recall:.3f} at {false:.3f} false", "")
    ]
    for name, peer in (
        ("scipy.signal derivative", derivative_peer),
        ("ruptures change points", change_point_peer),
    ):
        rows.append(
            (
                f"recall at {FALSE_ALARMS} false per trace, {name}",
                f"{peer_recall(cases, peer):.3f}",
                "less than ours",
            )
        )
    few = cases[:20]

    def own() -> None:
        for case in few:
            analyse(
                case.trace.samples_db,
                sample_spacing_m=case.trace.spacing_m,
                pulse_ns=case.trace.pulse_ns,
                wavelength_nm=case.trace.wavelength_nm,
                group_index=case.trace.group_index,
            )

    rows.append(("time per trace, ours", f"{median_ms(own, 5) / 20:.2f} ms", ""))
    for name, peer in (
        ("scipy.signal derivative", derivative_peer),
        ("ruptures change points", change_point_peer),
    ):
        spent = median_ms(lambda peer=peer: [peer(case) for case in few], 5) / 20
        rows.append((f"time per trace, {name}", f"{spent:.2f} ms", ""))
    return rows


def run() -> list[Row]:
    return [*speed_rows(), *peer_rows()]


if __name__ == "__main__":
    for row in run():
        print(" | ".join(row))
