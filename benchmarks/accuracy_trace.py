"""Accuracy of the trace analysis on simulated sets whose truth is known.

The bound of a step is that of two sections of their own with every sample between
the neighbouring events, time noise and frozen pattern together; nothing that the
analysis computes enters it.
"""

import os
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from eavelight.demo.trace_simulator import (
    Fibre,
    Instrument,
    Joint,
    SimulatedTrace,
    simulate_trace,
)
from eavelight.trace.analyse import analyse
from eavelight.trace.codec import decode
from eavelight.trace.joined import join
from eavelight.trace.results import Event, TraceAnalysis

Row = tuple[str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One simulated trace, its analysis and the bound of each event."""

    trace: SimulatedTrace
    analysis: TraceAnalysis
    bounds_db: tuple[float, ...]
    place_bounds_m: tuple[float, ...]


def long_run_db2(
    trace: SimulatedTrace, instrument: Instrument, pattern: float
) -> np.ndarray:
    """True long-run variance of each sample: receiver-coloured noise and pattern."""
    power = 10.0 ** (-(trace.clean_db - instrument.offset_db) / 5.0)
    time = (
        instrument.noise_a / power**2 + instrument.noise_b / power + instrument.noise_c
    )
    spacing_ns = 2.0 * instrument.group_index * instrument.spacing_m / 0.299792458
    width = instrument.receiver_ns / spacing_ns
    lags = np.arange(1, 200)
    colour = (
        1.0 + 2.0 * np.sum(np.exp(-(lags**2) / (4.0 * width**2)))
        if width > 0.2
        else 1.0
    )
    return (5.0 / np.log(10.0)) ** 2 * time * colour + pattern / instrument.spacing_m


def step_bound(
    variance: np.ndarray, left: tuple[int, int], right: tuple[int, int], place: float
) -> float:
    total = 0.0
    for start, stop in (left, right):
        index = np.arange(start, stop, dtype=float)
        weight = 1.0 / variance[start:stop]
        centre = np.sum(weight * index) / np.sum(weight)
        total += 1.0 / np.sum(weight) + (place - centre) ** 2 / np.sum(
            weight * (index - centre) ** 2
        )
    return float(np.sqrt(total))


def bounds(
    trace: SimulatedTrace, instrument: Instrument, pattern: float, *, start_m: float
) -> tuple[list[float], list[float]]:
    """Loss bound [dB] and location bound [m] of each event but the last."""
    variance = long_run_db2(trace, instrument, pattern)
    spacing = instrument.spacing_m
    pulse = instrument.pulse_ns * 0.299792458 / 2.0 / instrument.group_index
    hidden = (
        pulse
        + 2.0 * instrument.receiver_ns * 0.299792458 / 2.0 / instrument.group_index
    )
    places = [event.position_m for event in trace.events]
    losses, locations = [], []
    for number, event in enumerate(trace.events[:-1]):
        before = places[number - 1] + hidden if number else start_m
        left = (int(before / spacing) + 1, int(event.position_m / spacing))
        right = (
            int((event.position_m + hidden) / spacing) + 1,
            min(int(places[number + 1] / spacing), len(variance)),
        )
        losses.append(step_bound(variance, left, right, event.position_m / spacing))
        local = variance[int(event.position_m / spacing)]
        location = (
            np.sqrt(pulse / spacing * local)
            / max(abs(event.apparent_db), 1e-9)
            * spacing
        )
        locations.append(float(location))
    return losses, locations


def standard_case(
    rng: np.random.Generator, *, reflective: float = 0.3, pulse_ns: float = 100.0
) -> Case:
    """Two to five events on 2 000 to 6 000 samples, 4 to 30 sigma, log-uniform."""
    pulse_m = pulse_ns * 0.299792458 / 2.0 / 1.468
    spacing = pulse_m / float(rng.choice([4.0, 6.0, 8.0]))
    count = int(rng.integers(2, 6))
    pattern = 10.0 ** rng.uniform(-3.5, -2.5)
    gaps = rng.uniform(35.0, 140.0, count + 1) * pulse_m
    quiet = 10.0 ** rng.uniform(-1.0, 1.0)
    instrument = Instrument(
        pulse_ns=pulse_ns,
        spacing_m=spacing,
        range_m=float(np.sum(gaps)) * 1.25 + 40.0 * pulse_m,
        receiver_ns=pulse_ns * rng.uniform(0.03, 0.15),
        noise_a=2e-9 * quiet,
        noise_b=1.8e-7 * quiet,
        noise_c=1.5e-6 * quiet,
        saturation_db=15.0,
        ghosts=False,
    )
    wavelength = int(rng.choice([1310, 1550, 1625]))
    parts: list[object] = []
    for number in range(count):
        parts.append(
            Fibre(
                length_m=gaps[number],
                pattern_db2_m=pattern,
                seed=int(rng.integers(1 << 30)),
            )
        )
        level = rng.uniform(-60.0, -45.0) if rng.uniform() < reflective else None
        parts.append(
            Joint(
                kind="splice" if level is None else "connector",
                loss_db=0.1,
                reflectance_db=level,
            )
        )
    parts.append(
        Fibre(length_m=gaps[-1], pattern_db2_m=pattern, seed=int(rng.integers(1 << 30)))
    )
    parts.append(Joint(kind="end", reflectance_db=float(rng.uniform(-45.0, -14.7))))
    draft = simulate_trace(
        tuple(parts), instrument, wavelength, rng=np.random.default_rng(0)
    )
    sigma, _ = bounds(draft, instrument, pattern, start_m=3.0 * pulse_m)
    for number in range(count):
        size = sigma[number] * 4.0 * 7.5 ** rng.uniform()
        sign = (
            -1.0
            if rng.uniform() < 0.15 and parts[2 * number + 1].reflectance_db is None
            else 1.0
        )
        parts[2 * number + 1] = Joint(
            kind=parts[2 * number + 1].kind,
            loss_db=sign * size,
            reflectance_db=parts[2 * number + 1].reflectance_db,
        )
    trace = simulate_trace(tuple(parts), instrument, wavelength, rng=rng)
    losses, places = bounds(trace, instrument, pattern, start_m=3.0 * pulse_m)
    analysis = analyse(
        trace.samples_db,
        sample_spacing_m=trace.spacing_m,
        pulse_ns=trace.pulse_ns,
        wavelength_nm=trace.wavelength_nm,
        group_index=trace.group_index,
        backscatter_db=trace.backscatter_db,
    )
    return Case(
        trace=trace,
        analysis=analysis,
        bounds_db=tuple(losses),
        place_bounds_m=tuple(places),
    )


def matched(case: Case) -> tuple[list[Event | None], list[Event]]:
    """Found event of each true one, and what was found without a truth."""
    pulse = case.trace.pulse_ns * 0.299792458 / 2.0 / case.trace.group_index
    rest = [
        event
        for event in case.analysis.events
        if event.kind not in {"launch", "end", "ghost"}
    ]
    pairs: list[Event | None] = []
    for number, truth in enumerate(case.trace.events[:-1]):
        reach = max(1.5 * pulse, 6.0 * case.place_bounds_m[number])
        near = [
            event
            for event in rest
            if abs(event.position_m + case.trace.first_m - truth.position_m) < reach
        ]
        best = min(
            near,
            key=lambda event: abs(event.position_m - truth.position_m),
            default=None,
        )
        if best is not None:
            rest.remove(best)
        pairs.append(best)
    return pairs, rest


def tabulate(cases: list[Case]) -> dict[str, float]:
    rows: dict[str, list[float]] = {key: [] for key in (
        "found", "found6", "false", "loss", "loss_z", "reflective",
        "place", "place_z", "place_r_z", "end",
    )}  # fmt: skip
    for case in cases:
        pairs, rest = matched(case)
        pulse = case.trace.pulse_ns * 0.299792458 / 2.0 / case.trace.group_index
        rows["false"].append(len(rest))
        end = case.trace.events[-1].position_m
        length = case.analysis.length_m
        rows["end"].append(
            float(
                length is not None
                and abs(length + case.trace.first_m - end) < 1.5 * pulse
            )
        )
        for truth, event, bound, place in zip(
            case.trace.events, pairs, case.bounds_db, case.place_bounds_m, strict=False
        ):
            ratio = abs(truth.apparent_db) / bound
            if ratio >= 4.0:
                rows["found"].append(float(event is not None))
            if ratio >= 6.0 and abs(truth.apparent_db) >= 0.03:
                rows["found6"].append(float(event is not None))
            if event is None or event.loss_db is None:
                continue
            miss = event.position_m + case.trace.first_m - truth.position_m
            rows["loss"].append((event.loss_db - truth.apparent_db) / bound)
            rows["loss_z"].append(
                abs(event.loss_db - truth.apparent_db) / event.loss_u_db
            )
            if truth.reflectance_db is not None:
                rows["reflective"].append(miss / pulse)
                rows["place_r_z"].append(abs(miss) / event.position_u_m)
            elif ratio >= 6.0:
                rows["place"].append(miss / place)
                rows["place_z"].append(abs(miss) / event.position_u_m)
    rms = lambda key: float(np.sqrt(np.mean(np.square(rows[key]))))  # noqa: E731
    inside = lambda key: float(np.mean(np.array(rows[key]) < 1.96))  # noqa: E731
    return {
        "events": len(rows["found"]),
        "recall >= 4 sigma": float(np.mean(rows["found"])),
        "recall >= 6 sigma": float(np.mean(rows["found6"])),
        "false per trace": float(np.mean(rows["false"])),
        "end found": float(np.mean(rows["end"])),
        "loss rms / bound": rms("loss"),
        "loss median / bound": float(np.median(np.abs(rows["loss"])) / 0.6745),
        "loss coverage": inside("loss_z"),
        "reflective rms / pulse": rms("reflective"),
        "reflective coverage": inside("place_r_z"),
        "step place rms / bound": rms("place"),
        "step place coverage": inside("place_z"),
    }


def bend_or_joint(count: int) -> tuple[float, float]:
    """Share judged right where two losses differ by 4 sigma or more, and how many."""
    right = []
    for number in range(count):
        rng = np.random.default_rng([23, number])
        bend = number % 2 == 0
        size = float(np.exp(rng.uniform(np.log(0.05), np.log(1.0))))
        if bend:
            losses = {
                1310: size * np.exp(-240.0 * rng.uniform(0.005, 0.02)),
                1550: size,
            }
        else:
            losses = {1310: size, 1550: size * rng.uniform(0.75, 0.95)}
        pattern = 10.0 ** rng.uniform(-3.3, -2.7)
        seeds = rng.integers(1 << 30, size=2)
        place = float(rng.uniform(60.0, 150.0))
        plant = (
            Fibre(length_m=place, pattern_db2_m=pattern, seed=int(seeds[0])),
            Joint(kind="bend" if bend else "splice", loss_db=losses),
            Fibre(
                length_m=float(rng.uniform(50.0, 150.0)),
                pattern_db2_m=pattern,
                seed=int(seeds[1]),
            ),
            Joint(kind="end", reflectance_db=-50.0),
        )
        instrument = Instrument(
            pulse_ns=10.0,
            spacing_m=0.25,
            range_m=500.0,
            receiver_ns=2.0,
            noise_a=1e-8,
            noise_b=1e-6,
            saturation_db=25.0,
        )
        traces = [
            analysed(simulate_trace(plant, instrument, key, rng=rng)) for key in losses
        ]
        near = [
            event for event in join(traces).events
            if event.kind != "end" and abs(event.position_m - place) < 6.0
        ]  # fmt: skip
        if not near or len(near[0].loss_db) < 2 or near[0].bend_probability is None:
            continue
        sigma = np.hypot(near[0].loss_db[1310].u, near[0].loss_db[1550].u)
        if abs(losses[1550] - losses[1310]) > 4.0 * sigma:
            right.append((near[0].bend_probability > 0.5) == bend)
    return float(np.mean(right)), len(right)


def analysed(trace: SimulatedTrace, **leads: float) -> TraceAnalysis:
    return analyse(
        trace.samples_db,
        sample_spacing_m=trace.spacing_m,
        pulse_ns=trace.pulse_ns,
        wavelength_nm=trace.wavelength_nm,
        group_index=trace.group_index,
        backscatter_db=trace.backscatter_db,
        **leads,
    )


def drops(count: int) -> dict[str, float]:
    """Drops of 18 to 60 m with leads, short pulses: lengths, losses, false events."""
    lengths, losses, totals, splices, false = [], [], [], [], []
    for number in range(count):
        rng = np.random.default_rng([11, number])
        pulse = float(rng.choice([5.0, 10.0]))
        lead, drop, tail = (
            rng.uniform(80, 200),
            rng.uniform(18, 60),
            rng.uniform(50, 120),
        )
        at = drop * rng.uniform(0.35, 0.65)
        first, last, splice = (
            rng.uniform(0.1, 0.6),
            rng.uniform(0.1, 0.6),
            rng.uniform(0.1, 0.5),
        )
        fibres = [
            Fibre(
                length_m=float(length),
                pattern_db2_m=10.0 ** rng.uniform(-3.3, -2.7),
                seed=int(rng.integers(1 << 30)),
            )
            for length in (lead, at, drop - at, tail)
        ]
        plant = (
            fibres[0],
            Joint(
                kind="connector", loss_db=first, reflectance_db=rng.uniform(-65, -50)
            ),
            fibres[1],
            Joint(kind="splice", loss_db=splice),
            fibres[2],
            Joint(kind="connector", loss_db=last, reflectance_db=rng.uniform(-65, -50)),
            fibres[3],
            Joint(kind="end", reflectance_db=float(rng.choice([-14.7, -55.0]))),
        )
        quiet = 10.0 ** rng.uniform(-1, 1)
        instrument = Instrument(
            pulse_ns=pulse,
            spacing_m=0.25,
            range_m=500.0,
            receiver_ns=rng.uniform(1.0, 4.0),
            noise_a=1e-8 * quiet,
            noise_b=1e-6 * quiet,
            noise_c=2e-6,
            saturation_db=20.0,
        )
        wavelength = int(rng.choice([1310, 1550]))
        found = analysed(
            simulate_trace(plant, instrument, wavelength, rng=rng),
            lead_m=lead + rng.normal(0, 0.5),
            tail_m=tail + rng.normal(0, 0.5),
        )
        inner = [
            event
            for event in found.events
            if event.kind not in {"launch", "end", "ghost"}
        ]
        lengths.append(np.nan if found.length_m is None else found.length_m - drop)
        totals.append(
            np.nan
            if found.loss_db is None
            else found.loss_db - first - last - splice - 0.00026 * drop
        )
        hits = [event for event in inner if abs(event.position_m - at) < 3.0]
        splices.append(bool(hits))
        losses += (
            [hits[0].loss_db - splice] if hits and hits[0].loss_db is not None else []
        )
        true = (0.0, at, drop)
        false.append(
            sum(
                min(abs(event.position_m - place) for place in true) > 3.0
                for event in inner
            )
        )
    rms = lambda values: float(np.sqrt(np.mean(np.square(values))))  # noqa: E731
    return {
        "length": rms(lengths), "total": rms(totals), "splice": rms(losses),
        "found": float(np.mean(splices)), "false": float(np.mean(false)),
    }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """One trace from a house through a splitter; with a splice behind it or not."""

    trace: SimulatedTrace
    analysis: TraceAnalysis
    splitter_m: float
    splitter_db: float
    splice_m: float | None
    splice_db: float
    bound_db: float


def house_case(rng: np.random.Generator) -> House:
    """Lead, drop, distribution fibre and splitter; all receivers glow differently."""
    pulse = float(rng.choice([5.0, 10.0, 30.0, 100.0]))
    far = pulse > 20.0
    lengths = [
        150.0 * (1 + far),
        rng.uniform(20, 80) * (1 + far),
        rng.uniform(100, 400),
    ]
    behind = rng.uniform(0.2, 0.6) * (2500.0 if far else 900.0)
    loss, splice = float(rng.uniform(10.5, 17.0)), float(rng.uniform(0.2, 1.0))
    splice *= float(rng.choice([0.0, 1.0]))
    pattern = 10.0 ** rng.uniform(-3.3, -2.7)
    fibres = [
        Fibre(
            length_m=float(length),
            pattern_db2_m=pattern,
            seed=int(rng.integers(1 << 30)),
        )
        for length in (*lengths, behind, 1.5 * behind)
    ]
    joint = (Joint(kind="splice", loss_db=splice),) if splice else ()
    plant = (
        fibres[0],
        Joint(kind="connector", loss_db=0.25, reflectance_db=-60.0),
        fibres[1],
        Joint(kind="connector", loss_db=0.2, reflectance_db=-61.0),
        fibres[2],
        Joint(kind="splitter", loss_db=loss),
        fibres[3],
        *joint,
        fibres[4],
        Joint(kind="end"),
    )
    quiet = 10.0 ** rng.uniform(-1.5, 0.5)
    instrument = Instrument(
        pulse_ns=pulse,
        spacing_m={5.0: 0.16, 10.0: 0.16, 30.0: 0.32, 100.0: 1.0}[pulse],
        range_m=float(sum(lengths) + rng.choice([2.3, 2.8]) * behind),
        receiver_ns=max(2.0, 0.1 * pulse),
        noise_a=2e-9 * quiet,
        noise_b=1.8e-7 * quiet,
        slow_tail_db=float(rng.uniform(-60.0, -50.0)),
        slow_tail_ns=float(rng.uniform(300.0, 2000.0)),
        front_reflectance_db=-55.0,
    )
    wavelength = int(rng.choice([1310, 1550]))
    trace = simulate_trace(plant, instrument, wavelength, rng=rng)
    losses, _ = bounds(trace, instrument, pattern, start_m=20.0 + 0.3 * pulse)
    return House(
        trace=trace,
        analysis=analysed(trace),
        splitter_m=float(sum(lengths)),
        splitter_db=loss,
        splice_m=float(sum(lengths)) + behind if splice else None,
        splice_db=splice,
        bound_db=losses[3] if splice else np.inf,
    )


def houses(count: int) -> dict[str, float]:
    """Traces from a house: what is listed behind the splitter, and how right it is."""
    false, found, far, splitters, losses = [], [], [], [], []
    for number in range(count):
        case = house_case(np.random.default_rng([53, number]))
        reach = 2.0 + 0.25 * case.trace.pulse_ns
        true = [case.splitter_m, *([] if case.splice_m is None else [case.splice_m])]
        events = [
            event for event in case.analysis.events
            if event.kind not in {"launch", "end", "ghost"}
        ]  # fmt: skip
        miss = {
            place: min(
                events,
                key=lambda event, place=place: abs(
                    event.position_m + case.trace.first_m - place
                ),
            )
            for place in true
        }
        behind = [
            event for event in events
            if event.position_m > case.splitter_m + reach
        ]  # fmt: skip
        near = [
            abs(event.position_m - (case.splice_m or -1e9))
            < reach + 6.0 * event.position_u_m
            for event in behind
        ]
        false.append(len(behind) - any(near))
        if case.splice_db > 6.0 * case.bound_db:
            found.append(any(near))
        seen = miss[case.splitter_m]
        if abs(seen.position_m - case.splitter_m) < reach and seen.loss_u_db:
            far.append(seen.position_m + case.trace.first_m - case.splitter_m)
            splitters.append(((seen.loss_db or 0.0) - case.splitter_db, seen.loss_u_db))
        if any(near):
            splice = behind[near.index(True)]
            if splice.loss_u_db:
                losses.append(
                    ((splice.loss_db or 0.0) - case.splice_db, splice.loss_u_db)
                )
    inside = lambda pairs: float(  # noqa: E731
        np.mean([abs(error) < 1.96 * sigma for error, sigma in pairs])
    )
    return {
        "false": float(np.mean(false)), "found": float(np.mean(found)),
        "judged": len(found), "splitters": len(splitters),
        "place": float(np.sqrt(np.mean(np.square(far)))),
        "loss": float(np.sqrt(np.mean([error**2 for error, _ in splitters]))),
        "cover": inside(splitters), "splice cover": inside(losses),
    }  # fmt: skip


def house_rows(count: int) -> list[Row]:
    house = houses(count)
    return [
        (f"through a splitter ({count}): false events per trace",
         f"{house['false']:.3f}", "<= 0.05"),
        (f"through a splitter: splices behind it found, of {house['judged']:.0f}",
         f"{house['found']:.3f}", ">= 0.95"),
        ("through a splitter: its loss, rms", f"{house['loss']:.3f} dB", ""),
        ("through a splitter: its loss, coverage", f"{house['cover']:.3f}", ">= 0.90"),
        ("through a splitter: splices behind it, coverage",
         f"{house['splice cover']:.3f}", ">= 0.90"),
        ("through a splitter: its place, rms", f"{house['place']:.2f} m", ""),
    ]  # fmt: skip


def real_rows() -> list[Row]:
    """Real records, where a folder of them lies beside the project."""
    beside = Path(__file__).parents[2] / "shared" / "traces"
    folder = Path(os.environ.get("EAVELIGHT_TRACES", str(beside)))
    rows = []
    for name, wanted in (
        ("1310_20ns", 0.75),
        ("1310_1000ns", 0.75),
        ("1550_20ns", 0.60),
        ("1550_1000ns", 0.60),
    ):
        path = folder / f"{name}.sor"
        if not path.is_file():
            continue
        record = decode(path.read_bytes(), name=path.name)
        found = analyse(
            -record.samples_db,
            sample_spacing_m=record.sample_spacing_m,
            pulse_ns=record.pulse_ns[0],
            wavelength_nm=record.wavelength_nm,
            group_index=record.group_index,
            backscatter_db=record.backscatter_db,
        )
        near = [
            event.loss_db
            for event in found.events
            if abs(event.position_m - 3010.0) < 30.0
        ]
        rows.append(
            (
                f"joint near 3 km, {name}",
                f"{near[0]:.3f} dB" if near else "not found",
                f"{wanted:.2f} +- 0.02 dB",
            )
        )
    return rows


REQUIRED = {
    "events": "", "recall >= 4 sigma": ">= 0.90", "recall >= 6 sigma": ">= 0.99",
    "false per trace": "<= 0.05", "end found": "", "loss rms / bound": "<= 1.25",
    "loss median / bound": "", "loss coverage": "0.93 to 0.98",
    "reflective rms / pulse": "<= 0.15", "reflective coverage": "",
    "step place rms / bound": "<= 1.5", "step place coverage": "0.93 to 0.98",
}  # fmt: skip


def run(count: int = 300) -> list[Row]:
    cases = [
        standard_case(np.random.default_rng([7, number])) for number in range(count)
    ]
    rows = [
        (f"simulated sets: {key}", f"{value:.4g}", REQUIRED[key])
        for key, value in tabulate(cases).items()
    ]
    share, judged = bend_or_joint(200)
    rows.append(
        (f"bend or joint, two wavelengths ({judged} pairs)", f"{share:.3f}", ">= 0.97")
    )
    drop = drops(100)
    rows += [
        ("drops: length rms", f"{drop['length']:.2f} m", ""),
        ("drops: total loss rms", f"{drop['total']:.3f} dB", ""),
        ("drops: splice loss rms", f"{drop['splice']:.3f} dB", ""),
        ("drops: splices found", f"{drop['found']:.2f}", ""),
        ("drops: false events per trace", f"{drop['false']:.3f}", "<= 0.05"),
    ]
    return rows + house_rows(200) + real_rows()


if __name__ == "__main__":
    for row in run(int(sys.argv[1]) if len(sys.argv) > 1 else 100):
        print(" | ".join(row))
