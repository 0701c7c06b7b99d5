"""The reading of a trace record: its blocks, and what they say in usual units."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.codec._meaning import (
    first_body,
    likely_wavelength,
    split_samples,
)
from eavelight.trace.codec.blocks import (
    Block,
    Checksum,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvent,
    KeyEvents,
    LinkParameters,
    SupplierParameters,
)
from eavelight.trace.codec.text import readable_text
from eavelight.units import SPEED_OF_LIGHT_M_PER_S

TICK_S = 1e-10
"""Times of the layout count 100 ps, one-way."""
SPACING_TICK_S = 1e-14
"""Spacings are stored per 10 000 points."""
NO_COEFFICIENT = (0, -32768)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something that a tolerant reading let pass; a strict one refuses it."""

    kind: str
    """Stable id such as `checksum.wrong`."""
    byte: int
    expected: str
    found: str

    def __str__(self) -> str:
        return (
            f"{self.kind}: byte {self.byte}: expected {self.expected}, "
            f"found {self.found}"
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """The samples that one pulse width gave."""

    pulse_ns: float
    spacing_m: float
    first_m: float
    """Distance of the first sample from the instrument."""
    samples_db: NDArray[np.float64]
    """One-way level, zero at the top of the axis, falling where light is lost."""

    @property
    def positions_m(self) -> NDArray[np.float64]:
        """Distance of each sample from the instrument."""
        steps = np.arange(self.samples_db.size, dtype=np.float64)
        return np.asarray(self.first_m + self.spacing_m * steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEvent:
    """An event as the instrument stored it; never taken for truth."""

    position_m: float
    """From the zero of the record: its first point or user offset."""
    loss_db: float = 0.0
    reflectance_db: float | None = None
    lead_in_db_per_km: float | None = None
    code: str = "0F9999"
    method: str = "LS"
    windows_m: tuple[float, float, float, float] | None = None
    """Left window from, to, right window from, to; None in version 1."""
    peak_m: float | None = None
    comment: str = ""

    @property
    def reflective(self) -> bool:
        """The instrument called it reflective."""
        return self.code[:1] in {"1", "2"}

    @property
    def saturated(self) -> bool:
        """Its peak went over the receiver's top: the reflectance is a bound."""
        return self.code[:1] == "2"

    @property
    def is_end(self) -> bool:
        """The instrument called it the end of the fibre."""
        return self.code[1:2] in {"E", "D"}

    @property
    def added_by_user(self) -> bool:
        """A person put it there."""
        return self.code[1:2] == "A"


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRecord:
    """A whole record; `encode` gives back the bytes it was read from."""

    headed: bool
    """The file begins with the word Map, as version 2 does."""
    map_revision: int
    map_rest: bytes = b""
    blocks: tuple[Block, ...]
    trailing: bytes = b""
    notes: tuple[Note, ...] = ()

    @property
    def version(self) -> int:
        """Version of the layout, 1 or 2."""
        return 2 if self.map_revision >= 200 else 1

    @property
    def general(self) -> GeneralParameters | None:
        """Who measured what; None where missing or damaged."""
        return first_body(self.blocks, GeneralParameters)

    @property
    def supplier(self) -> SupplierParameters | None:
        """The instrument; None where missing or damaged."""
        return first_body(self.blocks, SupplierParameters)

    @property
    def fixed(self) -> FixedParameters:
        """The settings."""
        found = first_body(self.blocks, FixedParameters)
        if found is None:
            raise ValueError("blocks must hold the settings (FxdParams)")
        return found

    @property
    def key_events(self) -> KeyEvents | None:
        """The event table; None where missing or damaged."""
        return first_body(self.blocks, KeyEvents)

    @property
    def link(self) -> LinkParameters | None:
        """The landmarks; None where missing or kept as bytes."""
        return first_body(self.blocks, LinkParameters)

    @property
    def data(self) -> DataPoints:
        """The samples."""
        found = first_body(self.blocks, DataPoints)
        if found is None:
            raise ValueError("blocks must hold the samples (DataPts)")
        return found

    @property
    def checksum(self) -> Checksum | None:
        """The check value; None where missing."""
        return first_body(self.blocks, Checksum)

    @property
    def wavelength_nm(self) -> float:
        """Actual wavelength; the nominal one where the actual makes no sense."""
        nominal = self.general.nominal_wavelength if self.general else 0
        found = likely_wavelength(float(nominal), self.fixed.wavelength / 10)
        if found is None:
            raise ValueError("blocks must state a wavelength")
        return found

    @property
    def pulse_ns(self) -> tuple[float, ...]:
        """Pulse widths; usually one."""
        return tuple(float(width & 0xFFFF) for width in self.fixed.pulse_widths)

    @property
    def group_index(self) -> float:
        """Group index that turns times into distances."""
        return self.fixed.group_index / 1e5

    @property
    def sample_spacing_m(self) -> float:
        """Distance between samples of the first curve."""
        return self.metres(self.fixed.data_spacings[0] * SPACING_TICK_S / TICK_S)

    @property
    def first_sample_m(self) -> float:
        """Distance of the first sample from the instrument."""
        return self.metres(self.fixed.acquisition_offset)

    @property
    def user_offset_m(self) -> float:
        """Where the user put zero, from the instrument."""
        return self.metres(self.general.user_offset if self.general else 0)

    @property
    def range_m(self) -> float:
        """Range setting; may exceed what the samples cover."""
        return self.metres(self.fixed.acquisition_range)

    @property
    def points(self) -> int:
        """Samples in the record."""
        return sum(len(part.raw) for part in self.data.sets) // 2

    @property
    def samples_db(self) -> NDArray[np.float64]:
        """One-way level of the first curve, zero at the top, falling with loss."""
        return self.curves[0].samples_db

    @property
    def curves(self) -> tuple[Curve, ...]:
        """The samples, one curve per pulse width."""
        widths = self.pulse_ns
        levels = split_samples(self.data, self.fixed.points)
        if len(levels) != len(widths):
            levels = (np.concatenate(levels),)
        return tuple(
            Curve(
                pulse_ns=width,
                spacing_m=self.metres(spacing * SPACING_TICK_S / TICK_S),
                first_m=self.first_sample_m,
                samples_db=level,
            )
            for width, spacing, level in zip(
                widths, self.fixed.data_spacings, levels, strict=False
            )
        )

    @property
    def acquired(self) -> datetime | None:
        """Time stamp, read as UTC because the layout names no zone."""
        if self.fixed.time in {0, 0xFFFFFFFF}:
            return None
        return datetime.fromtimestamp(self.fixed.time, tz=UTC)

    @property
    def backscatter_db(self) -> float:
        """Backscatter coefficient for a pulse of 1 ns, negative."""
        return -self.fixed.backscatter / 10

    @property
    def averages(self) -> int | None:
        """Number of averages; None where the writer left it out."""
        return self.fixed.averages or None

    @property
    def averaging_time_s(self) -> float | None:
        """Averaging time as stored; some writers may mean tenths of a second."""
        stored = self.fixed.averaging_time
        return float(stored) if stored else None

    @property
    def loss_threshold_db(self) -> float:
        """Smallest loss that the instrument called an event."""
        return self.fixed.loss_threshold / 1000

    @property
    def reflectance_threshold_db(self) -> float:
        """Smallest reflectance that the instrument called an event, negative."""
        return -self.fixed.reflectance_threshold / 1000

    @property
    def end_threshold_db(self) -> float:
        """Smallest loss that the instrument called the end."""
        return self.fixed.end_threshold / 1000

    @property
    def stored_events(self) -> tuple[StoredEvent, ...]:
        """The instrument's own event table."""
        table = self.key_events
        return tuple(self._stored(event) for event in table.events) if table else ()

    @property
    def stored_loss_db(self) -> float | None:
        """End-to-end loss as stored; writers differ in what it means."""
        return self.key_events.end_to_end_loss / 1000 if self.key_events else None

    @property
    def stored_return_loss_db(self) -> float | None:
        """Return loss as stored; writers differ in what it means."""
        return self.key_events.return_loss / 1000 if self.key_events else None

    @property
    def texts(self) -> Mapping[str, str]:
        """Text fields that hold something, for people."""
        found = {}
        for part in (self.general, self.supplier):
            for name in getattr(part, "__slots__", ()):
                value = getattr(part, name)
                if isinstance(value, bytes) and name != "rest":
                    found[name] = readable_text(value)
        return {name: text for name, text in found.items() if text}

    def metres(self, ticks: float) -> float:
        """Distance for a one-way time in units of 100 ps."""
        return ticks * TICK_S * SPEED_OF_LIGHT_M_PER_S / self.group_index

    def _stored(self, event: KeyEvent) -> StoredEvent:
        places = [self.metres(mark) for mark in event.markers or ()]
        lead_in = event.lead_in
        return StoredEvent(
            position_m=self.metres(event.time),
            loss_db=event.loss / 1000,
            reflectance_db=event.reflectance / 1000 if event.reflectance else None,
            lead_in_db_per_km=None if lead_in in NO_COEFFICIENT else lead_in / 1000,
            code=event.code.decode("latin-1"),
            method=event.method.decode("latin-1"),
            windows_m=(places[0], places[1], places[2], places[3]) if places else None,
            peak_m=places[4] if places else None,
            comment=readable_text(event.comment),
        )
