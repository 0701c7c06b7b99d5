"""New records from plain numbers, for simulators and tests."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavelight.trace.codec._meaning import WAVELENGTHS_NM
from eavelight.trace.codec.blocks import (
    Block,
    Body,
    Checksum,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvent,
    KeyEvents,
    Opaque,
    SampleSet,
    SupplierParameters,
)
from eavelight.trace.codec.record import (
    SPACING_TICK_S,
    TICK_S,
    StoredEvent,
    TraceRecord,
)
from eavelight.trace.codec.sr4731 import decode_sr4731, encode
from eavelight.units import SPEED_OF_LIGHT_M_PER_S

LOWEST_DB = -65.535
"""Bottom of the axis: 65 535 steps of 0.001 dB."""
# Revisions that writers of each version put before each block.
REVISIONS = {1: {b"GenParams": 100, b"Cksum": 100}, 2: {}}
OTHER_REVISION = {1: 101, 2: 200}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything about a new record that has a usual value."""

    version: int = 2
    acquired: datetime | None = None
    """With a time zone; None leaves the stamp at zero."""
    texts: Mapping[str, str] = field(default_factory=dict)
    """By field name of `GeneralParameters` and `SupplierParameters`."""
    fibre_type: int = 652
    distance_unit: str = "mt"
    backscatter_db: float = -80.0
    averages: int = 0
    averaging_time_s: int = 0
    range_m: float | None = None
    """None: what the samples cover."""
    first_sample_m: float = 0.0
    user_offset_m: float = 0.0
    loss_threshold_db: float = 0.05
    reflectance_threshold_db: float = -65.0
    end_threshold_db: float = 3.0
    total_loss_db: float = 0.0
    return_loss_db: float = 0.0
    proprietary: Mapping[str, bytes] = field(default_factory=dict)
    """Blocks kept byte for byte, written before the samples."""


def new_record(
    samples_db: ArrayLike,
    *,
    spacing_m: float,
    wavelength_nm: float,
    pulse_ns: float | Sequence[float],
    group_index: float,
    events: Sequence[StoredEvent] | None = None,
    settings: Settings | None = None,
) -> TraceRecord:
    """A well-formed record of version 1 or 2.

    Values are rounded to the steps of the layout: 0.001 dB, 1 ns, 0.1 nm.

    Parameters
    ----------
    samples_db : array_like of shape (N,) or (K, N)
        One-way level, zero at the top and falling with loss, one row per pulse
        width; levels below -65.535 dB are stored as that [dB]
    spacing_m : float
        Distance between samples [m]
    wavelength_nm : float
        Actual wavelength [nm]
    pulse_ns : float or sequence of K floats
        Pulse width [ns]
    group_index : float
        Group index that turned times into distances [1]
    events : sequence of StoredEvent, optional
        Event table; None writes no such block [1]
    settings : Settings, optional
        Everything else [1]

    Returns
    -------
    record : TraceRecord
        The record as a reader will see it [1]

    Examples
    --------
    >>> record = new_record([-1.0, -1.5], spacing_m=1.0, wavelength_nm=1310,
    ...     pulse_ns=10, group_index=1.468)
    >>> record.samples_db
    array([-1. , -1.5])
    """
    chosen = settings or Settings()
    if chosen.version not in {1, 2}:
        raise ValueError(f"version must be 1 or 2, got {chosen.version}")
    levels = _counts(samples_db)
    pulses = tuple(round(width) for width in np.atleast_1d(np.asarray(pulse_ns)))
    _check(pulses, len(levels), group_index=group_index, wavelength_nm=wavelength_nm)
    scale = _Ticks(index=round(group_index * 1e5))
    spacing = scale.ticks(spacing_m, TICK_S / SPACING_TICK_S)
    if spacing < 1:
        raise ValueError(f"spacing_m must be above zero, got {spacing_m}")
    shape = {
        "wavelength": round(10 * wavelength_nm),
        "pulse_widths": pulses,
        "data_spacings": (spacing,) * len(pulses),
        "points": tuple(level.size for level in levels),
    }
    bodies: list[tuple[bytes, Body]] = [
        (b"GenParams", _general(chosen, round(wavelength_nm), scale)),
        (b"SupParams", SupplierParameters(**_texts(SupplierParameters, chosen))),
        (b"FxdParams", _fixed(shape, scale, chosen)),
    ]
    if events is not None:
        bodies.append((b"KeyEvents", _events(events, scale, chosen)))
    bodies += [
        (name.encode("ascii"), Opaque(raw=raw))
        for name, raw in chosen.proprietary.items()
    ]
    bodies += [(b"DataPts", _data(levels)), (b"Cksum", Checksum())]
    draft = TraceRecord(
        headed=chosen.version == 2,
        map_revision=100 * chosen.version,
        blocks=tuple(_block(name, body, chosen.version) for name, body in bodies),
    )
    return decode_sr4731(encode(draft), name="new record")


def _check(
    pulses: tuple[int, ...], curves: int, *, group_index: float, wavelength_nm: float
) -> None:
    if len(pulses) != curves or min(pulses) < 1:
        raise ValueError(
            f"pulse_ns must be at least 1 for each of {curves} curves, got {pulses}"
        )
    if not 1.0 <= group_index <= 2.0:
        raise ValueError(f"group_index must be between 1 and 2, got {group_index}")
    if not WAVELENGTHS_NM[0] <= wavelength_nm <= WAVELENGTHS_NM[1]:
        raise ValueError(
            f"wavelength_nm must be between 600 and 1800, got {wavelength_nm}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ticks:
    """Distances as one-way times in 100 ps."""

    index: int

    def ticks(self, metres: float, per_tick: float = 1.0) -> int:
        seconds = metres * self.index / 1e5 / SPEED_OF_LIGHT_M_PER_S
        return round(seconds / TICK_S * per_tick)


def _counts(samples_db: ArrayLike) -> list[NDArray[np.uint16]]:
    levels = np.atleast_2d(np.asarray(samples_db, dtype=float))
    if levels.ndim != 2 or levels.shape[1] < 2:
        raise ValueError(
            f"samples_db must hold two samples or more, got {levels.shape}"
        )
    if not np.all(np.isfinite(levels)) or levels.max() > 0.0005:
        raise ValueError("samples_db must be finite and at most 0: move the axis")
    stored = np.round(-1000.0 * np.clip(levels, LOWEST_DB, 0.0))
    return list(stored.astype("<u2"))


def _texts(kind: type[Any], chosen: Settings) -> dict[str, bytes]:
    names = {
        item.name
        for item in fields(kind)
        if item.default == b"" and item.name != "rest"
    }
    # An empty text is one blank in version 2 and nothing in version 1.
    empty = b" " if chosen.version == 2 else b""
    return {
        name: chosen.texts[name].encode() if chosen.texts.get(name) else empty
        for name in names
    }


def _general(chosen: Settings, nominal: int, scale: _Ticks) -> GeneralParameters:
    texts = {
        **_texts(GeneralParameters, chosen),
        **_texts(SupplierParameters, chosen),
    }
    unknown = sorted(set(chosen.texts) - set(texts))
    if unknown:
        raise ValueError(f"texts must name text fields of a record, got {unknown}")
    return GeneralParameters(
        **_texts(GeneralParameters, chosen),
        fibre_type=chosen.fibre_type,
        nominal_wavelength=nominal,
        user_offset=scale.ticks(chosen.user_offset_m),
        user_offset_distance=0,
    )


def _fixed(shape: dict[str, Any], scale: _Ticks, chosen: Settings) -> FixedParameters:
    points, spacing = shape["points"], shape["data_spacings"][0]
    covered = max(points) * spacing * SPACING_TICK_S / TICK_S
    return FixedParameters(
        **shape,
        time=round(chosen.acquired.timestamp()) if chosen.acquired else 0,
        distance_unit=chosen.distance_unit.encode("ascii"),
        acquisition_offset=scale.ticks(chosen.first_sample_m),
        acquisition_offset_distance=0,
        group_index=scale.index,
        backscatter=round(-10 * chosen.backscatter_db),
        averages=chosen.averages,
        averaging_time=chosen.averaging_time_s,
        acquisition_range=round(covered)
        if chosen.range_m is None
        else scale.ticks(chosen.range_m),
        acquisition_range_distance=0,
        loss_threshold=round(1000 * chosen.loss_threshold_db),
        reflectance_threshold=round(-1000 * chosen.reflectance_threshold_db),
        end_threshold=round(1000 * chosen.end_threshold_db),
        trace_type=b"ST",
        window=(0, 0, 0, 0),
    )


def _block(name: bytes, body: Body, version: int) -> Block:
    own = isinstance(body, Opaque)
    revision = REVISIONS[version].get(name, OTHER_REVISION[version])
    return Block(
        name=name,
        revision=100 if own else revision,
        headed=version == 2 and not own,
        body=body,
    )


def _data(levels: list[NDArray[np.uint16]]) -> DataPoints:
    sets = tuple(SampleSet(scale=1000, raw=level.tobytes()) for level in levels)
    return DataPoints(total=sum(level.size for level in levels), sets=sets)


def _events(
    events: Sequence[StoredEvent], scale: _Ticks, chosen: Settings
) -> KeyEvents:
    stored = tuple(
        _event(number, event, scale) for number, event in enumerate(events, start=1)
    )
    end = stored[-1].time if stored else 0
    return KeyEvents(
        events=stored,
        end_to_end_loss=round(1000 * chosen.total_loss_db),
        end_to_end_markers=(0, end),
        return_loss=round(1000 * chosen.return_loss_db),
        return_loss_markers=(0, end),
    )


def _event(number: int, event: StoredEvent, scale: _Ticks) -> KeyEvent:
    place = event.position_m
    windows = event.windows_m or (place, place, place, place)
    peak = place if event.peak_m is None else event.peak_m
    return KeyEvent(
        number=number,
        time=scale.ticks(place),
        lead_in=round(1000 * (event.lead_in_db_per_km or 0.0)),
        loss=round(1000 * event.loss_db),
        reflectance=round(1000 * (event.reflectance_db or 0.0)),
        code=event.code.encode("latin-1"),
        method=event.method.encode("latin-1"),
        markers=tuple(scale.ticks(mark) for mark in (*windows, peak)),
        comment=event.comment.encode(),
    )
