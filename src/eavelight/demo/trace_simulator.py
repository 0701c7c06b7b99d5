"""A simulated reflectometer: plant and instrument in, one stored trace and truth out.

It knows the glass (levels, frozen backscatter pattern, echoes) and the receiver
(bandwidth, tails, overload, noise, clamp, rounding) and shares nothing with the
analysis. The pattern belongs to the fibre: its seed is a property of the part, the
time noise comes from the generator that is passed in.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

Array = NDArray[np.float64]

LIGHT_M_PER_NS = 0.299792458
ATTENUATION_DB_PER_KM = {1310: 0.33, 1490: 0.21, 1550: 0.19, 1625: 0.21, 1650: 0.23}
BACKSCATTER_DB = {1310: -79.5, 1490: -81.3, 1550: -82.0, 1625: -82.8, 1650: -83.5}
"""Two-way level of a pulse of one nanosecond; ordinary values of G.652 fibre."""


def _at(table: dict[int, float], wavelength_nm: int) -> float:
    known = sorted(table)
    return float(np.interp(wavelength_nm, known, [table[key] for key in known]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fibre:
    """One length of fibre; `seed` fixes its frozen backscatter pattern."""

    length_m: float
    attenuation_db_per_km: dict[int, float] = field(
        default_factory=lambda: dict(ATTENUATION_DB_PER_KM)
    )
    backscatter_db: dict[int, float] = field(
        default_factory=lambda: dict(BACKSCATTER_DB)
    )
    pattern_db2_m: float = 1e-3
    seed: int = 0

    def reversed(self) -> "Fibre":
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A splice, connector, bend or splitter passed towards the trunk."""

    kind: str
    loss_db: float | dict[int, float] = 0.0
    reflectance_db: float | None = None

    def loss(self, wavelength_nm: int) -> float:
        if isinstance(self.loss_db, dict):
            return _at(self.loss_db, wavelength_nm)
        return self.loss_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Splitter:
    """A splitter seen from the line terminal: the branches return together."""

    branches: tuple[tuple["Part", ...], ...]
    excess_db: float = 1.0


Part = Fibre | Joint | Splitter


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """Reflectometer settings and habits.

    Noise is relative to the backscatter at the port: variance
    `a + b P + c P^2` per stored sample, coloured by the receiver.
    """

    pulse_ns: float = 100.0
    spacing_m: float = 1.0
    range_m: float = 4000.0
    group_index: float = 1.468
    receiver_ns: float = 5.0
    rise_fraction: float = 0.1
    noise_a: float = 2.0e-9
    noise_b: float = 1.8e-7
    noise_c: float = 1.5e-6
    tail_db: float = -40.0
    tail_ns: float = 50.0
    slow_tail_db: float = -55.0
    slow_tail_ns: float = 1000.0
    saturation_db: float | None = 12.0
    hold_ns: float = 150.0
    ringing_db: float = 0.0
    front_reflectance_db: float | None = -45.0
    offset_db: float = 20.0
    clamp_db: float | None = 60.0
    step_db: float = 0.001
    ghosts: bool = True
    phase: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TruthEvent:
    """What was put in; `apparent_db` is what one direction can see."""

    position_m: float
    kind: str
    loss_db: float
    apparent_db: float
    reflectance_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedTrace:
    """One stored trace with its truth."""

    samples_db: Array
    clean_db: Array
    spacing_m: float
    first_m: float
    pulse_ns: float
    group_index: float
    wavelength_nm: int
    backscatter_db: float
    events: tuple[TruthEvent, ...]


@dataclass(slots=True)
class _Grid:
    """Impulse response on fine cells, in units of the launched pulse."""

    cell_m: float
    scatter: Array
    spikes: Array
    mirrors: list[tuple[float, float, float]] = field(default_factory=list)
    events: list[TruthEvent] = field(default_factory=list)

    def spike(self, position_m: float, power: float) -> None:
        index = position_m / self.cell_m
        low = int(np.floor(index))
        if 0 <= low < len(self.spikes) - 1:
            self.spikes[low] += power * (1.0 - (index - low))
            self.spikes[low + 1] += power * (index - low)


@dataclass(frozen=True, slots=True)
class _Setting:
    wavelength_nm: int
    group_index: float


def reverse_plant(plant: tuple[Part, ...]) -> tuple[Part, ...]:
    """The same plant from its other end (no splitter with branches inside).

    The open end stays behind the last fibre: the instrument now sits where it was.
    """
    open_end = [part for part in plant[-1:] if isinstance(part, Joint)]
    return (*reversed(plant[: len(plant) - len(open_end)]), *open_end)


def _pattern(fibre: Fibre, wavelength_nm: int, cell_m: float, cells: int) -> Array:
    variance = (np.log(10.0) / 5.0) ** 2 * fibre.pattern_db2_m / cell_m
    if variance <= 0.0:
        return np.ones(cells)
    rng = np.random.default_rng([fibre.seed, wavelength_nm])
    return np.asarray(rng.gamma(1.0 / variance, variance, cells))


def _coefficient(parts: tuple[Part, ...], wavelength_nm: int) -> float | None:
    for part in parts:
        if isinstance(part, Fibre):
            return _at(part.backscatter_db, wavelength_nm)
    return None


def _walk(
    parts: tuple[Part, ...],
    grid: _Grid,
    setting: _Setting,
    *,
    start_m: float = 0.0,
    power: float = 1.0,
    flipped: bool = False,
) -> None:
    """Lay the parts on the grid; `power` is the one-way transmission so far."""
    position, before = start_m, None
    for number, part in enumerate(parts):
        if isinstance(part, Fibre):
            position, power = _lay_fibre(
                part, grid, setting, (position, power, flipped)
            )
            before = _at(part.backscatter_db, setting.wavelength_nm)
        elif isinstance(part, Joint):
            after = _coefficient(parts[number + 1 :], setting.wavelength_nm)
            step = 0.0 if before is None or after is None else (before - after) / 2.0
            loss = part.loss(setting.wavelength_nm)
            grid.events.append(
                TruthEvent(
                    position_m=position,
                    kind=part.kind,
                    loss_db=loss,
                    apparent_db=loss + step,
                    reflectance_db=part.reflectance_db,
                )
            )
            if part.reflectance_db is not None:
                strength = 10.0 ** (part.reflectance_db / 10.0)
                grid.spike(position, strength * power**2)
                grid.mirrors.append((position, strength, power))
            power *= 10.0 ** (-loss / 10.0)
        else:
            count = len(part.branches)
            share = 10.0 * np.log10(count) + part.excess_db
            grid.events.append(
                TruthEvent(
                    position_m=position,
                    kind="splitter",
                    loss_db=float(share),
                    apparent_db=float(share - 5.0 * np.log10(count)),
                    reflectance_db=None,
                )
            )
            for branch in part.branches:
                _walk(
                    branch,
                    grid,
                    setting,
                    start_m=position,
                    power=power * 10.0 ** (-share / 10.0),
                    flipped=flipped,
                )


def _lay_fibre(
    fibre: Fibre, grid: _Grid, setting: _Setting, at: tuple[float, float, bool]
) -> tuple[float, float]:
    position, power, flipped = at
    wavelength, cell = setting.wavelength_nm, grid.cell_m
    alpha = _at(fibre.attenuation_db_per_km, wavelength) / 1000.0
    level = 10.0 ** (_at(fibre.backscatter_db, wavelength) / 10.0)
    per_m = level / (LIGHT_M_PER_NS / (2.0 * setting.group_index))
    cells = int(np.ceil(fibre.length_m / cell)) + 1
    pattern = _pattern(fibre, wavelength, cell, cells)
    if flipped:
        pattern = pattern[::-1]
    edges = np.minimum(np.arange(cells + 1) * cell, fibre.length_m)
    middles = 0.5 * (edges[1:] + edges[:-1])
    energy = per_m * np.diff(edges) * pattern
    energy *= power**2 * 10.0 ** (-alpha * middles / 5.0)
    index = (position + middles) / cell
    low = np.floor(index).astype(int)
    inside = low < len(grid.scatter) - 1
    low, part, energy = low[inside], (index - low)[inside], energy[inside]
    np.add.at(grid.scatter, low, energy * (1.0 - part))
    np.add.at(grid.scatter, low + 1, energy * part)
    end = power * 10.0 ** (-alpha * fibre.length_m / 10.0)
    return position + fibre.length_m, end


def _echoes(mirrors: list[tuple[float, float, float]]) -> Iterator[tuple[float, float]]:
    """Second-order echoes: out to the far mirror twice, once back to the near one."""
    for near, near_strength, near_power in mirrors:
        for far, far_strength, far_power in mirrors:
            if far > near:
                power = near_strength * far_strength**2
                yield (
                    2.0 * far - near,
                    power * far_power**4 / near_power**2,
                )


def _pulse(instrument: Instrument, cell_m: float) -> Array:
    """Sampled pulse of unit height with raised-cosine edges, area kept."""
    length = instrument.pulse_ns * LIGHT_M_PER_NS / (2.0 * instrument.group_index)
    oversample = 16
    fine = np.ones(max(1, round(length / cell_m * oversample)))
    rise = max(1, round(len(fine) * instrument.rise_fraction))
    edge = np.hanning(rise + 2)[1:-1]
    shape = np.convolve(fine, edge / edge.sum())
    padded = np.concatenate([shape, np.zeros(-len(shape) % oversample)])
    # centred on the rectangle that it replaces: the first half of the rise comes early
    return np.asarray(padded.reshape(-1, oversample).mean(axis=1))


def _received(grid: _Grid, instrument: Instrument) -> Array:
    """Convolve with pulse and receiver; linear power on the fine grid."""
    per_ns = LIGHT_M_PER_NS / (2.0 * instrument.group_index) / grid.cell_m
    light = grid.scatter + grid.spikes
    shape = _pulse(instrument, grid.cell_m)
    size = len(light) + len(shape)
    spectrum = np.fft.rfft(light, size) * np.fft.rfft(shape, size)
    power = np.fft.irfft(spectrum, size)[: len(light)]
    # the rise is symmetric about the ideal edge
    early = instrument.rise_fraction * len(shape) / (1 + instrument.rise_fraction) / 2
    # a cell of pulse covers the cell behind its spike: half a cell later
    places = np.arange(len(power)) + early - 0.5
    power = np.interp(places, np.arange(len(power)), power)
    if instrument.receiver_ns > 0.0:
        power = gaussian_filter1d(
            power, instrument.receiver_ns * per_ns, mode="nearest"
        )
    total = power.copy()
    for level, time in (
        (instrument.tail_db, instrument.tail_ns),
        (instrument.slow_tail_db, instrument.slow_tail_ns),
    ):
        keep = np.exp(-1.0 / (time * per_ns))
        # a share of the peak hangs on: the filter's response to a full pulse is 1
        settle = 1.0 - np.exp(-instrument.pulse_ns / time)
        total += (
            10.0 ** (level / 10.0) / settle * lfilter([1.0 - keep], [1.0, -keep], power)
        )
    return np.asarray(np.maximum(total, 0.0))


def _overloaded(
    power: Array, instrument: Instrument, cell_m: float, top: float
) -> Array:
    """Clip, hold, and add the slow recovery after each overload."""
    clipped = np.minimum(power, top)
    over = power >= top
    begins = np.flatnonzero(~over[:-1] & over[1:]) + 1
    if over[0]:
        begins = np.concatenate([[0], begins])
    ends = np.flatnonzero(over[:-1] & ~over[1:]) + 1
    per_ns = LIGHT_M_PER_NS / (2.0 * instrument.group_index) / cell_m
    for begin, end in zip(begins, ends, strict=False):
        # recovery grows with the energy that came in and then saturates
        share = min(1.0, float(power[begin:end].max()) / top / 50.0)
        hold_ns = instrument.hold_ns * share**0.5
        stop = min(int(end) + int(hold_ns * per_ns), len(clipped))
        clipped[end:stop] = top
        time = np.arange(len(clipped) - stop) / per_ns
        tail = 0.7 * np.exp(-time / (2.0 * hold_ns))
        tail += 0.3 * np.exp(-time / (8.0 * hold_ns))
        clipped[stop:] = np.minimum(
            clipped[stop:] + share * top * 10.0**-3.2 * tail, top
        )
    return clipped


def _ringing(power: Array, instrument: Instrument, per_ns: float) -> Array:
    """Damped ripple after the launch, as a share of the level."""
    time = np.arange(len(power)) / per_ns
    wave = np.exp(-time / 600.0) * np.cos(2.0 * np.pi * time / 320.0)
    return power * 10.0 ** (-instrument.ringing_db * wave / 5.0)


def _noise(power: Array, instrument: Instrument, rng: np.random.Generator) -> Array:
    spacing_ns = instrument.spacing_m * 2.0 * instrument.group_index / LIGHT_M_PER_NS
    white = rng.standard_normal(len(power) + 64)
    width = instrument.receiver_ns / spacing_ns
    if width > 0.2:
        white = gaussian_filter1d(white, width, mode="wrap")
        impulse = np.zeros(257)
        impulse[128] = 1.0
        white /= np.sqrt(np.sum(gaussian_filter1d(impulse, width) ** 2))
    variance = (
        instrument.noise_a + instrument.noise_b * power + instrument.noise_c * power**2
    )
    return white[: len(power)] * np.sqrt(variance)


def simulate_trace(
    plant: tuple[Part, ...],
    instrument: Instrument,
    wavelength_nm: int,
    *,
    rng: np.random.Generator,
    reverse: bool = False,
) -> SimulatedTrace:
    """One stored trace of `plant`; deterministic for a given generator state."""
    footprint = instrument.pulse_ns * LIGHT_M_PER_NS / (2.0 * instrument.group_index)
    cell = min(footprint / 8.0, instrument.spacing_m / 2.0)
    cells = int((instrument.range_m + 4.0 * footprint) / cell) + 8
    grid = _Grid(cell, np.zeros(cells), np.zeros(cells))
    seen = reverse_plant(plant) if reverse else plant
    reference = _coefficient(seen, wavelength_nm)
    if reference is None:
        raise ValueError("plant must hold at least one fibre")
    if instrument.front_reflectance_db is not None:
        strength = 10.0 ** (instrument.front_reflectance_db / 10.0)
        grid.spike(0.0, strength)
        grid.mirrors.append((0.0, strength, 1.0))
    _walk(seen, grid, _Setting(wavelength_nm, instrument.group_index), flipped=reverse)
    if instrument.ghosts:
        for position, power in _echoes(grid.mirrors):
            grid.spike(position, power)
    launch = 10.0 ** (reference / 10.0) * instrument.pulse_ns
    received = _received(grid, instrument) / launch
    per_ns = LIGHT_M_PER_NS / (2.0 * instrument.group_index) / cell
    if instrument.ringing_db:
        received = _ringing(received, instrument, per_ns)
    if instrument.saturation_db is not None:
        top = 10.0 ** (instrument.saturation_db / 5.0)
        received = _overloaded(received, instrument, cell, top)
    count = int(instrument.range_m / instrument.spacing_m)
    phase = rng.uniform() if instrument.phase is None else instrument.phase
    # the first sample stays within half a step of the port
    first = (phase - 0.5) * instrument.spacing_m
    places = (first + np.arange(count) * instrument.spacing_m) / cell
    clean = np.interp(places, np.arange(cells), received)
    noisy = clean + _noise(clean, instrument, rng)
    if instrument.saturation_db is not None:
        noisy = np.minimum(noisy, 10.0 ** (instrument.saturation_db / 5.0))
    return SimulatedTrace(
        samples_db=_stored(noisy, instrument),
        clean_db=_stored(clean, instrument),
        spacing_m=instrument.spacing_m,
        first_m=first,
        pulse_ns=instrument.pulse_ns,
        group_index=instrument.group_index,
        wavelength_nm=wavelength_nm,
        backscatter_db=reference,
        events=tuple(sorted(grid.events, key=lambda event: event.position_m)),
    )


def _stored(power: Array, instrument: Instrument) -> Array:
    """Attenuation axis as a record stores it: clamped and rounded."""
    clamp = 65.535 if instrument.clamp_db is None else instrument.clamp_db
    floor = 10.0 ** (-(clamp - instrument.offset_db) / 5.0)
    level = -5.0 * np.log10(np.maximum(power, floor)) + instrument.offset_db
    stepped = np.round(level / instrument.step_db) * instrument.step_db
    return np.asarray(np.clip(stepped, 0.0, clamp))
