"""The sums against plain numerical integration."""

import numpy as np
import pytest

from eavelight.diagnosis.atoms import atom
from eavelight.diagnosis.infer import _joint, components_of
from eavelight.diagnosis.rows import build_table
from eavelight.diagnosis.shapes import log_uniform, mixed


def normal(x, mean, sigma):
    return np.exp(-0.5 * ((x - mean) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))


@pytest.fixture
def table(bench):
    bench.levels(terminal=-17.0)
    bench.losses({1310: 0.7, 1550: 0.9})
    return build_table(bench.case())


def ratio(table, shift):
    """Likelihood of the readings with a shift against none."""

    def quad(r):
        return r @ table.precision @ r

    return np.exp(-0.5 * (quad(table.residual - shift) - quad(table.residual)))


def test_amplitude_integrated_in_closed_form_agrees_with_a_grid(table):
    vector = np.array([0.0, -1.0, 1.0, 1.0])
    one = atom("splice", "s", "m", 1.0, vector[None, :], size=mixed([(0.7, 0.2, 1.0)]))
    parts = components_of([one], table)
    grid = np.linspace(-0.8, 2.2, 6001)
    values = [ratio(table, a * vector) * normal(a, 0.7, 0.2) for a in grid]
    assert parts.single[0] == pytest.approx(
        np.log(np.trapezoid(values, grid)), abs=1e-4
    )


def test_two_amplitudes_integrated_in_closed_form_agree_with_a_grid(table):
    first, second = np.array([0, -1.0, 1, 1]), np.array([0, -0.4, 0.05, 1])
    atoms = [
        atom("splice", "s", "m", 1.0, first[None, :], size=mixed([(0.5, 0.2, 1.0)])),
        atom("bend", "b", "m", 1.0, second[None, :], size=mixed([(0.3, 0.1, 1.0)])),
    ]
    parts = components_of(atoms, table)
    x, y = np.linspace(-0.5, 1.5, 241), np.linspace(-0.2, 0.8, 241)
    values = np.array(
        [
            [
                ratio(table, a * first + b * second)
                * normal(a, 0.5, 0.2)
                * normal(b, 0.3, 0.1)
                for b in y
            ]
            for a in x
        ]
    )
    plain = np.log(np.trapezoid(np.trapezoid(values, y, axis=1), x))
    assert _joint(parts, parts.of(0), parts.of(1))[0, 0] == pytest.approx(
        plain, abs=1e-3
    )


def test_mixture_of_sizes_is_nearly_log_uniform():
    sizes = log_uniform(0.1, 9.0)
    x = np.geomspace(0.2, 5.0, 200)
    density = sum(
        w * normal(x, m, s)
        for m, s, w in zip(sizes.mean, sizes.sigma, sizes.weight, strict=True)
    )
    flat = density * x
    assert flat.std() / flat.mean() < 0.08
