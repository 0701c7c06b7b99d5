"""Figures: the same bytes, no label on a line, every kind of data drawn."""

import dataclasses
import re

import numpy as np
import pytest

from eavelight.closeout.figures import (
    LevelLine,
    LevelPoint,
    TraceMark,
    TracePlot,
    VoltsCurve,
    VoltsLine,
    VoltsPoint,
    draw,
)
from eavelight.closeout.figures.style import Label, LabelPlacer, figure
from eavelight.closeout.figures.trace_plot import envelope

LEVELS = LevelLine(
    places=("hub", "feeder", "splitter", "port", "terminal"),
    expected_dbm=(3.0, 1.9, -15.4, -15.6, -16.0),
    starts_dbm=(3.0, 3.0, 1.9, -15.4, -15.6),
    low_dbm=(2.4, 1.2, -16.6, -16.9, -17.3),
    high_dbm=(3.6, 2.6, -14.2, -14.3, -14.7),
    points=(
        LevelPoint(
            place=4,
            value_dbm=-19.0,
            u_db=0.2,
            label="−19.0 dBm",
            verdict="fail",
            expected_dbm=-16.0,
            gap_label="3.0 dB below expected",
        ),
    ),
    y_label="level, dBm",
    x_label="parts in order, even steps",
    line_label="expected",
    floor_dbm=-27.0,
    floor_label="class floor −27.0 dBm",
    ceiling_dbm=-8.0,
    ceiling_label="class ceiling −8.0 dBm",
)
VOLTS = VoltsLine(
    length_m=30.0,
    curves=(
        VoltsCurve(
            label="on mains", end_label="12.9 V", supply_v=13.6, terminal_v=12.9
        ),
        VoltsCurve(
            label="battery", end_label="collapses", supply_v=10.6, terminal_v=None
        ),
    ),
    points=(VoltsPoint(at_m=30.0, value_v=12.8, u_v=0.03, label="read 12.80 V"),),
    minimum_v=10.0,
    minimum_label="terminal needs 10 V",
    collapse_v=11.2,
    collapse_label="collapses below 11.20 V here",
    x_label="metres",
    y_label="volts",
)


def trace(samples, marks=()):
    return TracePlot(
        positions_m=np.arange(samples.size, dtype=float),
        samples_db=samples,
        marks=marks,
        marks_label="events as stored",
        x_label="metres from the instrument",
        y_label="level, dB",
        from_m=0.0,
        to_m=float(samples.size),
        lead_m=samples.size / 4,
        lead_label="end of lead",
    )


TRACE = trace(
    -10 - 0.001 * np.arange(5000.0),
    (
        TraceMark(number="1", position_m=1200.0),
        TraceMark(number="2", position_m=4000.0, windows_m=(3000, 3900, 4100, 4900)),
    ),
)


@pytest.mark.parametrize(
    "drawing", [LEVELS, VOLTS, TRACE], ids=["level", "volts", "trace"]
)
@pytest.mark.parametrize("width", [150.0, 88.0])
def test_same_data_give_the_same_bytes_without_date_or_version(drawing, width):
    first = draw(drawing, width_mm=width)
    assert first == draw(drawing, width_mm=width)
    assert first.startswith(b"<?xml")
    assert b"<dc:date>" not in first
    assert b"matplotlib.org" not in first.partition(b"</metadata>")[0].lower()


def test_names_with_dollars_signs_and_strange_letters_are_drawn_as_they_are():
    names = ("hub", "$\\frac{1}{", "🧯" * 30, "Z" + "\u0301" * 90, "terminal")
    assert draw(dataclasses.replace(LEVELS, places=names))


def test_a_path_of_one_part_and_one_of_sixty_can_be_drawn():
    for count in (2, 60):
        level = tuple(-0.2 * k for k in range(count))
        line = dataclasses.replace(
            LEVELS,
            places=tuple(f"part {k}" for k in range(count)),
            expected_dbm=level,
            starts_dbm=level,
            low_dbm=level,
            high_dbm=level,
            points=(),
            floor_dbm=None,
            ceiling_dbm=None,
        )
        assert draw(line, width_mm=88.0)


def test_labels_of_points_close_together_do_not_cover_each_other():
    with figure(width_mm=88, height_mm=80) as (_, axes):
        axes.set_xlim(0, 10)
        axes.set_ylim(0, 10)
        placer = LabelPlacer(axes)
        placer.avoid_line([0, 10], [5, 4.5])
        for x in (8.0, 8.6, 9.4):
            placer.place(Label(text="a label of a point", anchors=((x, 4.6),)))
        boxes = placer.taken
        for i, one in enumerate(boxes):
            for other in boxes[i + 1 :]:
                apart_x = one[2] <= other[0] or other[2] <= one[0]
                apart_y = one[3] <= other[1] or other[3] <= one[1]
                assert apart_x or apart_y
            assert placer.frame[0] <= one[0]
            assert one[2] <= placer.frame[2] + 8.5


def test_a_long_trace_keeps_its_highest_and_lowest_sample():
    samples = np.full(1_000_000, -20.0)
    samples[123_456], samples[654_321] = -3.0, -60.0
    _, shown = envelope(trace(samples))
    assert shown.size < 5000
    assert shown.max() == -3.0
    assert shown.min() == -60.0


def test_an_empty_or_wild_trace_is_drawn_without_complaint():
    assert draw(trace(np.array([])))
    assert draw(trace(np.array([np.nan, -1.0, np.inf])))


def test_figures_use_no_text_element_that_needs_a_font():
    assert not re.search(rb"<text[ >]", draw(LEVELS))


def replaced(value):
    return dataclasses.replace(
        LEVELS.points[0], value_dbm=value, superseded=True, gap_label="far off"
    )


def test_a_slip_that_was_put_right_neither_scales_nor_enters_the_level_line():
    # a wrong sign: +15.7 read as −15.7
    slip = dataclasses.replace(LEVELS, points=(*LEVELS.points, replaced(15.7)))
    assert draw(slip) == draw(LEVELS)


def test_an_earlier_reading_near_the_line_stays_in_sight():
    earlier = dataclasses.replace(LEVELS, points=(*LEVELS.points, replaced(-20.5)))
    assert draw(earlier) != draw(LEVELS)
    assert b"far off" not in draw(earlier)
