"""Plants and instruments that the tests of the trace analysis share."""

import numpy as np

from eavelight.demo.trace_simulator import (
    Fibre,
    Instrument,
    Joint,
    Part,
    SimulatedTrace,
    simulate_trace,
)
from eavelight.trace.analyse import analyse
from eavelight.trace.results import Event, TraceAnalysis

SHORT = Instrument(
    pulse_ns=10.0, spacing_m=0.25, range_m=600.0, receiver_ns=2.0,
    noise_a=1e-8, noise_b=1e-6, saturation_db=20.0,
)  # fmt: skip
LONG = Instrument(pulse_ns=100.0, spacing_m=1.276, range_m=16_000.0, receiver_ns=13.6)


def fibre(length_m: float, seed: int, **more: object) -> Fibre:
    return Fibre(length_m=length_m, seed=seed, pattern_db2_m=5e-4, **more)  # type: ignore[arg-type]


def connector(loss_db: float, reflectance_db: float = -55.0) -> Joint:
    return Joint(kind="connector", loss_db=loss_db, reflectance_db=reflectance_db)


def splice(loss_db: float | dict[int, float]) -> Joint:
    return Joint(kind="splice", loss_db=loss_db)


def end(reflectance_db: float | None = -55.0) -> Joint:
    return Joint(kind="end", reflectance_db=reflectance_db)


def drop(
    *inner: Part, first_db: float = 0.25, last_db: float = 0.2
) -> tuple[Part, ...]:
    """Launch lead of 150 m, what lies between the connectors, receive lead of 120 m."""
    return (
        fibre(150.0, 1), connector(first_db), *inner, connector(last_db, -60.0),
        fibre(120.0, 4), end(),
    )  # fmt: skip


PLAIN = (fibre(20.0, 2), splice(0.1), fibre(12.0, 3))


def taken(
    plant: tuple[Part, ...],
    instrument: Instrument = SHORT,
    wavelength_nm: int = 1550,
    *,
    seed: int = 0,
    reverse: bool = False,
) -> SimulatedTrace:
    rng = np.random.default_rng([seed, wavelength_nm])
    return simulate_trace(plant, instrument, wavelength_nm, rng=rng, reverse=reverse)


def analysed(
    trace: SimulatedTrace, lead_m: float = 0.0, tail_m: float = 0.0
) -> TraceAnalysis:
    return analyse(
        trace.samples_db,
        sample_spacing_m=trace.spacing_m,
        pulse_ns=trace.pulse_ns,
        wavelength_nm=trace.wavelength_nm,
        group_index=trace.group_index,
        backscatter_db=trace.backscatter_db,
        lead_m=lead_m,
        tail_m=tail_m,
    )


def inner(found: TraceAnalysis) -> list[Event]:
    return [
        event for event in found.events if event.kind not in {"launch", "end", "ghost"}
    ]


def near(found: TraceAnalysis, position_m: float, reach_m: float = 2.0) -> Event:
    close = [
        event for event in found.events if abs(event.position_m - position_m) < reach_m
    ]
    assert close, f"nothing within {reach_m} m of {position_m} m"
    return min(close, key=lambda event: abs(event.position_m - position_m))
