"""What an analysis hands back; field names follow the published JSON contract."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.detect import Detection
from eavelight.trace.lines import Line
from eavelight.trace.noise import NoiseMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One place on the line; `start_m` to `end_m` is the stretch it hides.

    `loss_db` is one-way as seen from this end (None where it cannot be measured);
    `reflectance_db` is a lower bound where `reflectance_is_bound`.
    """

    position_m: float
    position_u_m: float
    kind: str
    reflective: bool
    loss_db: float | None
    loss_u_db: float | None
    reflectance_db: float | None
    reflectance_u_db: float | None
    reflectance_is_bound: bool
    merged: bool
    start_m: float
    end_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One stretch of fibre between events."""

    from_m: float
    to_m: float
    attenuation_db_per_km: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceAnalysis:
    """Everything read from one trace; lengths count from the end of the lead.

    The fields from `samples_db` on are kept for joint work on several traces.
    """

    wavelength_nm: float
    pulse_ns: float
    group_index: float
    sample_spacing_m: float
    backscatter_db: float
    events: tuple[Event, ...]
    sections: tuple[Section, ...]
    length_m: float | None
    length_u_m: float | None
    loss_db: float | None
    loss_u_db: float | None
    orl_db: float | None
    noise_floor_db: float | None
    points: int
    notes: tuple[str, ...]
    lead_m: float
    tail_m: float
    zero_m: float
    samples_db: NDArray[np.float64]
    noise: NoiseMap
    found: Detection
    lines: tuple[Line, ...]

    def place(self, position_m: float) -> float:
        """Sample index of a position."""
        return (position_m + self.zero_m) / self.sample_spacing_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value and its standard uncertainty."""

    value: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedEvent:
    """One place of the line in the light of all traces taken together.

    `loss_db` maps nominal wavelengths to what the forward traces show. `true_loss_db`
    is the two-way loss where there is one, else a one-way reading with the wider
    uncertainty that an unknown step of the backscatter leaves.
    """

    position_m: float
    position_u_m: float
    kind: str
    reflective: bool
    merged: bool
    loss_db: dict[int, Measured]
    two_way_loss_db: float | None
    two_way_loss_u_db: float | None
    mode_field_step_db: float | None
    true_loss_db: float | None
    true_loss_u_db: float | None
    bend_probability: float | None
    change: str
    change_db: float | None
    change_u_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Several traces of one line read as one."""

    events: tuple[JoinedEvent, ...]
    length_m: float | None
    end_moved_m: float | None
    notes: tuple[str, ...]
