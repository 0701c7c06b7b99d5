"""Marks are found where they were drawn and measured by the stated rules."""

import math

import numpy as np
import pytest

from eavelight.demo.endface_simulator import (
    Disc,
    Line,
    Lint,
    Scene,
    _disc_profile,
    draw,
)
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.spots import size_without_blur
from eavelight.standards.endface_criteria import load


def face(*marks, connector_class="pc", seed=3, **changes):
    pixels = draw(Scene(marks=marks, **changes), np.random.default_rng(seed))
    return grade_picture(picture_from_array(pixels), load(connector_class))


@pytest.mark.parametrize("size", [2.0, 3.0, 5.0, 10.0])
@pytest.mark.parametrize("transmission", [0.1, 0.7, 1.5])
def test_spot_size_is_right(size: float, transmission: float) -> None:
    mark = Disc(row_um=20, col_um=-25, diameter_um=size, transmission=transmission)
    found = face(mark).marks
    assert len(found) == 1
    assert found[0].size_um == pytest.approx(size, abs=max(0.5, 0.1 * size))
    assert math.hypot(found[0].row_um - 20, found[0].col_um + 25) < 0.4
    assert (found[0].contrast > 0) == (transmission > 1)


@pytest.mark.parametrize("width", [0.8, 1.5, 3.0, 4.2])
def test_scratch_width_is_right_and_it_is_one_mark(width: float) -> None:
    mark = Line(row_um=25, col_um=0, angle_deg=20, length_um=60, width_um=width)
    found = face(mark).marks
    assert [m.kind for m in found] == ["scratch"]
    assert found[0].size_um == pytest.approx(width, abs=0.45)


def test_faint_thin_scratch_is_found() -> None:
    mark = Line(
        row_um=20, col_um=10, angle_deg=70, length_um=20, width_um=1, contrast=0.05
    )
    found = face(mark, noise=0.012 * 0.42).marks
    assert [m.kind for m in found] == ["scratch"]
    assert found[0].length_um == pytest.approx(20, abs=3)


def test_line_thinner_than_the_lens_resolves_says_so() -> None:
    mark = Line(
        row_um=20, col_um=10, angle_deg=70, length_um=40, width_um=0.3, contrast=0.8
    )
    found = face(mark).marks
    assert [m.kind for m in found] == ["scratch"]
    assert found[0].at_limit


def test_scratch_broken_by_a_gap_is_counted_once() -> None:
    pieces = [
        Line(row_um=20, col_um=c, angle_deg=0, length_um=25, width_um=1.5)
        for c in (-22, 15)
    ]
    assert len(face(*pieces).marks) == 1


def test_crossing_scratches_are_two() -> None:
    pieces = [
        Line(row_um=5, col_um=5, angle_deg=a, length_um=70, width_um=1.5)
        for a in (10, 80)
    ]
    found = face(*pieces, connector_class="apc")
    assert [m.kind for m in found.marks] == ["scratch", "scratch"]
    assert found.verdict == "pass"


def test_lint_is_no_scratch() -> None:
    hair = Lint(row_um=10, col_um=0, length_um=90, width_um=3, turn_deg=110)
    found = face(hair, connector_class="apc")
    assert found.verdict == "fail"
    assert "spot" in {m.kind for m in found.marks}


def test_mark_across_the_cladding_edge_is_measured_as_one() -> None:
    found = face(Disc(row_um=0, col_um=60, diameter_um=20)).marks
    assert max(m.size_um for m in found) == pytest.approx(20, abs=2.0)
    assert min(m.inner_um for m in found) == pytest.approx(50, abs=0.6)


@pytest.mark.parametrize("core", [0.0, 0.019, 0.05, -0.04])
def test_core_is_not_a_mark(core: float) -> None:
    assert face(core=core).marks == ()


def test_graded_core_is_not_a_mark() -> None:
    found = face(connector_class="mm", core=0.1, core_um=50.0, core_graded=True)
    assert found.marks == ()


def test_speck_on_the_core_is_found() -> None:
    found = face(Disc(row_um=0.5, col_um=0.5, diameter_um=1.0), core=0.03)
    assert found.verdict == "fail"


def test_grain_of_the_ferrule_gives_no_marks() -> None:
    assert face(grain=0.1, grain_um=2.0).marks == ()


@pytest.mark.parametrize("diameter", [0.8, 1.2, 2.0, 3.0])
def test_blur_is_taken_out_of_a_disc(diameter: float) -> None:
    r, value = _disc_profile(diameter / 2, 0.9 / 2.3548)
    seen = 2 * float(np.interp(-0.5 * value[0], -value, r))
    assert size_without_blur(seen, 0.9) == pytest.approx(diameter, abs=0.03)
