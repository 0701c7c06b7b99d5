"""Accuracy of run times against printed tables, and of step length."""

import itertools

import numpy as np

from eavelight.power import discharge as module
from eavelight.power.conductor import awg_area_mm2, loop_resistance_ohm
from eavelight.power.discharge import Block, Circuit, discharge
from eavelight.power.rate_models import Peukert, models_from_points

DEPTH = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
VOLTS = (
    12.946, 12.865, 12.792, 12.643, 12.490, 12.332, 12.165, 11.983, 11.777, 11.520,
    11.159, 10.896, 10.500,
)  # fmt: skip
STIFF = Block(depth=DEPTH, volts=VOLTS, reference_a=0.72, resistance_ohm=0.0)
IDEAL = Peukert(capacity_ah=7.2, rating_h=20.0, exponent=1.0, most_ah=7.2)
# gauge (None: no cable), pairs, watts, hours: 30 m, terminal cut-out 9 V
TABLE = [
    (None, 1, 5, 17.4), (None, 1, 10, 8.7), (18, 1, 5, 16.6), (18, 1, 10, 7.9),
    (22, 2, 5, 16.4), (22, 2, 10, 7.4), (22, 1, 5, 14.8), (22, 1, 10, 1.8),
    (24, 1, 5, 9.7),
]  # fmt: skip
# porous-electrode model, constant current and constant power runs
CURRENT_A = [7.2, 1.44, 0.72, 0.36]
HOURS = [1.03, 6.06, 12.52, 25.59]
POWER = [(5.0, 22.1), (10.0, 10.7), (15.0, 7.0), (20.0, 5.1), (25.0, 4.0)]


def _circuit(ohm: float, low: float) -> Circuit:
    return Circuit(loop_ohm=ohm, terminal_min_v=low, cutoff_v=10.5)


def _table_errors() -> list[float]:
    errors = []
    for gauge, pairs, watts, hours in TABLE:
        ohm = (
            0.0
            if gauge is None
            else float(loop_resistance_ohm(30.0, awg_area_mm2(gauge), pairs=pairs))
        )
        run = discharge(IDEAL, STIFF, _circuit(ohm, 9.0), profile=[(0.0, watts)])
        errors.append(abs(run.hours - hours) / hours)
    return errors


def _oracle_errors() -> list[float]:
    charge = [a * h for a, h in zip(CURRENT_A, HOURS, strict=True)]
    errors = []
    for watts, hours in POWER:
        for model in models_from_points(HOURS, charge, near_h=hours, curve_h=12.5):
            run = discharge(model, STIFF, _circuit(0.0, 1.0), profile=[(0.0, watts)])
            errors.append(abs(run.hours - hours) / hours)
    return errors


def _step_errors() -> list[float]:
    charge = [4.32, 6.12, 6.696, 7.2]
    models = models_from_points([1, 5, 10, 20], charge, near_h=8.0, curve_h=10.0)
    errors = []
    usual = module._DEPTH_STEP
    for model, ohm, watts in itertools.product(models, (0.0, 1.3, 3.2), (4.0, 7.0)):
        runs = []
        for step in (usual, usual / 20.0):
            module._DEPTH_STEP = step
            runs.append(
                discharge(
                    model, STIFF, _circuit(ohm, 9.0), profile=[(0.0, watts)]
                ).hours
            )
        module._DEPTH_STEP = usual
        errors.append(abs(runs[0] - runs[1]) / runs[1])
    return errors


def run() -> list[tuple[str, str, str]]:
    return [
        (
            "30 m table, second run, nine cells, worst",
            f"{100 * max(_table_errors()):.1f} %",
            "5 %",
        ),
        (
            "constant power from constant current, independent model, worst of 15",
            f"{100 * max(_oracle_errors()):.1f} %",
            "-",
        ),
        (
            "step length against a twentieth of it, 18 runs, worst",
            f"{100 * max(_step_errors()):.2f} %",
            "-",
        ),
        (
            "step length, median",
            f"{100 * float(np.median(_step_errors())):.3f} %",
            "-",
        ),
    ]
