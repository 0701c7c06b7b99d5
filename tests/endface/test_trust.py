"""Pictures that must be refused, each with its reason, and good ones that must not."""

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage

from eavelight.demo.endface_simulator import Disc, Droplet, Scene, centre_px, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.face import after_abrasion
from eavelight.standards.endface_criteria import load

RNG = np.random.default_rng


def verdict(pixels, **options):
    return grade_picture(picture_from_array(pixels), load("pc"), **options)


def reason(pixels, **options):
    face = verdict(pixels, **options)
    assert face.verdict == "refused"
    assert face.marks == ()
    return face.refusal.reason


def picture(seed=2, **changes):
    return draw(Scene(**changes), RNG(seed))


def test_no_end_face() -> None:
    soft = ndimage.gaussian_filter(RNG(1).standard_normal((700, 900)), 3)
    pixels = np.clip(100 + 30 * soft / soft.std(), 0, 255).astype(np.uint8)
    assert reason(pixels) == "no_end_face"


@pytest.mark.parametrize("psf", [3.0, 5.0, 9.0])
def test_out_of_focus(psf: float) -> None:
    assert reason(picture(psf_um=psf)) in {"out_of_focus", "no_end_face"}


def test_overexposed() -> None:
    assert reason(picture(glass=1.1, ferrule=1.3)) == "overexposed"


def test_too_dark() -> None:
    assert reason(picture(glass=0.02, ferrule=0.04)) == "too_dark"


def test_light_in_the_core() -> None:
    assert reason(picture(core=1.0)) == "light_in_core"


def test_cut_off() -> None:
    assert reason(picture(offset_um=(200.0, 0.0))) == "cut_off"


def test_zone_d_cut_off_grades_the_rest_and_says_so() -> None:
    face = verdict(picture(offset_um=(150.0, 0.0)))
    assert face.verdict == "pass"
    assert "D" not in face.zones
    assert {"A", "B"} <= set(face.zones)
    assert "zones_a_b_only" in face.notes


def test_one_sided_light() -> None:
    assert reason(picture(gradient=1.2, gradient_deg=90)) in {"one_sided", "graphics"}


def test_belt_of_focus_and_one_sided_light_mean_the_wrong_tip() -> None:
    sharp = picture(gradient=1.0, gradient_deg=90).astype(float)
    soft = ndimage.gaussian_filter(sharp, 6)
    rows = np.abs(np.arange(960) - 470.0)
    share = np.clip(rows / 44 - 0.5, 0, 1)[:, None]
    assert reason((sharp * (1 - share) + soft * share).astype(np.uint8)) == "one_sided"


@pytest.mark.parametrize("factor", [1.5, 2.0, 3.0])
def test_enlarged(factor: float) -> None:
    pixels = picture()
    small = Image.fromarray(pixels).resize(
        (int(1280 / factor), int(960 / factor)), Image.Resampling.BOX
    )
    large = np.asarray(small.resize((1280, 960), Image.Resampling.BICUBIC))
    assert reason(large) in {"enlarged", "out_of_focus"}


def test_screen_photograph() -> None:
    y, x = np.mgrid[:960, :1280]
    wave = 1 + 0.08 * np.cos(1.7 * (x + 0.1 * y)) + 0.08 * np.cos(1.7 * (y - 0.1 * x))
    pixels = np.clip(picture() * wave, 0, 255).astype(np.uint8)
    assert reason(pixels) == "screen_photo"


@pytest.mark.parametrize("kind", ["rings", "cross", "text", "colour"])
def test_graphics(kind: str) -> None:
    image = Image.fromarray(picture()).convert("RGB")
    pen = ImageDraw.Draw(image)
    row, col = centre_px(Scene())
    ink = (0, 230, 0) if kind == "colour" else (255, 255, 255)
    if kind in ("rings", "colour"):
        for radius in (25, 115, 250):
            pen.ellipse(
                (col - radius, row - radius, col + radius, row + radius), outline=ink
            )
    if kind == "cross":
        pen.line((0, row, 1279, row), fill=ink)
    if kind == "text":
        pen.text((30, 30), "0.5 um PASS", fill=ink)
    assert reason(np.asarray(image)) == "graphics"


@pytest.mark.parametrize("stated", [0.46, 0.54])
def test_scale_contradiction(stated: float) -> None:
    assert reason(picture(), stated_um_per_px=stated) == "scale_contradiction"


def test_right_scale_is_accepted() -> None:
    assert verdict(picture(), stated_um_per_px=0.503).verdict == "pass"


def test_stretched_picture() -> None:
    wide = Image.fromarray(picture()).resize((1280, 890), Image.Resampling.LANCZOS)
    assert reason(np.asarray(wide)) == "stretched"


def test_several_fibres_need_a_name() -> None:
    one = draw(Scene(shape=(500, 500)), RNG(1))
    both = np.hstack([one, draw(Scene(shape=(500, 500)), RNG(2))])
    assert reason(both) == "several_fibres"
    assert verdict(both, which=2).fibre.col_px > 500
    assert reason(both, which=3) == "no_such_fibre"


def test_coarse_picture_never_passes() -> None:
    face = verdict(picture(um_per_px=0.9))
    assert face.verdict == "undecided"
    assert "coarse" in face.notes


def test_coarse_picture_of_a_dirty_face_fails() -> None:
    mark = Disc(row_um=0, col_um=30, diameter_um=9)
    assert verdict(picture(um_per_px=0.9, marks=(mark,))).verdict == "fail"


def test_frost_fails_and_is_not_taken_for_something_else() -> None:
    rng = RNG(7)
    drops = tuple(
        Droplet(row_um=float(y), col_um=float(x), diameter_um=float(d))
        for y, x, d in zip(
            *rng.uniform(-120, 120, (2, 200)), rng.uniform(4, 15, 200), strict=True
        )
    )
    assert verdict(picture(marks=drops)).verdict == "fail"


def test_nearly_noiseless_picture_is_good() -> None:
    assert verdict(picture(noise=0.001)).verdict == "pass"


def test_pass_after_abrasion_is_undecided_until_measured() -> None:
    face = after_abrasion(verdict(picture()))
    assert face.verdict == "undecided"
    assert "abraded" in face.notes


def test_fail_after_abrasion_stays_a_fail() -> None:
    mark = Disc(row_um=0, col_um=0, diameter_um=5)
    assert after_abrasion(verdict(picture(marks=(mark,)))).verdict == "fail"
