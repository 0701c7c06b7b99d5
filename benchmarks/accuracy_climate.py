"""How near the wall comes to what others computed or printed."""

import numpy as np

from eavelight.climate.design_day import Box, Choice, Weather, air_over_day, run_day
from eavelight.climate.heat import enclosure_rise, steady_box
from eavelight.climate.humidity import dew_point, dew_point_ashrae
from eavelight.climate.sun import clear_day, sun_position

Row = tuple[str, str, str]
# Steady cases of the reference sheet: absorptance, sun, air, sky, film, air inside.
STEADY = (
    (0.25, 753.0, 46.0, 31.0, 6.0, 62.53),
    (0.50, 753.0, 46.0, 31.0, 6.0, 70.39),
    (0.90, 753.0, 46.0, 31.0, 6.0, 82.36),
    (0.25, 1120.0, 40.0, 25.0, 8.0, 59.27),
    (0.50, 1120.0, 40.0, 25.0, 8.0, 69.55),
    (0.90, 1120.0, 40.0, 25.0, 8.0, 85.09),
    (0.50, 0.0, -40.0, -62.0, 16.0, -27.45),
)
PHOENIX = (
    (270.0, 0.25, 56.7),
    (270.0, 0.50, 63.6),
    (270.0, 0.90, 74.4),
    (0.0, 0.50, 59.1),
    (90.0, 0.50, 60.2),
    (180.0, 0.50, 61.2),
)


def steady() -> float:
    errors = [
        steady_box(
            outside_c=air,
            sky_c=sky,
            absorbed_w=[0.1085 * alpha * sun],
            power_w=10.0,
            area_m2=[0.185],
            film=(film, 0.0),
        ).air_c
        - expected
        for alpha, sun, air, sky, film, expected in STEADY
    ]
    return max(abs(error) for error in errors)


def phoenix(step_s: float, *, density_ratio: float | None) -> list[float]:
    day = clear_day(33.43, -112.02, elevation_m=337.0, day_of_year=202, step_s=step_s)
    weather = Weather(outside_c=air_over_day(43.4, 12.0, time_h=day.time_h))
    run = run_day(
        day,
        weather,
        Box(),
        choices=[Choice(facing_deg=f, absorptance=a) for f, a, _ in PHOENIX],
        density_ratio=density_ratio,
    )
    return [run.peak(at).air_c for at in range(len(PHOENIX))]


def off_phoenix(density_ratio: float | None) -> float:
    peaks = phoenix(300.0, density_ratio=density_ratio)
    return max(abs(peak - row[2]) for peak, row in zip(peaks, PHOENIX, strict=True))


def run() -> list[Row]:
    sun = sun_position(
        1066419030,
        latitude_deg=39.742476,
        longitude_deg=-105.1786,
        elevation_m=1830.14,
        pressure_pa=82_000.0,
        air_c=11.0,
    )
    angle = max(
        abs(float(sun.zenith_deg[0]) - 50.11162),
        abs(float(sun.azimuth_deg[0]) - 194.34024),
    )
    coarse, fine = (np.array(phoenix(s, density_ratio=1.0)) for s in (300.0, 30.0))
    grid = [(t, h) for t in range(5, 46, 5) for h in (0.4, 0.6, 0.8, 1.0)]
    expected = {(t, h): dew_point_ashrae(t, h) for t, h in grid}
    dew = max(
        abs(float(dew_point(t, h)) - point)
        for (t, h), point in expected.items()
        if point > 0  # below freezing the handbook means frost
    )
    rise = enclosure_rise(300.0, area_m2=3.964, outside_c=25.0)
    return [
        ("sun, worked example, largest angle error", f"{angle:.6f}°", "0.0003°"),
        ("steady cases, largest error", f"{steady():.3f} K", "0.05 K"),
        ("Phoenix day, sea level air", f"{off_phoenix(1.0):.2f} K", "0.5 K"),
        ("Phoenix day, air of its height", f"{off_phoenix(None):.2f} K", "0.5 K"),
        ("5 min against 30 s steps", f"{np.abs(coarse - fine).max():.3f} K", "none"),
        ("sealed enclosure, 16.7 K printed", f"{rise:.1f} K", "within 10 %"),
        ("dew point against psychrolib", f"{dew:.3f} K", "0.06 K"),
    ]
