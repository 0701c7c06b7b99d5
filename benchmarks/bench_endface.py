"""Speed of end-face grading beside a plain pipeline of OpenCV's ready-made parts.

Times are processor time of one core.
"""
# ruff: noqa: ANN001, ANN201, E501

import math
import resource
import statistics
import time
from dataclasses import replace

import cv2
import numpy as np

from benchmarks.accuracy_endface import dirty, scene, truth
from eavelight.demo.endface_simulator import Disc, Scene, centre_px, draw, encoded
from eavelight.endface import grade_bytes, picture_from_array, read_picture
from eavelight.endface.compare import compare_marks, turn_between
from eavelight.endface.grade import Sized, breaches
from eavelight.standards.endface_criteria import load


def ready_made(pixels, criteria):
    """Hough circle, local threshold, connected components, line segments."""
    soft = cv2.medianBlur(pixels, 5)
    circles = cv2.HoughCircles(
        soft, cv2.HOUGH_GRADIENT, 1.5, 200, param1=80, param2=40,
        minRadius=60, maxRadius=300,
    )  # fmt: skip
    if circles is None:
        return "refused", None
    x, y, r = (float(v) for v in np.ravel(circles)[:3])
    um = 62.5 / r
    mask = cv2.adaptiveThreshold(
        soft, 255, cv2.ADAPTIVE_THRESH_GAUSSIAN_C, cv2.THRESH_BINARY_INV, 51, 8
    )
    marks = []
    count, _, stats, middle = cv2.connectedComponentsWithStats(mask)
    for k in range(1, count):
        if stats[k, cv2.CC_STAT_AREA] < 3:
            continue
        distance = math.hypot(middle[k][0] - x, middle[k][1] - y) * um
        size = max(stats[k, 2], stats[k, 3]) * um
        if abs(distance - 62.5) < 4 or size > 100:
            continue
        marks.append(
            Sized(
                kind="spot",
                size_um=size,
                size_u_um=0.0,
                inner_um=max(0.0, distance - size / 2),
                outer_um=distance + size / 2,
            )
        )
    half = int(0.93 * r)
    top, left = max(0, int(y) - half), max(0, int(x) - half)
    glass = pixels[top : top + 2 * half, left : left + 2 * half]
    lines = cv2.createLineSegmentDetector().detect(glass)[0]
    for line in () if lines is None else lines.reshape(-1, 4):
        x1, y1, x2, y2 = line
        if math.hypot(x2 - x1, y2 - y1) * um < 10:
            continue
        t = np.linspace(0, 1, 30)
        reach = (
            np.hypot(left + x1 + t * (x2 - x1) - x, top + y1 + t * (y2 - y1) - y) * um
        )
        if reach.max() < 58:
            marks.append(
                Sized(
                    kind="scratch",
                    size_um=1.0,
                    size_u_um=0.0,
                    inner_um=float(reach.min()),
                    outer_um=float(reach.max()),
                )
            )
    return "fail" if breaches(marks, criteria) else "pass", (y, x)


def side_by_side(number=40, seed=21):
    rng = np.random.default_rng(seed)
    ours, theirs, right, theirs_right, judged = [], [], 0, 0, 0
    centre, their_centre = [], []
    criteria = load("pc")
    for _ in range(number):
        marks = dirty(rng)
        drawn = replace(scene(rng), marks=marks)
        pixels = draw(drawn, rng)
        data = encoded(pixels)
        start = time.process_time()
        face = grade_bytes(data, criteria)
        ours.append(time.process_time() - start)
        start = time.process_time()
        raw = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
        verdict, place = ready_made(raw, criteria)
        theirs.append(time.process_time() - start)
        row, col = centre_px(drawn)
        if face.fibre is not None:
            centre.append(
                math.hypot(face.fibre.row_px - row, face.fibre.col_px - col)
                * drawn.um_per_px
            )
        if place is not None:
            their_centre.append(
                math.hypot(place[0] - row, place[1] - col) * drawn.um_per_px
            )
        expected = truth(marks, criteria, drawn.um_per_px)
        if expected is not None:
            judged += 1
            right += face.verdict == expected
            theirs_right += verdict == expected
    return ours, theirs, (right, theirs_right, judged), (centre, their_centre)


def many(number=500):
    """Peak memory after 50 pictures and after all, in one process."""
    rng = np.random.default_rng(5)
    data = encoded(draw(Scene(marks=(Disc(row_um=5, col_um=5, diameter_um=3),)), rng))
    criteria = load("pc")
    early = 0
    for index in range(number):
        grade_bytes(data, criteria)
        if index == 50:
            early = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return early / 1024, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def median_ms(call, times=15):
    call()
    taken = []
    for _ in range(times):
        start = time.process_time()
        call()
        taken.append(time.process_time() - start)
    return 1e3 * statistics.median(taken)


def run() -> list[tuple[str, str, str]]:
    cv2.setNumThreads(1)
    rng = np.random.default_rng(3)
    criteria = load("pc")
    clean = encoded(draw(Scene(), rng))
    marks = dirty(np.random.default_rng(8))
    spotted = encoded(draw(Scene(marks=marks), rng))
    frost = tuple(
        Disc(row_um=float(y), col_um=float(x), diameter_um=float(rng.uniform(2, 8)))
        for y, x in rng.uniform(-110, 110, (300, 2))
    )
    covered = encoded(draw(Scene(marks=frost), rng))
    ours, theirs, (right, theirs_right, judged), (centre, their_centre) = side_by_side()
    a = grade_bytes(spotted, criteria)
    b = grade_bytes(clean, criteria)
    rows = [
        (
            f"1280 x 960 {name}, file to verdict, one core",
            f"{median_ms(lambda data=data: grade_bytes(data, criteria)):.0f} ms",
            "< 150 ms",
        )
        for name, data in (("clean", clean), ("with marks", spotted))
    ]
    rows += [
        (
            "1280 x 960 covered by 300 droplets",
            f"{median_ms(lambda: grade_bytes(covered, criteria), 3):.0f} ms",
            "-",
        ),
        (
            "of it reading the PNG",
            f"{median_ms(lambda: read_picture(clean)):.0f} ms",
            "-",
        ),
    ]
    if a.surface is not None and b.surface is not None:
        rows.append(
            (
                "before and after laid on each other",
                f"{median_ms(lambda: (turn_between(a.surface, b.surface), compare_marks(a.marks, b.marks))):.0f} ms",
                "-",
            )
        )
    picture = picture_from_array(draw(Scene(), rng))
    import scipy.ndimage as ndimage

    rows += [
        (
            "Gaussian of a 528 x 528 picture, scipy beside OpenCV",
            f"{median_ms(lambda: ndimage.gaussian_filter(picture.values[:528, :528], 1.5)):.1f}"
            f" / {median_ms(lambda: cv2.GaussianBlur(picture.values[:528, :528], (0, 0), 1.5)):.1f} ms",
            "-",
        ),
        (
            f"side by side, {len(ours)} faces: time, ours and plain OpenCV",
            f"{1e3 * statistics.median(ours):.0f} / {1e3 * statistics.median(theirs):.0f} ms",
            "both printed",
        ),
        (
            f"side by side: verdicts right of {judged}",
            f"{right} / {theirs_right}",
            "more accurate",
        ),
        (
            "side by side: centre error, median",
            f"{statistics.median(centre):.2f} / {statistics.median(their_centre):.2f} µm",
            "more accurate",
        ),
    ]
    early, late = many()
    rows.append(
        (
            "peak memory after 50 and after 500 pictures",
            f"{early:.0f} / {late:.0f} MB",
            "flat",
        )
    )
    return rows
