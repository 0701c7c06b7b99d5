import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.endface.geometry import fit_circle, fit_ellipse, smallest_circle

skimage_measure = pytest.importorskip("skimage.measure")


def noisy_ellipse(seed: int):
    rng = np.random.default_rng(seed)
    t = rng.uniform(0, 2 * np.pi, 80)
    y = 30 + 12 * np.sin(t) + rng.normal(0, 0.05, t.size)
    x = 40 + 15 * np.cos(t) + rng.normal(0, 0.05, t.size)
    return y, x


@pytest.mark.parametrize("seed", range(5))
def test_ellipse_agrees_with_scikit_image(seed: int) -> None:
    y, x = noisy_ellipse(seed)
    ours = fit_ellipse(y, x)
    model = skimage_measure.EllipseModel.from_estimate(np.column_stack([x, y]))
    assert [ours.col, ours.row] == pytest.approx(model.center, abs=1e-3)
    assert sorted([ours.semi_minor, ours.semi_major]) == pytest.approx(
        sorted(model.axis_lengths), abs=1e-3
    )


@pytest.mark.parametrize("seed", range(5))
def test_circle_agrees_with_scikit_image(seed: int) -> None:
    rng = np.random.default_rng(seed)
    t = rng.uniform(0, 2 * np.pi, 60)
    y = 5 + 9 * np.sin(t) + rng.normal(0, 0.05, t.size)
    x = 6 + 9 * np.cos(t) + rng.normal(0, 0.05, t.size)
    ours = fit_circle(y, x)
    model = skimage_measure.CircleModel.from_estimate(np.column_stack([x, y]))
    assert [ours.col, ours.row] == pytest.approx(model.center, abs=0.01)
    assert ours.radius == pytest.approx(model.radius, abs=0.01)


points = st.lists(
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=1, max_size=40
)


@given(points)
@settings(deadline=None, max_examples=50)
def test_smallest_circle_holds_every_point(found: list[tuple[float, float]]) -> None:
    rows, cols = np.array(found).T
    circle = smallest_circle(rows, cols)
    away = np.hypot(rows - circle.row, cols - circle.col)
    assert away.max() <= circle.radius + 1e-5


@given(points)
@settings(deadline=None, max_examples=50)
def test_smallest_circle_is_not_larger_than_half_the_spread_allows(
    found: list[tuple[float, float]],
) -> None:
    rows, cols = np.array(found).T
    spread = np.hypot(rows[:, None] - rows, cols[:, None] - cols).max()
    # Jung's theorem: radius at most spread over the root of three
    assert smallest_circle(rows, cols).radius <= spread / np.sqrt(3) + 1e-5


def test_too_few_points_are_refused() -> None:
    with pytest.raises(ValueError, match="6 or more"):
        fit_ellipse([0, 1], [0, 1])
