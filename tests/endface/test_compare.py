import numpy as np
import pytest
from PIL import Image

from eavelight.demo.endface_simulator import Disc, Line, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.compare import compare_marks, turn_between
from eavelight.standards.endface_criteria import load

KEPT = (
    Disc(row_um=30, col_um=-20, diameter_um=4),
    Line(row_um=-25, col_um=10, angle_deg=40, length_um=50, width_um=1.5),
)
LOOSE = (
    Disc(row_um=-20, col_um=-30, diameter_um=6),
    Disc(row_um=80, col_um=20, diameter_um=12),
)


def face(*marks, turn=0, seed=1):
    pixels = draw(Scene(marks=marks), np.random.default_rng(seed))
    if turn:
        # positive turns from column axis to row axis, which Pillow counts negative
        pixels = np.asarray(
            Image.fromarray(pixels).rotate(-turn, Image.Resampling.BICUBIC)
        )[90:-90, 90:-90]
    return grade_picture(picture_from_array(pixels), load("pc"))


def test_what_went_was_loose_and_what_stayed_is_permanent() -> None:
    before, after = face(*KEPT, *LOOSE), face(*KEPT, seed=2)
    result = compare_marks(before.marks, after.marks)
    assert sorted(result.before) == ["gone", "gone", "stayed", "stayed"]
    assert result.after == ("stayed", "stayed")


def test_a_moved_particle_is_called_moved() -> None:
    before = face(Disc(row_um=20, col_um=20, diameter_um=7))
    after = face(Disc(row_um=-30, col_um=5, diameter_um=7), seed=2)
    result = compare_marks(before.marks, after.marks)
    assert result.before == ("moved",)
    assert result.after == ("moved",)


def test_two_pictures_of_one_face_agree() -> None:
    a, b = face(*KEPT, *LOOSE), face(*KEPT, *LOOSE, seed=5)
    assert set(compare_marks(a.marks, b.marks).before) == {"stayed"}
    assert a.verdict == b.verdict


@pytest.mark.parametrize("turn", [8, -15])
def test_turn_of_the_plug_is_found(turn: int) -> None:
    before = face(*KEPT, *LOOSE)
    pixels = draw(Scene(marks=(*KEPT, *LOOSE)), np.random.default_rng(1))
    turned = np.asarray(
        Image.fromarray(pixels).rotate(-turn, Image.Resampling.BICUBIC)
    )[200:-200, 200:-200]
    from eavelight.endface.fibre import find_fibres
    from eavelight.endface.surface import flatten

    values = turned.astype(np.float32) / 255
    surface = flatten(values, find_fibres(values)[0])
    found, agreement = turn_between(before.surface, surface)
    assert found == pytest.approx(turn, abs=1.0)
    assert agreement > 5


def test_new_parallel_lines_are_counted_as_damage() -> None:
    lines = [
        Line(row_um=r, col_um=0, angle_deg=30, length_um=60, width_um=1.2)
        for r in (-30, -10, 20)
    ]
    result = compare_marks(face().marks, face(*lines).marks)
    assert result.new_parallel == 3
    assert result.after == (None, None, None)
