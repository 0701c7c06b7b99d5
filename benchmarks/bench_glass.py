"""Speed of the glass room: medians of repeated runs."""

import time
from collections.abc import Callable
from statistics import median

import numpy as np

from eavelight.glass.bend import loop_loss
from eavelight.glass.lifetime import bend_failure
from eavelight.glass.mode import mode_field_diameter_petermann
from eavelight.glass.splice import Misalignment, joint_loss
from eavelight.glass.tray import Cable, Pigtail, Tray, plan_tray
from eavelight.standards.fibre_types import fibre_type

NM = np.array([1270.0, 1310.0, 1490.0, 1550.0, 1577.0, 1625.0])


def median_ms(run: Callable[[], object], *, times: int = 9) -> float:
    run()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append((time.perf_counter() - start) * 1e3)
    return median(taken)


def run() -> list[tuple[str, str, str]]:
    fibre = fibre_type("g652d")
    radius = np.random.default_rng(1).uniform(6.0, 30.0, (100_000, 1))
    tray = Tray(
        length_mm=120.0,
        width_mm=80.0,
        winding_radius_mm=20.0,
        holder_offset_mm=30.0,
        sleeve_mm=60.0,
    )
    cases: list[tuple[str, Callable[[], object], str]] = [
        ("attenuation and u, 6 wavelengths",
         lambda: (fibre.cabled.mean(NM), fibre.cabled.standard_uncertainty(NM)), "0.5"),
        ("mode field, exact, 6 wavelengths",
         lambda: mode_field_diameter_petermann(
             NM, core_radius_um=4.1, numerical_aperture=0.117), "2"),
        ("joint loss, 10^5 pairs",
         lambda: joint_loss(
             Misalignment(offset_um=0.5, tilt_deg=0.3), wavelength_nm=1550.0,
             first_um=10.4, second_um=radius[:, 0], index=1.45), "200"),
        ("bend range, one loop, 6 wavelengths",
         lambda: loop_loss(fibre, 15.0, wavelength_nm=NM, turns=3), "5"),
        ("bend range, 10^5 loops, 6 wavelengths",
         lambda: loop_loss(fibre, radius, wavelength_nm=NM, turns=3), "1000"),
        ("chance of a break, 10^5 loops",
         lambda: bend_failure(radius[:, 0], turns=3, years=30), "2000"),
        ("whole tray plan",
         lambda: plan_tray(tray, cable=Cable(strands=4),
                           pigtail=Pigtail(length_mm=1500.0)), "10"),
    ]  # fmt: skip
    return [
        (what, f"{median_ms(case):.2f} ms", f"{required} ms (own budget)")
        for what, case, required in cases
    ]
