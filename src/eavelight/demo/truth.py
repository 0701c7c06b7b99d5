"""What is really there at each invented house, and what honest tools read of it.

The physics is deliberately plain and its own: dB are added along the path, Ohm's law
and a constant-power load give the volts. Readings add noise from a seeded generator.
"""

import math
from dataclasses import dataclass, field

import numpy as np

# per wavelength: feeder and drop attenuation [dB/km], invented but ordinary
GLASS_DB_PER_KM = {1310: 0.335, 1490: 0.225, 1550: 0.195, 1625: 0.215}
SPLITTER_DB = {1310: 16.95, 1490: 16.72, 1550: 16.75, 1625: 16.88}
# half a turn of ordinary fibre over a lid boss: excess by wavelength [dB]
PINCH_DB = {1310: 0.04, 1490: 0.50, 1550: 1.22, 1625: 2.9}
# one conductor of 18 AWG at 20 °C
# a clip drawn tight over the drop at a corner of the wall [dB]
CLIP_DB = {1310: 0.22, 1490: 1.1, 1550: 1.9, 1625: 3.6}
COPPER_OHM_PER_KM = 20.95


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """The true state of one house."""

    feeder_m: float = 7400.0
    drop_m: float = 36.0
    launch_dbm: float = 3.25
    feeder_splices_db: float = 0.27
    port_db: float = 0.22
    splice_db: float = 0.03
    terminal_db: float = 0.21
    bend_db: dict[int, float] = field(default_factory=dict)
    cord_m: float = 24.0
    copper_ohm_per_km: float = COPPER_OHM_PER_KM
    joint_ohm: float = 0.02
    float_v: float = 13.6
    rest_v: float = 12.92
    battery_v: float = 12.86

    def before_port_db(self, wavelength_nm: int) -> float:
        """Loss from the line terminal to the port, its connector included."""
        glass = self.feeder_m / 1000.0 * GLASS_DB_PER_KM[wavelength_nm]
        return (
            glass + self.feeder_splices_db + SPLITTER_DB[wavelength_nm] + self.port_db
        )

    def drop_db(self, wavelength_nm: int) -> float:
        """Loss of the drop, both connectors included."""
        glass = self.drop_m / 1000.0 * GLASS_DB_PER_KM[wavelength_nm]
        joints = self.port_db + self.splice_db + self.terminal_db
        return glass + joints + self.bend_db.get(wavelength_nm, 0.0)

    def port_dbm(self, wavelength_nm: int) -> float:
        """Level after the port connector."""
        return self.launch_dbm - self.before_port_db(wavelength_nm)

    def terminal_dbm(self, wavelength_nm: int) -> float:
        """Level after the terminal connector."""
        rest = self.drop_db(wavelength_nm) - self.port_db
        return self.port_dbm(wavelength_nm) - rest

    @property
    def loop_ohm(self) -> float:
        """The cord out and back, with its far end shorted."""
        return 2.0 * self.cord_m / 1000.0 * self.copper_ohm_per_km

    def terminal_v(self, source_v: float, load_w: float) -> float:
        """Volts at the terminal under a constant-power load."""
        ohm = self.loop_ohm + self.joint_ohm
        return (source_v + math.sqrt(source_v**2 - 4.0 * ohm * load_w)) / 2.0


@dataclass(slots=True)
class Tools:
    """The crew's meters: honest, a little noisy, rounded as their displays are."""

    rng: np.random.Generator

    def level(self, true_dbm: float) -> float:
        return round(true_dbm + float(self.rng.normal(0.0, 0.12)), 2)

    def loss(self, true_db: float) -> float:
        return round(true_db + float(self.rng.normal(0.0, 0.02)), 2)

    def volts(self, true_v: float) -> float:
        return round(true_v + float(self.rng.normal(0.0, 0.01)), 2)

    def ohm(self, true_ohm: float) -> float:
        return round(true_ohm * (1.0 + float(self.rng.normal(0.0, 0.004))), 2)

    def degrees(self, true_deg: float) -> float:
        return round(abs(true_deg + float(self.rng.normal(0.0, 0.05))), 1)
