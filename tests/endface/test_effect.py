import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.demo.endface_simulator import Disc, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.effect import (
    blocking_loss_range,
    covered_by_disc,
    covered_by_mask,
)
from eavelight.standards.endface_criteria import load


@given(st.floats(0.5, 12), st.floats(0, 9))
@settings(deadline=None, max_examples=30)
def test_mask_agrees_with_the_closed_form_of_a_disc(size: float, offset: float) -> None:
    y, x = np.mgrid[-12:12:400j, -12:12:400j]
    mask = np.hypot(y, x - offset) < size / 2
    share = covered_by_mask(mask, np.hypot(y, x), 9.2)
    assert share == pytest.approx(covered_by_disc(size, offset, 9.2), abs=0.01)


def test_a_share_outside_0_to_1_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        blocking_loss_range(1.2)


def face_with(*marks: Disc):
    pixels = draw(Scene(marks=marks), np.random.default_rng(1))
    return grade_picture(picture_from_array(pixels), load("pc"))


def test_opaque_speck_on_the_core_costs_what_the_model_says() -> None:
    effect = face_with(
        Disc(row_um=0, col_um=0, diameter_um=3.0, transmission=0.02)
    ).effect
    low, high = effect.loss_db[1310]
    assert low == pytest.approx(0.92, abs=0.35)
    assert high == pytest.approx(1.85, abs=0.7)
    assert effect.loss_db[1550][1] < high


def test_speck_at_the_edge_of_zone_a_fails_and_costs_nothing() -> None:
    face = face_with(Disc(row_um=10, col_um=0, diameter_um=2.0, transmission=0.02))
    assert face.verdict == "fail"
    assert face.effect.loss_db[1310][1] < 0.05


def test_opaque_particle_beside_the_core_may_open_the_contact() -> None:
    face = face_with(Disc(row_um=20, col_um=0, diameter_um=8.0, transmission=0.02))
    assert face.effect.contact_risk
    assert face.effect.migrating == 1
