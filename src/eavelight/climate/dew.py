"""When a box gets wet inside: the lid at night, its margin above dew, what helps."""

from dataclasses import dataclass

import numpy as np

from eavelight.climate.films import film_forced_tarp
from eavelight.climate.heat import NATURAL_FILM, steady_box
from eavelight.climate.humidity import dew_point, frost_point, vapour_pressure
from eavelight.climate.sky import sky_temperature

NIGHT_WIND_M_PER_S = 0.3
# The lid model is good to about a kelvin either way.
LID_MARGIN_K = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NightBox:
    """A box on a clear night; the lid is wet when outside air is as damp as this."""

    outside_c: float
    sky_c: float
    lid_c: float
    air_c: float
    wet_from_humidity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DewRisk:
    """Whether a box gets wet: "dry", "wet" or "cannot tell"; what helps, by id.

    `wet_at_c` is the dew point, or the frost point where that is below freezing.
    """

    verdict: str
    lid_above_dew_k: float
    wet_at_c: float
    night: NightBox
    unpowered: NightBox
    unpowered_above_dew_k: float
    because: tuple[str, ...]
    measures: tuple[str, ...]


def night_box(
    outside_c: float,
    *,
    power_w: float,
    sky_c: float,
    wind_m_per_s: float = NIGHT_WIND_M_PER_S,
    width_m: float = 0.25,
    height_m: float = 0.30,
    depth_m: float = 0.10,
) -> NightBox:
    """Lid and air of a box in a clear night.

    Parameters
    ----------
    outside_c : float
        Outside air [°C]
    power_w : float
        Heat of the electronics inside [W]
    sky_c : float
        Equivalent temperature of the sky [°C]
    wind_m_per_s : float, optional
        Wind at the box [m/s]
    width_m : float, optional
        Width of the box [m]
    height_m : float, optional
        Height of the box [m]
    depth_m : float, optional
        Depth of the box [m]

    Returns
    -------
    night : NightBox
        Temperatures, and the outside humidity from which the lid is wet [°C]

    Examples
    --------
    >>> night_box(5.0, power_w=0.0, sky_c=-12.0).lid_c
    2.88
    """
    front = width_m * height_m
    forced = film_forced_tarp(
        wind_m_per_s, perimeter_m=2.0 * (width_m + height_m), area_m2=front
    )
    state = steady_box(
        outside_c=outside_c,
        sky_c=sky_c,
        absorbed_w=[0.0],
        power_w=power_w,
        area_m2=[front + 2.0 * depth_m * (width_m + height_m)],
        film=(forced, NATURAL_FILM),
    )
    lid = state.shell_c[0]
    over = "ice" if lid < 0 else "water"
    wet = float(vapour_pressure(lid, over=over) / vapour_pressure(outside_c))
    return NightBox(
        outside_c=outside_c,
        sky_c=sky_c,
        lid_c=lid,
        air_c=state.air_c,
        wet_from_humidity=min(1.0, wet),
    )


def dew_risk(
    outside_c: float,
    relative_humidity: float,
    *,
    power_w: float,
    sealed: bool | None,
    vented: bool | None = None,
    cloud_tenths: float = 0.0,
) -> DewRisk:
    """Whether the box gets wet inside on a clear night with outside air in it.

    A box is called dry only when its entries and its lid are known to be good: water
    that runs in along a cable is no matter of dew points.

    Parameters
    ----------
    outside_c : float
        Outside air at night [°C]
    relative_humidity : float
        Its humidity over water, 0 to 1 [1]
    power_w : float
        Heat of the electronics inside [W]
    sealed : bool or None
        Entries from below, seals and gasket good; None when nobody looked [1]
    vented : bool or None, optional
        Drain or membrane vent at the lowest point; None when nobody looked [1]
    cloud_tenths : float, optional
        Clouded part of the sky, 0 to 10 [1/10]

    Returns
    -------
    risk : DewRisk
        Verdict, margins with and without power, reasons and measures by id [K]

    Examples
    --------
    >>> dew_risk(5.0, 0.95, power_w=0.0, sealed=True).verdict
    'wet'
    >>> dew_risk(15.0, 0.30, power_w=6.0, sealed=False).verdict
    'cannot tell'
    """
    dew = float(dew_point(outside_c, relative_humidity))
    sky = float(sky_temperature(outside_c, dew, cloud_tenths=cloud_tenths))
    with_power = night_box(outside_c, power_w=power_w, sky_c=sky)
    without = night_box(outside_c, power_w=0.0, sky_c=sky)
    wet_at = dew
    if dew < 0:
        wet_at = float(frost_point(outside_c, relative_humidity, humidity_over="water"))
    margin = with_power.lid_c - wet_at
    off_margin = without.lid_c - wet_at
    because: list[str] = []
    verdict = "dry"
    if margin < -LID_MARGIN_K:
        verdict = "wet"
        because.append("lid below dew point")
    elif margin < LID_MARGIN_K:
        verdict = "cannot tell"
        because.append("lid near dew point")
    elif off_margin < LID_MARGIN_K:
        because.append("wet without power")
    if sealed is not True and verdict == "dry":
        verdict = "cannot tell"
    if sealed is not True:
        because.append("entry bad" if sealed is False else "entry not seen")
    return DewRisk(
        verdict=verdict,
        lid_above_dew_k=margin,
        wet_at_c=wet_at,
        night=with_power,
        unpowered=without,
        unpowered_above_dew_k=off_margin,
        because=tuple(because),
        measures=_measures(off_margin, sealed=sealed, vented=vented),
    )


def _measures(
    off_margin_k: float, *, sealed: bool | None, vented: bool | None
) -> tuple[str, ...]:
    found = []
    if sealed is not True:
        found.append("mend entries and seals")
    if off_margin_k < LID_MARGIN_K:
        if vented is not True:
            found.append("vent and drain at the lowest point")
        found.append("close in dry air")
    return tuple(found)


def dew_hours(
    lid_c: np.ndarray, dew_point_c: float, *, step_h: float, margin_k: float = 0.0
) -> float:
    """Hours of a day during which the lid is at or below the dew point.

    Parameters
    ----------
    lid_c : ndarray
        Lid over the day [°C]
    dew_point_c : float
        Dew point of the air [°C]
    step_h : float
        Time between values [h]
    margin_k : float, optional
        Counted as wet when the lid is this much above dew [K]

    Returns
    -------
    wet_h : float
        Hours with a wet lid [h]

    Examples
    --------
    >>> dew_hours(np.array([1.0, 2.0, 9.0]), 3.0, step_h=1.0)
    2.0
    """
    return float(np.count_nonzero(lid_c <= dew_point_c + margin_k) * step_h)
