"""Levels fall along the path; a reading replaces what was uncertain above it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.light.levels import (
    LevelReading,
    conditioned_level,
    expected_levels,
    known_launch,
    walk_down,
    window_launch,
)
from eavelight.light.path import Path

LAUNCH = known_launch(3.0, 0.3)


def test_the_terminal_level_is_that_of_the_worked_plant(path: Path) -> None:
    level, _ = expected_levels(path, LAUNCH).at("terminal", 1490)
    assert level == pytest.approx(-16.86, abs=0.01)


def test_the_upstream_level_is_that_of_the_worked_plant(path: Path) -> None:
    up = expected_levels(path.reversed(), known_launch(2.0, 0.3), source="house")
    assert up.expected_dbm[-1, 0] == pytest.approx(-18.70, abs=0.01)


def test_a_level_at_a_part_is_after_its_own_loss(path: Path) -> None:
    levels = expected_levels(path, LAUNCH)
    assert levels.at("hub", 1490) == (3.0, 0.3)
    before, _ = levels.at("splitter", 1490)
    assert levels.at("port", 1490)[0] == pytest.approx(before - 0.25)


def test_uncertainty_without_readings_is_launch_and_parts(path: Path) -> None:
    _, u = expected_levels(path, LAUNCH).at("terminal", 1490)
    assert u == pytest.approx(math.hypot(0.3, float(path.total_u_db[1])))


def test_a_reading_at_the_port_leaves_its_own_u_and_the_drop(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-17.9, u_db=0.19)
    levels = expected_levels(path, window_launch(1.5, 5.0), readings=[reading])
    level, u = levels.at("terminal", 1490)
    drop_u = float(path.between("drop cable", "terminal").total_u_db[1])
    assert u == pytest.approx(math.hypot(0.19, drop_u), abs=0.01)
    assert level == pytest.approx(-17.9 - 0.272, abs=0.12)


def test_a_reading_does_not_set_what_is_expected_at_its_own_place(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-30.0, u_db=0.19)
    plain = expected_levels(path, LAUNCH).at("port", 1490)
    assert expected_levels(path, LAUNCH, readings=[reading]).at("port", 1490) == plain


def test_a_reading_tells_nothing_about_another_wavelength(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-30.0, u_db=0.19)
    plain = expected_levels(path, LAUNCH).at("terminal", 1550)
    assert (
        expected_levels(path, LAUNCH, readings=[reading]).at("terminal", 1550) == plain
    )


def test_the_plan_is_kept_beside_what_a_reading_made_of_it(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-18.0, u_db=0.19)
    levels = expected_levels(path, LAUNCH, readings=[reading])
    np.testing.assert_array_equal(
        levels.plan_dbm, expected_levels(path, LAUNCH).expected_dbm
    )


def test_two_readings_at_one_place_count_as_their_weighted_mean(path: Path) -> None:
    def read(value: float, u: float) -> LevelReading:
        return LevelReading(at="port", wavelength_nm=1490, value_dbm=value, u_db=u)

    both = expected_levels(path, LAUNCH, readings=[read(-16.0, 0.2), read(-16.4, 0.2)])
    mean = expected_levels(path, LAUNCH, readings=[read(-16.2, 0.2 / math.sqrt(2))])
    assert both.at("terminal", 1490) == pytest.approx(mean.at("terminal", 1490))


def test_conditioning_in_steps_equals_conditioning_of_the_joint_normal() -> None:
    loss, u = np.array([5.0, 10.0, 0.5]), np.array([0.3, 0.5, 0.2])
    reading, reading_u = np.array([2.4, np.nan, -13.4, np.nan]), 0.19
    walk = walk_down(
        3.0, 1.0, loss_db=loss, u_db=u, reading_dbm=reading, reading_u_db=reading_u
    )
    spread = np.cumsum(np.concatenate(([1.0], u**2)))
    joint = np.minimum.outer(spread, spread)
    mean = 3.0 - np.concatenate(([0.0], np.cumsum(loss)))
    seen = [0, 2]
    gain = joint[3, seen] @ np.linalg.inv(
        joint[np.ix_(seen, seen)] + 0.19**2 * np.eye(2)
    )
    assert walk.expected_dbm[3] == pytest.approx(
        mean[3] + gain @ (reading - mean)[seen]
    )
    assert walk.expected_u_db[3] == pytest.approx(
        math.sqrt(joint[3, 3] - gain @ joint[seen, 3])
    )


def test_an_exact_reading_of_an_exact_level_is_no_division_by_zero() -> None:
    level, u = conditioned_level(-10.0, 0.0, reading_dbm=-11.0, reading_u_db=0.0)
    assert (float(level), float(u)) == (-10.0, 0.0)


def test_an_exact_reading_leaves_only_the_parts_below(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=-17.0, u_db=0.0)
    levels = expected_levels(path, LAUNCH, readings=[reading])
    assert levels.at("drop cable", 1490)[0] == pytest.approx(-17.0 - 0.095 * 0.23)
    assert levels.at("drop cable", 1490)[1] == pytest.approx(0.0019)


def test_the_worst_cases_enclose_the_band(path: Path) -> None:
    levels = expected_levels(path, window_launch(1.5, 5.0))
    low, high = levels.band_dbm(0.68)
    assert np.all(levels.lowest_dbm <= low + 1e-9)
    assert np.all(levels.highest_dbm >= high - 1e-9)


def test_skewed_splices_push_the_band_toward_low_levels(path: Path) -> None:
    levels = expected_levels(path.drop(), known_launch(0.0, 0.0))
    low, high = levels.band_dbm(0.95)
    row = levels.row("pigtail splice")
    down = levels.expected_dbm[row, 1] - low[row, 1]
    assert down > high[row, 1] - levels.expected_dbm[row, 1]


def test_a_launch_far_from_the_window_stays_inside_its_own_extremes() -> None:
    launch = known_launch(9.0, 0.3, window_dbm=(1.5, 5.0))
    assert launch.least_dbm <= launch.mean_dbm <= launch.most_dbm


def test_many_plants_at_once_equal_each_alone() -> None:
    rng = np.random.default_rng(3)
    loss, u = rng.uniform(0, 2, (12, 7, 6)), rng.uniform(0, 0.3, (12, 7, 6))
    reading = np.where(rng.uniform(size=(13, 7, 6)) < 0.1, -8.0, np.nan)
    many = walk_down(
        3.0, 0.4, loss_db=loss, u_db=u, reading_dbm=reading, reading_u_db=0.19
    )
    for plant in range(7):
        one = walk_down(
            3.0, 0.4, loss_db=loss[:, plant], u_db=u[:, plant],
            reading_dbm=reading[:, plant], reading_u_db=0.19,
        )  # fmt: skip
        np.testing.assert_allclose(many.expected_dbm[:, plant], one.expected_dbm)
        np.testing.assert_allclose(many.expected_u_db[:, plant], one.expected_u_db)


@settings(deadline=None, max_examples=40)
@given(value=st.floats(-40, 0), u=st.floats(0.01, 3), launch_u=st.floats(0.01, 3))
def test_a_reading_never_makes_anything_below_less_certain(
    path: Path, value: float, u: float, launch_u: float
) -> None:
    reading = LevelReading(at="port", wavelength_nm=1490, value_dbm=value, u_db=u)
    launch = known_launch(3.0, launch_u)
    with_it = expected_levels(path, launch, readings=[reading])
    assert np.all(with_it.expected_u_db <= with_it.plan_u_db + 1e-12)
    mean, sd = with_it.at("drop cable", 1490)
    low, high = sorted([with_it.plan_dbm[with_it.row("drop cable"), 1], value])
    assert low - 0.1 <= mean <= high + 0.1
    assert sd >= 0


def test_the_walk_agrees_with_an_independent_uncertainty_library() -> None:
    uncertainties = pytest.importorskip("uncertainties")
    level = uncertainties.ufloat(3.0, 0.3)
    for loss, u in [(17.0, 0.35), (0.25, 0.133), (0.05, 0.04)]:
        level = level - uncertainties.ufloat(loss, u)
    walk = walk_down(3.0, 0.3, loss_db=[17.0, 0.25, 0.05], u_db=[0.35, 0.133, 0.04])
    assert walk.expected_dbm[-1] == pytest.approx(level.nominal_value)
    assert walk.expected_u_db[-1] == pytest.approx(level.std_dev)


def test_an_unknown_place_or_wavelength_is_named(path: Path) -> None:
    levels = expected_levels(path, LAUNCH)
    with pytest.raises(ValueError, match="splitter"):
        levels.at("split", 1490)
    with pytest.raises(ValueError, match="1577"):
        levels.at("port", 1577)


def test_a_window_turned_over_is_refused() -> None:
    with pytest.raises(ValueError, match="must not exceed"):
        window_launch(5.0, 1.5)


def test_each_wavelength_may_have_its_own_launch(path: Path) -> None:
    launches = [known_launch(2.0 + number, 0.1) for number in range(4)]
    assert list(expected_levels(path, launches).expected_dbm[0]) == [2.0, 3.0, 4.0, 5.0]


def test_a_reading_at_a_wavelength_that_is_not_planned_is_left_out(path: Path) -> None:
    reading = LevelReading(at="port", wavelength_nm=1577, value_dbm=-30.0, u_db=0.19)
    levels = expected_levels(path, LAUNCH, readings=[reading])
    np.testing.assert_allclose(levels.expected_dbm, levels.plan_dbm)


def test_a_reading_at_the_hub_stands_for_the_launch(path: Path) -> None:
    reading = LevelReading(at=None, wavelength_nm=1490, value_dbm=2.0, u_db=0.0)
    levels = expected_levels(path, window_launch(1.5, 5.0), readings=[reading])
    level, u = levels.at("feeder", 1490)
    assert level == pytest.approx(2.0 - 5.8 * 0.23)
    assert u == pytest.approx(float(path.u_db[0, 1]))
