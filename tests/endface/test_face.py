"""The whole chain on pictures of a renderer that the grader was not tuned to."""

import math

import numpy as np
import pytest

from eavelight.demo.endface_simulator import encoded
from eavelight.endface import grade_bytes
from eavelight.standards.endface_criteria import load


def shot_of(photographs, rng, um=None):
    return photographs.Shot(
        um=float(rng.uniform(0.42, 0.6)) if um is None else um,
        row_um=float(rng.uniform(-20, 20)), col_um=float(rng.uniform(-25, 25)),
        lens_um=float(rng.uniform(0.5, 1.1)), glass=float(rng.uniform(70, 130)),
        ferrule=float(rng.uniform(60, 180)), photons=float(rng.uniform(6000, 15000)),
        grain=float(rng.uniform(0.03, 0.12)), crescent=float(rng.choice([0, 60])),
        vignette=float(rng.uniform(0, 0.4)), angled=bool(rng.integers(0, 2)),
        core=float(rng.choice([0, 0.03])), ring_um=float(rng.uniform(0.6, 1.5)),
        colour=bool(rng.integers(0, 3) == 0),
    )  # fmt: skip


def file_of(rng, pixels):
    kind = rng.integers(0, 3)
    if kind == 0:
        return encoded(pixels, "JPEG", quality=int(rng.integers(82, 96)))
    return encoded(pixels, ("PNG", "BMP")[kind - 1])


@pytest.mark.parametrize("seed", range(5))
def test_clean_face_passes_without_a_mark(seed: int, photographs) -> None:
    rng = np.random.default_rng(100 + seed)
    pixels = photographs.photograph(shot_of(photographs, rng), rng)
    face = grade_bytes(file_of(rng, pixels), load("pc"))
    assert face.verdict == "pass"
    assert face.marks == ()


@pytest.mark.parametrize("seed", range(6))
def test_dirty_face_is_never_called_clean(seed: int, photographs) -> None:
    rng = np.random.default_rng(200 + seed)
    shot = shot_of(photographs, rng)
    size = (2.0, 7.0, 14.0)[seed % 3]
    reach = (6, 35, 95)[seed % 3]
    t = rng.uniform(0, 2 * math.pi)
    cover = photographs.round_shape(
        shot, reach * math.sin(t), reach * math.cos(t), size / 2
    )
    factor = (0.3, 1.6)[seed // 3]
    pixels = photographs.photograph(shot, rng, [(cover, factor)])
    face = grade_bytes(file_of(rng, pixels), load("pc"))
    assert face.verdict == "fail"
    assert face.marks[0].size_um == pytest.approx(size, abs=max(0.6, 0.1 * size))


@pytest.mark.parametrize("seed", range(3))
def test_scratch_through_the_core_fails_pc_and_passes_apc(
    seed: int, photographs
) -> None:
    rng = np.random.default_rng(300 + seed)
    shot = shot_of(photographs, rng)
    cover = photographs.bar(shot, 2, -3, float(rng.uniform(0, 180)), 50, 1.4)
    data = encoded(photographs.photograph(shot, rng, [(cover, 0.6)]))
    assert grade_bytes(data, load("pc")).verdict == "fail"
    assert grade_bytes(data, load("apc")).verdict == "pass"


def test_same_bytes_give_the_same_result(photographs) -> None:
    rng = np.random.default_rng(9)
    data = encoded(photographs.photograph(shot_of(photographs, rng), rng))
    a, b = (grade_bytes(data, load("pc")) for _ in range(2))
    assert (a.verdict, a.fibre) == (b.verdict, b.fibre)


def test_format_does_not_change_the_verdict(photographs) -> None:
    rng = np.random.default_rng(12)
    shot = shot_of(photographs, rng, um=0.5)
    cover = photographs.round_shape(shot, 20, 20, 3.2)
    pixels = photographs.photograph(shot, rng, [(cover, 0.2)])
    faces = [
        grade_bytes(encoded(pixels, kind), load("pc"))
        for kind in ("PNG", "BMP", "TIFF")
    ]
    assert {face.verdict for face in faces} == {"fail"}
    assert len({face.marks[0].size_um for face in faces}) == 1


@pytest.mark.parametrize("core", [0.03, 0.06])
def test_core_beside_the_middle_of_the_cladding_is_no_mark(
    core: float, photographs
) -> None:
    rng = np.random.default_rng(5)
    shot = photographs.Shot(core=0.0)
    bright = photographs.round_shape(shot, 0.6, -0.7, 4.3)
    pixels = photographs.photograph(shot, rng, [(bright, 1 + core)])
    face = grade_bytes(encoded(pixels), load("pc"))
    assert face.verdict == "pass"
