"""Run times against a porous-electrode model that is not ours.

Captured once: PyBaMM 26.10.1.1, lead-acid Full model, parameter set Sulzer2019 scaled
to a 7.2 Ah block, 25 C, to 1.75 V per cell (BSD-3; never a dependency). The set gives
128 % of its nominal charge and hardly any rate effect: what is tested is whether
run times at constant power follow from its own run times at constant current.
"""

import pytest
from tests.power.blocks import STIFF, circuit

from eavelight.power.discharge import discharge
from eavelight.power.rate_models import models_from_points

CURRENT_A = [7.2, 1.44, 0.72, 0.36]
HOURS = [1.03, 6.06, 12.52, 25.59]
POWER = [(5.0, 22.1), (10.0, 10.7), (15.0, 7.0), (20.0, 5.1), (25.0, 4.0)]


@pytest.mark.parametrize(("watts", "hours"), POWER)
def test_constant_power_follows_from_constant_current(watts, hours) -> None:
    charge = [a * h for a, h in zip(CURRENT_A, HOURS, strict=True)]
    models = models_from_points(HOURS, charge, near_h=hours, curve_h=12.5)
    for model in models:
        run = discharge(
            model, STIFF, circuit(terminal_min_v=1.0), profile=[(0.0, watts)]
        )
        # 0.05 h rounding of the capture, 3 % for a voltage curve of one rate only
        assert run.hours == pytest.approx(hours, abs=0.05 + 0.03 * hours)


def test_the_current_rises_through_a_constant_power_run_as_it_does_there() -> None:
    charge = [a * h for a, h in zip(CURRENT_A, HOURS, strict=True)]
    model = models_from_points(HOURS, charge, near_h=10.0, curve_h=12.5)[0]
    run = discharge(model, STIFF, circuit(terminal_min_v=1.0), profile=[(0.0, 10.0)])
    assert 10.0 / run.battery_v[0] == pytest.approx(0.773, abs=0.004)
    assert 10.0 / run.battery_v[-1] == pytest.approx(0.952, abs=0.004)
