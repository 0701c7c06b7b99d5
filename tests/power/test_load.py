"""Shedding, talk and energy of a load over an outage."""

import pytest

from eavelight.power.load import (
    Service,
    checked_profile,
    profile_energy_wh,
    services_left,
    shedding_profile,
    watts_at,
    with_talk,
)

VOICE = Service(name="voice", watts=1.0, shed_s=0)
DATA = Service(name="data", watts=9.0, shed_s=300)
VIDEO = Service(name="video", watts=4.0, shed_s=1)


def test_zero_is_never_one_is_at_once_and_n_is_after_n_seconds() -> None:
    profile = shedding_profile(5.0, [VOICE, DATA, VIDEO])
    assert profile == ((0.0, 15.0), (300 / 3600, 6.0))
    assert services_left([VOICE, DATA, VIDEO], 0.01) == ("voice", "data")
    assert services_left([VOICE, DATA, VIDEO], 1.0) == ("voice",)


def test_the_reference_evening_takes_its_energy() -> None:
    profile = with_talk(
        shedding_profile(5.0, [VOICE, DATA]), 2.0, hours=1.0, extra_w=1.5
    )
    assert profile_energy_wh(profile, 8.0) == pytest.approx(50.3, abs=0.06)


def test_energy_of_a_short_outage_counts_only_its_own_steps() -> None:
    assert profile_energy_wh([(0.0, 10.0), (1.0, 5.0)], 0.5) == pytest.approx(5.0)


def test_a_call_ends_with_what_the_profile_takes_then() -> None:
    profile = with_talk([(0.0, 6.0), (2.5, 4.0)], 2.0, hours=1.0, extra_w=1.0)
    assert [watts_at(profile, h) for h in (1.9, 2.0, 2.6, 3.0)] == [6.0, 7.0, 5.0, 4.0]


@pytest.mark.parametrize(
    "profile",
    [
        pytest.param([], id="empty"),
        pytest.param([(1.0, 5.0)], id="late"),
        pytest.param([(0.0, 5.0), (0.0, 4.0)], id="not rising"),
        pytest.param([(0.0, float("nan"))], id="nan"),
    ],
)
def test_a_profile_that_cannot_be_is_refused(profile) -> None:
    with pytest.raises(ValueError, match="profile"):
        checked_profile(profile)


def test_a_call_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="hours"):
        with_talk([(0.0, 5.0)], 1.0, hours=0.0, extra_w=1.0)
