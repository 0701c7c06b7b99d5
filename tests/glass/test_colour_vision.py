"""Confusable colours: the warnings that a colour name alone cannot give."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.colour_vision import (
    colour_difference,
    confusable_pairs,
    difference_ciede2000,
    lab_from_linear_rgb,
    linear_rgb_from_hex,
)
from eavelight.standards.colour_schemes import (
    colour_schemes,
    colour_swatches,
    synonyms,
)

RGB = st.lists(st.floats(0, 1), min_size=3, max_size=3)


@settings(deadline=None, max_examples=50)
@given(RGB, RGB)
def test_difference_is_symmetric_and_zero_only_for_equals(
    one: list[float], two: list[float]
) -> None:
    there, back = colour_difference(one, two), colour_difference(two, one)
    assert there == pytest.approx(back, abs=1e-9)
    assert colour_difference(one, one) == pytest.approx(0, abs=1e-9)


def test_white_has_no_colour() -> None:
    lab = lab_from_linear_rgb(linear_rgb_from_hex("#ffffff"))
    np.testing.assert_allclose(lab, [100, 0, 0], atol=0.02)


def test_blue_and_violet_are_the_worst_pair_for_red_green_deficiency() -> None:
    for vision in ("protan", "deutan"):
        worst = confusable_pairs(colour_swatches(), visions=[vision])[0]
        assert {worst.first, worst.second} == {"blue", "violet"}


def test_blue_and_orange_are_safe_for_every_eye() -> None:
    pairs = confusable_pairs(colour_swatches(), below=50.0)
    assert not [p for p in pairs if {p.first, p.second} == {"blue", "orange"}]


def test_little_light_makes_pairs_harder() -> None:
    bright = confusable_pairs(colour_swatches())
    dusk = confusable_pairs(colour_swatches(), light=0.15)
    assert len(dusk) > len(bright)


def test_every_colour_of_every_scheme_has_a_swatch_or_no_colour() -> None:
    words = synonyms()
    for scheme in colour_schemes().values():
        for mark in scheme.strands:
            name = words.get(mark.colour, mark.colour)
            assert name in colour_swatches() or name == "transparent"


def test_unknown_eye_is_refused() -> None:
    with pytest.raises(ValueError, match="deutan"):
        colour_difference([0, 0, 0], [1, 1, 1], vision="hawk")


def test_screen_colour_must_be_six_digits() -> None:
    with pytest.raises(ValueError, match="#RRGGBB"):
        linear_rgb_from_hex("blue")


def test_grey_against_colour_uses_the_hue_of_the_colour() -> None:
    value = difference_ciede2000([50, 0, 0], [50, -1, 2])
    assert value == pytest.approx(2.3669, abs=5e-5)
