"""The blocks of a trace record, field by field, in the units that the bytes hold.

Numbers are the raw integers and texts the raw bytes, so that a record is written back
unchanged. Fields that the first version of the layout lacks are None there.
Times are one-way, in 100 ps unless stated.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneralParameters:
    """Who measured what, from where to where."""

    language: bytes = b"EN"
    cable_id: bytes = b""
    fibre_id: bytes = b""
    fibre_type: int | None = None
    """Number of the G-series recommendation, such as 652."""
    nominal_wavelength: int
    """Whole nanometres."""
    originating_location: bytes = b""
    terminating_location: bytes = b""
    cable_code: bytes = b""
    data_flag: bytes = b"BC"
    user_offset: int = 0
    user_offset_distance: int | None = None
    """Ten times the unit of distance."""
    operator: bytes = b""
    comment: bytes = b""
    rest: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierParameters:
    """The instrument."""

    supplier: bytes = b""
    mainframe: bytes = b""
    mainframe_serial: bytes = b""
    module: bytes = b""
    module_serial: bytes = b""
    software: bytes = b""
    other: bytes = b""
    rest: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedParameters:
    """Settings of the measurement."""

    time: int
    """Seconds since 1970; the layout names no time zone."""
    distance_unit: bytes = b"mt"
    wavelength: int
    """Tenths of a nanometre."""
    acquisition_offset: int = 0
    acquisition_offset_distance: int | None = None
    pulse_widths: tuple[int, ...]
    """Nanoseconds."""
    data_spacings: tuple[int, ...]
    """100 ps per 10 000 points, one-way."""
    points: tuple[int, ...]
    group_index: int
    """Times 100 000."""
    backscatter: int
    """Minus 0.1 dB at a pulse of 1 ns, stored positive."""
    averages: int = 0
    averaging_time: int | None = None
    """Seconds, or tenths: writers differ."""
    acquisition_range: int = 0
    acquisition_range_distance: int | None = None
    front_panel_offset: int = 0
    noise_floor: int = 0
    """Not comparable between writers."""
    noise_floor_scale: int = 1000
    power_offset: int = 0
    loss_threshold: int = 0
    """0.001 dB."""
    reflectance_threshold: int = 0
    """Minus 0.001 dB."""
    end_threshold: int = 0
    """0.001 dB."""
    trace_type: bytes | None = None
    window: tuple[int, ...] | None = None
    rest: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyEvent:
    """One event as the instrument stored it."""

    number: int
    time: int
    lead_in: int
    """0.001 dB/km of the fibre before the event; 0 and -32768 mean none."""
    loss: int
    """0.001 dB, negative for a gain."""
    reflectance: int
    """0.001 dB, negative; 0 means not reflective."""
    code: bytes
    method: bytes
    markers: tuple[int, ...] | None = None
    """Left window, right window, peak."""
    comment: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyEvents:
    """The event table of the instrument and its totals, all as stored."""

    events: tuple[KeyEvent, ...]
    end_to_end_loss: int = 0
    """0.001 dB."""
    end_to_end_markers: tuple[int, ...] = (0, 0)
    return_loss: int = 0
    """0.001 dB."""
    return_loss_markers: tuple[int, ...] = (0, 0)
    rest: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Landmark:
    """A thing on the map beside the line; this layout was never seen in a record."""

    number: int
    code: bytes
    location: int
    related_event: int
    longitude: int
    latitude: int
    fibre_correction: int
    """0.01 percent."""
    sheath_entering: int
    sheath_leaving: int
    units: bytes
    mode_field_diameter: int
    """0.01 µm."""
    comment: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkParameters:
    """The landmarks of a line."""

    landmarks: tuple[Landmark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleSet:
    """Samples that share one scale factor."""

    scale: int
    """1000 stands for 1."""
    raw: bytes
    """Unsigned 16-bit samples, little-endian; 0.001 dB of attenuation times scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DataPoints:
    """The samples."""

    total: int
    sets: tuple[SampleSet, ...]
    rest: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checksum:
    """The stored check value.

    A right one is computed anew when the record is written; a wrong one, the normal
    state of some writers, is written back as it was.
    """

    stored: int = 0
    right: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Opaque:
    """A block kept byte for byte: unknown, proprietary, repeated or damaged."""

    raw: bytes


Body = (
    GeneralParameters
    | SupplierParameters
    | FixedParameters
    | KeyEvents
    | LinkParameters
    | DataPoints
    | Checksum
    | Opaque
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One block in the order of the file."""

    name: bytes
    revision: int
    headed: bool
    """The block begins with its own name and a zero byte."""
    body: Body

    @property
    def version(self) -> int:
        """Layout of this block: 2 from revision 200 on, else 1."""
        return 2 if self.revision >= 200 else 1
