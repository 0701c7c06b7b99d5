"""Numbers of judgement that the room is given: margins, shade, thresholds of the day.

None of them is a limit of a standard. They live as data with their source beside
them; the functions of this room take them as arguments.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """Beam and diffuse light that get past trees, eaves or neighbours, as shares."""

    beam_passes: float = 1.0
    sky_passes: float = 1.0

    def __post_init__(self) -> None:
        for share in (self.beam_passes, self.sky_passes):
            if not 0.0 <= share <= 1.0:
                raise ValueError(f"shade must pass 0 to 1 of the light, got {share}")


OPEN = Shade()
"""Nothing in the way of the sun."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hood:
    """A cover over the box, with air between: its reach, and what it lets through.

    A sheet gets warm itself: `passes` is the part of the sun on it that reaches the
    top of the box.
    """

    reach_m: float
    passes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GridMargins:
    """What is added to nine modelled years of the grid, and how far a cell reaches."""

    hot_k: float
    hot_oceanic_europe_k: float
    cold_k: float
    u_k: float
    farthest_km: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSteps:
    """From the 99 % and 1 % design temperatures of a station to its extremes."""

    below_99_percent_k: float
    above_1_percent_k: float
    u_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DampNight:
    """The night that dew is judged by: below the mean of the year, and how sure."""

    below_mean_k: float
    u_relative_humidity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mounting:
    """What is compared when somebody asks where to mount the box."""

    hood: Hood
    full_shade: Shade
    worth_doing_k: float
    cycling_k: float
    hot_without_rating_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayThresholds:
    """When the weather of a day calls for a note."""

    splicer_low_c: float
    splicer_high_c: float
    arc_check_height_m: float
    arc_check_step_k: float
    frost_c: float
    tape_low_c: float
    pvc_low_c: float
    pe_low_c: float
    meter_exact_low_c: float
    meter_exact_high_c: float
    meter_drift_db: float
    wind_splice_m_per_s: float
    wind_ladder_m_per_s: float
    hot_skin_c: float
    chill_warn_c: float
    end_face_margin_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryPlace:
    """What heat and cold do to a battery; `lead_share` is usable capacity by °C."""

    rated_c: float
    warm_above_rated_k: float
    halving_k: float
    lead_cold_below_c: float
    lead_share: Mapping[float, float]
    lithium_charge_low_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """All numbers of judgement of this room."""

    shades: Mapping[str, Shade]
    grid: GridMargins
    station: StationSteps
    night: DampNight
    mounting: Mounting
    day: DayThresholds
    battery: BatteryPlace
    season_db_per_km: float
