"""Joint losses: symmetric, additive when small, open where one direction is missing."""

import numpy as np
import ofiber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from eavelight.glass.mode import mode_field_diameter_petermann
from eavelight.glass.splice import (
    Misalignment,
    SplicePrior,
    gap_loss,
    joint_loss,
    mode_field_loss,
    offset_for_loss,
    offset_loss,
    offset_loss_mean,
    one_way_interval,
    one_way_reading,
    one_way_step,
    splices_exceed,
    tilt_loss,
    two_way,
    two_way_uncertainty,
)

MFD = st.floats(6.0, 12.0)
NM = st.sampled_from([1310.0, 1490.0, 1550.0, 1625.0])


@settings(deadline=None, max_examples=50)
@given(MFD, MFD, st.floats(0, 3), st.floats(0, 2), st.floats(0, 50))
def test_every_loss_is_the_same_both_ways_and_never_negative(
    one: float, two: float, offset: float, tilt: float, gap: float
) -> None:
    there = {"first_um": one, "second_um": two}
    back = {"first_um": two, "second_um": one}
    light = {"wavelength_nm": 1550.0, "index": 1.45}
    for forward, backward in (
        (mode_field_loss(one, two), mode_field_loss(two, one)),
        (offset_loss(offset, **there), offset_loss(offset, **back)),
        (tilt_loss(tilt, **there, **light), tilt_loss(tilt, **back, **light)),
        (gap_loss(gap, **there, **light), gap_loss(gap, **back, **light)),
    ):
        assert forward == pytest.approx(backward, abs=1e-12)
        assert forward >= -1e-12


@settings(deadline=None, max_examples=50)
@given(MFD, MFD, NM, st.floats(0.0, 2.0))
def test_one_effect_at_a_time_is_the_limit_of_the_joint(
    one: float, two: float, nm: float, amount: float
) -> None:
    fields = {"first_um": one, "second_um": two}
    light = {"wavelength_nm": nm, "index": 1.45}
    base = mode_field_loss(one, two)
    for misalignment, single in (
        (Misalignment(offset_um=amount), offset_loss(amount, **fields)),
        (Misalignment(tilt_deg=amount), tilt_loss(amount, **fields, **light)),
        (Misalignment(gap_um=20 * amount), gap_loss(20 * amount, **fields, **light)),
    ):
        found = joint_loss(misalignment, **fields, **light)
        assert found == pytest.approx(base + single, abs=1e-9)


def test_joint_loss_is_the_overlap_of_the_two_fields() -> None:
    w1, w2, nm, n, z, d, th = 4.6, 4.3, 1.31, 1.45, 40.0, 1.5, np.radians(1.2)
    k = 2 * np.pi * n / nm
    x = np.linspace(-40, 40, 1201)
    across, up = np.meshgrid(x, x, indexing="ij")
    q = 1 / (w1**2 + 2j * z / k)
    first = np.sqrt(2 / np.pi) * w1 * q * np.exp(-q * (across**2 + up**2))
    second = np.sqrt(2 / np.pi) / w2 * np.exp(-((across - d) ** 2 + up**2) / w2**2)
    phase = k * th * (across * np.cos(0.7) + up * np.sin(0.7))
    step = (x[1] - x[0]) ** 2
    overlap = abs(np.sum(first * second * np.exp(1j * phase)) * step) ** 2
    found = joint_loss(
        Misalignment(offset_um=d, tilt_deg=1.2, gap_um=z, azimuth_deg=np.degrees(0.7)),
        wavelength_nm=1310.0,
        first_um=2 * w1,
        second_um=2 * w2,
        index=n,
    )
    assert found == pytest.approx(-10 * np.log10(overlap), rel=1e-5)


def test_tilt_and_offset_across_a_gap_can_help_or_hurt_each_other() -> None:
    given = {"wavelength_nm": 1310.0, "first_um": 9.2, "second_um": 9.2, "index": 1.0}
    same = Misalignment(offset_um=2.0, tilt_deg=1.0, gap_um=80.0)
    other = Misalignment(offset_um=2.0, tilt_deg=1.0, gap_um=80.0, azimuth_deg=180.0)
    assert abs(joint_loss(same, **given) - joint_loss(other, **given)) > 0.2


def test_liquid_helps_a_gap_and_worsens_a_tilt() -> None:
    given = {"wavelength_nm": 1310.0, "first_um": 9.2, "second_um": 9.2}
    assert gap_loss(20.0, index=1.467, **given) < gap_loss(20.0, index=1.0, **given)
    assert tilt_loss(1.0, index=1.467, **given) > tilt_loss(1.0, index=1.0, **given)


def test_offset_tilt_and_gap_agree_with_another_library() -> None:
    w, nm, n = 4.6e-6, 1310e-9, 1.468
    fields = {"first_um": 9.2, "second_um": 9.2}
    assert offset_loss(1.0, **fields) == pytest.approx(
        ofiber.transverse_misalignment_loss_db(w, w, 1e-6), rel=1e-6
    )
    assert tilt_loss(1.0, wavelength_nm=1310.0, index=n, **fields) == pytest.approx(
        ofiber.angular_misalignment_loss_db(n, w, np.radians(1.0), nm), rel=1e-4
    )
    assert gap_loss(20.0, wavelength_nm=1310.0, index=1.0, **fields) == pytest.approx(
        ofiber.longitudinal_misalignment_loss_db(1.0, w, 20e-6, nm), rel=1e-4
    )


def test_data_sheet_width_matches_the_exact_mode_better_than_the_best_gaussian() -> (
    None
):
    width = mode_field_diameter_petermann(
        1310.0, core_radius_um=4.1, numerical_aperture=0.117
    )
    assert offset_loss(1.0, first_um=width, second_um=width) == pytest.approx(
        0.2078, rel=0.01
    )


@settings(deadline=None, max_examples=50)
@given(st.floats(0, 1), MFD, MFD)
def test_two_directions_return_the_truth(true: float, one: float, two: float) -> None:
    forward = one_way_reading(true, from_um=one, to_um=two)
    backward = one_way_reading(true, from_um=two, to_um=one)
    found, step = two_way(forward, backward)
    assert found == pytest.approx(true, abs=1e-12)
    assert step == pytest.approx(one_way_step(one, two), abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(st.floats(0, 0.5), st.floats(8.2, 9.6), st.floats(8.2, 9.6))
def test_one_direction_brackets_the_truth(true: float, one: float, two: float) -> None:
    reading = float(one_way_reading(true, from_um=one, to_um=two))
    low, high = one_way_interval(
        reading, from_range_um=(8.2, 9.6), to_range_um=(8.2, 9.6)
    )
    assert low - 1e-12 <= true <= high + 1e-12


def test_a_gain_beyond_any_mode_field_leaves_nothing() -> None:
    low, high = one_way_interval(-0.8, from_range_um=(8.2, 9.6), to_range_um=(8.2, 9.6))
    assert low == 0
    assert high < 0


def test_two_way_uncertainty_agrees_with_a_library() -> None:
    value = (ufloat(0.1, 0.03) + ufloat(0.4, 0.05)) / 2
    assert two_way_uncertainty(0.03, 0.05) == pytest.approx(value.std_dev)
    assert two_way_uncertainty(0.03, 0.03, correlation=1.0) == pytest.approx(0.03)


def test_offset_and_its_loss_are_inverse() -> None:
    offset = offset_for_loss(0.25, first_um=9.2, second_um=8.6)
    assert offset_loss(offset, first_um=9.2, second_um=8.6) == pytest.approx(0.25)
    with pytest.raises(ValueError, match="loss_db"):
        offset_for_loss(-0.1, first_um=9.2, second_um=8.6)


def test_gaussian_offsets_make_an_exponential_loss() -> None:
    draws = np.random.default_rng(7).normal(0, 0.349, (2, 200_000))
    loss = offset_loss(np.hypot(*draws), first_um=9.2, second_um=9.2)
    mean = offset_loss_mean(0.349, mode_field_um=9.2)
    assert loss.mean() == pytest.approx(mean, rel=0.01)
    assert (loss > 0.15).mean() == pytest.approx(
        float(splices_exceed(0.15, mean_db=mean)), abs=0.002
    )


def test_more_splices_exceed_more_often() -> None:
    chances = [float(splices_exceed(0.3, mean_db=0.05, count=n)) for n in range(1, 9)]
    assert np.all(np.diff(chances) > 0)


def test_prior_has_the_moments_it_was_given() -> None:
    prior = SplicePrior(mean_db=0.05, sigma_db=0.03)
    draws = np.random.default_rng(3).lognormal(
        prior.log_mean, prior.log_sigma, 2_000_000
    )
    assert draws.mean() == pytest.approx(0.05, rel=0.01)
    assert draws.std() == pytest.approx(0.03, rel=0.02)
    assert np.mean(((draws - 0.05) / 0.03) ** 3) == pytest.approx(
        prior.skewness, rel=0.1
    )
    assert prior.quantile(0.5) < 0.05 < prior.quantile(0.95)


def test_sum_of_splices_loses_its_skew() -> None:
    prior = SplicePrior(mean_db=0.05, sigma_db=0.03)
    assert prior.of_sum(4) == pytest.approx((0.2, 0.06, prior.skewness / 2))
    with pytest.raises(ValueError, match="positive"):
        SplicePrior(mean_db=0.0, sigma_db=0.03)


def test_a_mode_field_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        mode_field_loss(0.0, 9.2)


def test_no_splice_and_no_mean_are_refused() -> None:
    with pytest.raises(ValueError, match="mean_db"):
        splices_exceed(0.1, mean_db=0.0)
    with pytest.raises(ValueError, match="count"):
        splices_exceed(0.1, mean_db=0.05, count=0)


@pytest.mark.parametrize(
    ("ratio", "offset", "tilt", "gap", "fresnel"),
    [
        (0.77, 1.0, 0.0, 0.0, 0.0),
        (0.93, 0.0, 1.0, 0.0, 0.0),
        (0.82, 0.0, 0.0, 20.0, 0.0),
        (0.94, 0.0, 0.0, 20.0, 0.312),
    ],
)
def test_1550_over_1310_of_each_joint_fault_as_the_sheet_computes_it(
    ratio: float, offset: float, tilt: float, gap: float, fresnel: float
) -> None:
    loss = {}
    for nm, mfd in ((1310.0, 9.12936), (1550.0, 10.43121)):
        loss[nm] = fresnel + joint_loss(
            Misalignment(offset_um=offset, tilt_deg=tilt, gap_um=gap),
            wavelength_nm=nm,
            first_um=mfd,
            second_um=mfd,
            index=1.0,
        )
    assert loss[1550.0] / loss[1310.0] == pytest.approx(ratio, abs=0.006)
