"""Accuracy of end-face grading on drawn faces of known truth.

The number of faces can be set with `EAVELIGHT_FACES` (2 000 unless told).
"""
# ruff: noqa: ANN001, ANN003, ANN201, C901

import math
import os
from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
from scipy import ndimage

from eavelight.demo.endface_simulator import (
    Disc,
    Flake,
    Line,
    Scene,
    centre_px,
    draw,
    encoded,
)
from eavelight.endface import Face, grade_bytes, picture_from_array
from eavelight.endface.face import grade_picture
from eavelight.endface.grade import Sized, breaches, disc, line
from eavelight.standards.endface_criteria import load

CLASSES = ("pc", "apc", "mm", "pc26")


def scene(rng, um=None, **changes):
    """A clean face under light, lens and ferrule of its own."""
    um = float(rng.uniform(0.26, 0.6)) if um is None else um
    room = min(60.0, 470 * um - 132.0)
    offset = (0.0, 0.0) if room < 5 else tuple(rng.uniform(-room, room, 2) * 0.8)
    base = Scene(
        um_per_px=um,
        offset_um=offset,
        gradient=float(rng.uniform(0, 0.2)),
        gradient_deg=float(rng.uniform(0, 360)),
        falloff=float(rng.uniform(0, 0.15)),
        glass=float(rng.uniform(0.25, 0.55)),
        ferrule=float(rng.uniform(0.2, 0.75)),
        psf_um=float(rng.uniform(0.6, 1.3)),
        gap_um=float(rng.uniform(0.4, 1.0)),
        grain=float(rng.uniform(0.02, 0.08)),
        grain_um=float(rng.uniform(0.6, 2.0)),
        noise=float(rng.uniform(0.003, 0.012)),
        core=float(rng.choice([0.0, 0.019, 0.04, -0.03])),
        gamma=float(rng.uniform(0.6, 1.0)),
        axis_ratio=float(rng.choice([1.0, 1.0099])),
        axis_deg=float(rng.uniform(0, 180)),
    )
    return replace(base, **changes)


def place(rng, low, high):
    r = math.sqrt(rng.uniform(low**2, high**2))
    t = rng.uniform(0, 2 * math.pi)
    return r * math.sin(t), r * math.cos(t)


def spot(rng, size, low, high):
    row, col = place(rng, low, high)
    return Disc(
        row_um=row,
        col_um=col,
        diameter_um=size,
        transmission=float(rng.choice([rng.uniform(0.0, 0.4), 1.6])),
    )


def scratch(rng, width, distance, length):
    t = rng.uniform(0, 180)
    c, s = math.cos(math.radians(t)), math.sin(math.radians(t))
    along = rng.uniform(-0.2, 0.2) * length
    return Line(
        row_um=along * s + distance * c,
        col_um=along * c - distance * s,
        angle_deg=t,
        length_um=length,
        width_um=width,
        contrast=float(rng.uniform(0.15, 0.8)),
    )


def dirty(rng):
    """Marks of one family, in number and size around what the tables allow."""
    family = rng.integers(0, 8)
    if family == 0:
        return ()
    if family == 1:
        return (spot(rng, rng.uniform(1.0, 4.0), 0, 11),)
    if family == 2:
        sizes = rng.uniform(1.0, 4.6, rng.integers(3, 10))
        return apart([spot(rng, s, 16, 50) for s in sizes])
    if family == 3:
        return (spot(rng, rng.uniform(3.0, 9.0), 20, 50),)
    if family == 4:
        return (spot(rng, rng.uniform(6.0, 16.0), 78, 112),)
    if family == 5:
        return tuple(
            scratch(rng, rng.uniform(0.8, 2.2), rng.uniform(-9, 9), rng.uniform(35, 90))
            for _ in range(rng.integers(1, 3))
        )
    if family == 6:
        return (scratch(rng, rng.uniform(0.8, 4.4), rng.uniform(18, 45), 40.0),)
    return apart(
        [
            spot(rng, rng.uniform(1.0, 4.5), 16, 50),
            spot(rng, rng.uniform(5.0, 14.0), 78, 112),
            scratch(rng, rng.uniform(0.8, 2.0), rng.uniform(20, 40), 35.0),
        ]
    )


def apart(marks):
    kept = []
    for mark in marks:
        reach = getattr(mark, "diameter_um", 40.0) / 2
        if all(
            math.hypot(mark.row_um - o.row_um, mark.col_um - o.col_um)
            > reach + getattr(o, "diameter_um", 40.0) / 2 + 3
            for o in kept
        ):
            kept.append(mark)
    return tuple(kept)


def truth_of(mark, grow):
    """The mark as grading sees it, grown by a guard band."""
    if isinstance(mark, Disc):
        exact = disc(mark.diameter_um, math.hypot(mark.row_um, mark.col_um))
    else:
        t = math.radians(mark.angle_deg)
        ends = [
            (
                mark.row_um + k * mark.length_um / 2 * math.sin(t),
                mark.col_um + k * mark.length_um / 2 * math.cos(t),
            )
            for k in np.linspace(-1, 1, 101)
        ]
        r = [math.hypot(*p) for p in ends]
        exact = line(mark.width_um, min(r), reach_um=max(r))
    return Sized(
        kind=exact.kind,
        size_um=max(exact.size_um + grow, 0.01),
        size_u_um=0.0,
        inner_um=max(0.0, exact.inner_um - grow),
        outer_um=exact.outer_um + grow,
    )


def truth(marks, criteria, um):
    """pass, fail, or None inside the guard band of the reference."""
    guard = max(0.5, um)
    low = bool(breaches([truth_of(m, -guard) for m in marks], criteria))
    high = bool(breaches([truth_of(m, guard) for m in marks], criteria))
    if low != high:
        return None
    return "fail" if low else "pass"


@dataclass
class Tally:
    faces: int = 0
    right: int = 0
    judged: int = 0
    false_pass: int = 0
    clean: int = 0
    false_marks: int = 0
    refused: int = 0
    centre: list = field(default_factory=list)
    size: list = field(default_factory=list)
    wrong: list = field(default_factory=list)
    refusals: list = field(default_factory=list)


def bytes_of(rng, pixels):
    kind = rng.integers(0, 4)
    if kind == 0:
        return encoded(pixels, "JPEG", quality=int(rng.integers(80, 96)))
    return encoded(pixels, ("PNG", "BMP", "TIFF")[kind - 1])


def count(tally: Tally, face: Face, drawn, marks, criteria) -> None:
    tally.faces += 1
    expected = truth(marks, criteria, drawn.um_per_px)
    if face.verdict == "refused":
        tally.refused += 1
        tally.refusals.append((face.refusal, drawn))
    row, col = centre_px(drawn)
    if face.fibre is not None:
        tally.centre.append(
            math.hypot(face.fibre.row_px - row, face.fibre.col_px - col)
            * drawn.um_per_px
        )
    if not marks:
        tally.clean += 1
        tally.false_marks += len(face.marks)
    if expected is not None and face.verdict != "refused":
        tally.judged += 1
        tally.right += face.verdict == expected
        tally.false_pass += expected == "fail" and face.verdict == "pass"
        if face.verdict != expected:
            tally.wrong.append((expected, face, drawn))
    for mark in marks:
        if isinstance(mark, Disc) and 2.0 <= mark.diameter_um <= 10.0:
            near = [
                m
                for m in face.marks
                if math.hypot(m.row_um - mark.row_um, m.col_um - mark.col_um) < 2.0
            ]
            if near:
                error = near[0].size_um - mark.diameter_um
                tally.size.append(error / max(0.5, 0.1 * mark.diameter_um))


def graded_faces(number: int, seed: int = 11) -> Tally:
    tally = Tally()
    rng = np.random.default_rng(seed)
    for _ in range(number):
        name = CLASSES[rng.integers(0, 4)]
        changes = {}
        if name == "mm":
            changes = {
                "core": float(rng.uniform(0, 0.1)),
                "core_um": float(rng.choice([50.0, 62.5])),
                "core_graded": True,
            }
        marks = dirty(rng)
        drawn = replace(scene(rng, **changes), marks=marks)
        criteria = load(name)
        face = grade_bytes(bytes_of(rng, draw(drawn, rng)), criteria)
        count(tally, face, drawn, marks, criteria)
    return tally


def enlarge(pixels, factor):
    from PIL import Image

    rows, cols = pixels.shape
    small = Image.fromarray(pixels).resize(
        (int(cols / factor), int(rows / factor)), Image.Resampling.BOX
    )
    return np.asarray(small.resize((cols, rows), Image.Resampling.BICUBIC))


def with_graphics(rng, pixels, drawn):
    from PIL import Image, ImageDraw

    kind = rng.integers(0, 5)
    mode = "RGB" if kind in (0, 1) else "L"
    image = Image.fromarray(pixels).convert(mode)
    pen = ImageDraw.Draw(image)
    row, col = centre_px(drawn)
    ink = {"RGB": (0, 220, 60), "L": int(rng.choice([0, 255]))}[mode]
    if kind in (0, 2):
        for radius in (12.5, 57.5, 67.5, 125.0):
            r = radius / drawn.um_per_px
            pen.ellipse((col - r, row - r, col + r, row + r), outline=ink)
    elif kind in (1, 3):
        pen.line((0, int(row), pixels.shape[1], int(row)), fill=ink)
        pen.line((int(col), 0, int(col), pixels.shape[0]), fill=ink)
    else:
        pen.text((20, 20), "PASS 0.5 um/px", fill=ink)
        pen.text((20, 40), "2026 03 09 plug", fill=ink)
    return np.asarray(image)


def screen(rng, pixels):
    rows, cols = pixels.shape
    period = rng.uniform(2.6, 6.0)
    t = math.radians(rng.uniform(2, 20))
    y, x = np.mgrid[:rows, :cols]
    u = x * math.cos(t) + y * math.sin(t)
    v = y * math.cos(t) - x * math.sin(t)
    wave = 1 + 0.08 * (
        np.cos(2 * math.pi * u / period) + np.cos(2 * math.pi * v / period)
    )
    soft = ndimage.gaussian_filter(pixels.astype(float), 1.0)
    noise = rng.standard_normal(pixels.shape) * 2
    return np.clip(soft * wave + noise, 0, 255).astype(np.uint8)


def striped(rng, pixels, drawn):
    """Only a belt is in focus, as with a flat tip on an angled plug."""
    soft = ndimage.gaussian_filter(pixels.astype(float), 3.0 / drawn.um_per_px)
    rows = (np.arange(pixels.shape[0]) - centre_px(drawn)[0]) * drawn.um_per_px
    share = np.clip(np.abs(rows - rng.uniform(-20, 20)) / 22.0 - 0.5, 0, 1)[:, None]
    return np.round(pixels * (1 - share) + soft * share).astype(np.uint8)


def trap(rng, kind):
    """A picture that must be refused."""
    drawn = replace(scene(rng), marks=dirty(rng))
    um = drawn.um_per_px
    if kind == "no face":
        noise = rng.standard_normal((960, 1280))
        soft = ndimage.gaussian_filter(noise, rng.uniform(0.5, 12))
        soft = soft / soft.std()
        return np.clip(90 + rng.uniform(2, 40) * soft, 0, 255).astype(np.uint8), um
    if kind == "out of focus":
        drawn = replace(drawn, psf_um=float(rng.uniform(2.6, 8.0)))
    if kind == "overexposed":
        drawn = replace(drawn, glass=1.05, ferrule=1.3, gradient=0.05)
    if kind == "dark":
        drawn = replace(drawn, glass=0.02, ferrule=0.03, gamma=1.0)
    if kind == "lit core":
        drawn = replace(drawn, core=float(rng.uniform(0.6, 3.0)))
    if kind == "one sided":
        drawn = replace(drawn, gradient=float(rng.uniform(0.8, 1.3)), gradient_deg=90.0)
    if kind == "cut off":
        edge = 62.5 / um
        shift = (480 - rng.uniform(0.2, 0.8) * edge) * um
        drawn = replace(drawn, offset_um=(shift, 0.0))
    pixels = draw(drawn, rng)
    if kind == "one sided":
        pixels = striped(rng, pixels, drawn)
    if kind == "enlarged":
        pixels = enlarge(pixels, rng.uniform(1.5, 3.0))
    if kind == "graphics":
        pixels = with_graphics(rng, pixels, drawn)
    if kind == "screen":
        pixels = screen(rng, pixels)
    if kind == "scale":
        um *= float(rng.choice([0.9, 1.1, 1.05, 0.95]))
    return pixels, um


TRAPS = (
    "no face",
    "out of focus",
    "overexposed",
    "dark",
    "lit core",
    "one sided",
    "cut off",
    "enlarged",
    "graphics",
    "screen",
    "scale",
)


def trapped(number: int, seed: int = 12) -> tuple[Counter, Counter]:
    rng = np.random.default_rng(seed)
    seen, refused = Counter(), Counter()
    for index in range(number):
        kind = TRAPS[index % len(TRAPS)]
        pixels, um = trap(rng, kind)
        face = grade_picture(
            picture_from_array(pixels), load("pc"), stated_um_per_px=um
        )
        seen[kind] += 1
        refused[kind] += face.verdict == "refused"
    return seen, refused


def thin_scratches(number: int, seed: int = 13) -> float:
    rng = np.random.default_rng(seed)
    found = 0
    for _ in range(number):
        um = float(rng.uniform(0.28, 0.5))
        mark = replace(scratch(rng, 1.0, rng.uniform(-35, 35), 20.0), contrast=0.05)
        drawn = replace(
            scene(rng, um=um, psf_um=0.9, noise=0.012 * 0.4, gamma=1.0),
            glass=0.4,
            marks=(mark,),
        )
        face = grade_bytes(encoded(draw(drawn, rng)), load("pc"))
        found += any(
            m.kind == "scratch"
            and math.hypot(m.row_um - mark.row_um, m.col_um - mark.col_um) < 8
            for m in face.marks
        )
    return found / number


def flakes(number: int, seed: int = 14) -> list[float]:
    """Error of the enclosing circle of irregular particles, in allowed errors."""
    from eavelight.endface.geometry import smallest_circle

    rng = np.random.default_rng(seed)
    errors = []
    for _ in range(number):
        row, col = place(rng, 15, 48)
        harmonics = tuple(
            (float(a), float(b)) for a, b in rng.uniform(-0.12, 0.12, (3, 2))
        )
        flake = Flake(
            row_um=row,
            col_um=col,
            radius_um=float(rng.uniform(1.2, 4.2)),
            harmonics=harmonics,
            transmission=float(rng.uniform(0, 0.3)),
        )
        t = np.linspace(0, 2 * np.pi, 200)
        r = np.full_like(t, flake.radius_um)
        for order, (a, b) in enumerate(harmonics, start=2):
            r += flake.radius_um * (a * np.cos(order * t) + b * np.sin(order * t))
        size = 2 * smallest_circle(r * np.sin(t), r * np.cos(t)).radius
        drawn = replace(scene(rng), marks=(flake,))
        face = grade_bytes(encoded(draw(drawn, rng)), load("pc"))
        near = [m for m in face.marks if math.hypot(m.row_um - row, m.col_um - col) < 3]
        if near:
            errors.append((near[0].size_um - size) / max(0.5, 0.1 * size))
        else:
            errors.append(9.0)
    return errors


def p95(values) -> float:
    return float(np.quantile(np.abs(values), 0.95))


def run() -> list[tuple[str, str, str]]:
    number = int(os.environ.get("EAVELIGHT_FACES", "2000"))
    tally = graded_faces(number)
    seen, refused = trapped(max(110, number // 8))
    share = sum(refused.values()) / sum(seen.values())
    weak = ", ".join(f"{k} {refused[k]}/{n}" for k, n in seen.items() if refused[k] < n)
    errors = flakes(max(60, number // 10))
    return [
        (
            f"verdict right outside the guard band, {tally.judged} faces",
            f"{100 * tally.right / tally.judged:.2f} %",
            ">= 99 %",
        ),
        (
            "dirty face called clean",
            f"{100 * tally.false_pass / tally.judged:.2f} %",
            "<= 0.1 %",
        ),
        (
            "good pictures refused",
            f"{100 * tally.refused / tally.faces:.2f} %",
            "<= 1 %",
        ),
        (
            f"traps refused, {sum(seen.values())} pictures {weak}",
            f"{100 * share:.1f} %",
            ">= 98 %",
        ),
        (
            "fibre centre, 95 % of errors within",
            f"{p95(tally.centre):.2f} µm",
            "<= 0.3 µm",
        ),
        (
            "size of round spots 2 to 10 µm, 95 % of errors over max(0.5 µm, 10 %)",
            f"{p95(tally.size):.2f}",
            "<= 1",
        ),
        (
            "size of irregular particles, same measure",
            f"{p95(errors):.2f}",
            "<= 1",
        ),
        (
            "scratches of 1 µm, 5 %, 20 µm found",
            f"{100 * thin_scratches(max(60, number // 10)):.1f} %",
            ">= 95 %",
        ),
        (
            f"false marks per 100 clean faces, {tally.clean} faces",
            f"{100 * tally.false_marks / max(tally.clean, 1):.2f}",
            "<= 1",
        ),
    ]
