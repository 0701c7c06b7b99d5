"""Illustrative uncertainty budgets; the figures of the tool in hand replace them.

A level read outdoors: expanded uncertainty of a typical certificate (2 % with k = 2),
a meter from -10 to 50 °C, one mating. A loss with one reference cord: what remains when
the calibration cancels. The drop's own connectors belong to what is measured.
"""

from eavelight.light.budget import EXPANDED, RECTANGULAR, Component

LEVEL_OUTDOORS = (
    Component(name="certificate", half_width_db=0.09, divisor=EXPANDED),
    Component(name="wavelength", half_width_db=0.05, divisor=RECTANGULAR),
    Component(name="linearity", half_width_db=0.05, divisor=RECTANGULAR),
    Component(name="temperature", half_width_db=0.20, divisor=RECTANGULAR),
    Component(name="drift", half_width_db=0.10, divisor=RECTANGULAR),
    Component(name="polarisation", half_width_db=0.05, divisor=RECTANGULAR),
    Component(name="mating", half_width_db=0.10, divisor=1.0),
    Component(name="resolution", half_width_db=0.005, divisor=RECTANGULAR),
    Component(name="leakage", half_width_db=0.10, divisor=RECTANGULAR),
)

LOSS_ONE_CORD = (
    Component(name="linearity", half_width_db=0.05, divisor=RECTANGULAR),
    Component(name="source drift", half_width_db=0.05, divisor=RECTANGULAR),
    Component(name="cord mating", half_width_db=0.02, divisor=1.0),
    Component(name="polarisation", half_width_db=0.02, divisor=RECTANGULAR),
    Component(name="resolution", half_width_db=0.005, divisor=RECTANGULAR),
)
