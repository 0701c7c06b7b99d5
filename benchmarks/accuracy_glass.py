"""Accuracy of the glass room against independent solutions."""

import numpy as np

from eavelight.glass.bend import StepIndex, bend_loss_marcuse
from eavelight.glass.splice import mode_field_loss, offset_loss
from eavelight.standards.fibre_types import attenuation_default

# wavelength, cladding index, radius, beam propagation, finite differences [dB/m]
BENDS = [
    (1320.0, 1.447, 12.5, 0.0371, 0.0643), (1320.0, 1.447, 10.0, 0.639, 1.075),
    (1320.0, 1.447, 7.5, 15.5, 18.0), (1320.0, 1.447, 5.0, 272.0, 296.0),
    (1550.0, 1.440, 15.0, 0.553, 1.285), (1550.0, 1.440, 12.5, 3.21, 7.30),
    (1550.0, 1.440, 10.0, 54.4, 41.4), (1550.0, 1.440, 7.5, 180.0, 231.0),
    (1550.0, 1.440, 5.0, 1271.0, 1296.0),
]  # fmt: skip
CABLED = [
    (1270.0, 0.38), (1310.0, 0.33), (1490.0, 0.24), (1550.0, 0.20),
    (1577.0, 0.21), (1625.0, 0.23), (1650.0, 0.26),
]  # fmt: skip
OVERLAP = [(1.0, 9.12936, 0.2078), (3.0, 9.12936, 1.8366), (1.0, 10.43121, 0.1591),
           (3.0, 10.43121, 1.4013)]  # fmt: skip


def run() -> list[tuple[str, str, str]]:
    ratio = np.array(
        [
            [
                bend_loss_marcuse(
                    radius, wavelength_nm=nm, fibre=StepIndex(cladding_index=index)
                )
                / known
                for known in (beam, difference)
            ]
            for nm, index, radius, beam, difference in BENDS
        ]
    )
    away = [abs(attenuation_default("g652d", nm)[0] - known) for nm, known in CABLED]
    joint = [
        float(offset_loss(offset, first_um=mfd, second_um=mfd)) / exact - 1
        for offset, mfd, exact in OVERLAP
    ]
    same = float(np.abs(mode_field_loss(9.2, 9.2)))
    return [
        (
            "bend formula over beam propagation, 9 rows",
            f"{ratio[:, 0].min():.2f} to {ratio[:, 0].max():.2f}",
            "1/3 to 3",
        ),
        (
            "bend formula over finite differences, 9 rows",
            f"{ratio[:, 1].min():.2f} to {ratio[:, 1].max():.2f}",
            "1.10 to 1.75",
        ),
        (
            "cabled attenuation against seven typical values",
            f"largest {max(away):.4f} dB/km",
            "0.02 dB/km (one u)",
        ),
        (
            "offset loss against the exact overlap",
            f"{100 * min(joint):.1f} to {100 * max(joint):.1f} %",
            "within 3 %",
        ),
        ("mode-field loss of equal fibres", f"{same:.1e} dB", "0"),
    ]
