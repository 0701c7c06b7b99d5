"""The hazard level is worked out from all light present, on the safe side."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.light.laser_hazard import (
    HazardLimits,
    aperture_share,
    hazard_level,
    level_1m_limit_mw,
)
from eavelight.standards.profiles import load_profile

PROFILE = load_profile()
RULE = HazardLimits(
    level_1_dbm=PROFILE.number("hazard.level_1"),
    level_1m_dbm=PROFILE.number("hazard.level_1m"),
    level_1m_from_nm=PROFILE.number("hazard.level_1m_from"),
)


@pytest.mark.parametrize(
    ("levels", "wavelengths", "level"),
    [
        ([-16.0], [1490.0], "1"),
        ([5.0], [1310.0], "1"),
        ([10.0], [1550.0], "1"),
        ([10.1], [1550.0], "1M"),
        ([21.1], [1550.0], "3B"),
        ([10.1], [1310.0], "3B"),
        ([5.0, 5.0, 20.0], [1490.0, 1577.0, 1550.0], "1M"),
        ([2.5, -16.0, 9.0], [1550.0, 1490.0, 1270.0], "1"),
        ([9.0, 9.0], [1550.0, 1310.0], "1M"),
        ([], [], "1"),
    ],
)
def test_the_rule_gives_the_level(
    levels: list[float], wavelengths: list[float], level: str
) -> None:
    assert hazard_level(levels, wavelengths, limits=RULE).level == level


@settings(deadline=None, max_examples=40)
@given(levels=st.lists(st.floats(-30, 25), min_size=1, max_size=4))
def test_more_light_is_never_less_dangerous(levels: list[float]) -> None:
    order = ["1", "1M", "3B"]
    nm = [1550.0] * len(levels)
    less = hazard_level(levels, nm, limits=RULE)
    more = hazard_level([*levels, 5.0], [*nm, 1310.0], limits=RULE)
    assert order.index(more.level) >= order.index(less.level)


@pytest.mark.parametrize(("nm", "field"), [(1490, 10.0), (1550, 11.0), (1577, 10.5)])
def test_the_rule_lies_below_the_limits_worked_out_per_wavelength(
    nm: float, field: float
) -> None:
    limit = level_1m_limit_mw(nm, mode_field_um=field, emission_limit_mw=10.0)
    assert 10 ** (RULE.level_1m_dbm / 10) < limit


def test_close_to_the_end_all_light_passes_the_aperture() -> None:
    share = aperture_share(
        1550.0, mode_field_um=11.0, distance_mm=14.0, aperture_mm=7.0
    )
    assert share > 0.99


def test_each_light_needs_its_wavelength() -> None:
    with pytest.raises(ValueError, match="one value for each"):
        hazard_level([3.0, 4.0], [1490.0], limits=RULE)
