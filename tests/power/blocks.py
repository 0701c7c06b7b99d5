"""The 7.2 Ah block of the reference sheet on power, by its stated curve."""

from eavelight.power.discharge import Block, Circuit
from eavelight.power.rate_models import Peukert, models_from_points

DEPTH = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
VOLTS = (
    12.946, 12.865, 12.792, 12.643, 12.490, 12.332, 12.165, 11.983, 11.777, 11.520,
    11.159, 10.896, 10.500,
)  # fmt: skip
BLOCK = Block(depth=DEPTH, volts=VOLTS, reference_a=0.72, resistance_ohm=0.022)
STIFF = Block(depth=DEPTH, volts=VOLTS, reference_a=0.72, resistance_ohm=0.0)
IDEAL = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
HOURS = (1.0, 5.0, 10.0, 20.0)
CHARGE = (4.32, 6.12, 6.696, 7.2)
MODELS = models_from_points(HOURS, CHARGE, near_h=8.0, curve_h=10.0)


def circuit(loop_ohm: float = 0.0, **more: float) -> Circuit:
    given = {"terminal_min_v": 9.0, "cutoff_v": 10.5, **more}
    return Circuit(loop_ohm=loop_ohm, **given)
