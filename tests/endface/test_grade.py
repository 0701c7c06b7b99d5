"""Grader vectors of IEC 61300-3-35:2015 (second-hand tables), computed by hand."""

import pytest

from eavelight.endface.grade import Sized, breaches, disc, grade_marks, line, zones_of
from eavelight.standards.endface_criteria import load

VECTORS = {
    "clean": ([], "pass", "pass"),
    "1 µm speck at 5": ([disc(1, 5)], "A", "A"),
    "twenty 1.9 µm specks at 30": ([disc(1.9, 30)] * 20, "pass", "pass"),
    "five 3 µm at 30": ([disc(3, 30)] * 5, "pass", "pass"),
    "six 3 µm at 30": ([disc(3, 30)] * 6, "B", "B"),
    "5.0 µm at 40": ([disc(5.0, 40)], "pass", "pass"),
    "5.1 µm at 40": ([disc(5.1, 40)], "B", "B"),
    "8 µm touching B from outside": ([disc(8, 61.5)], "pass", "pass"),
    "20 µm at 60 reaching into B": ([disc(20, 60)], "B", "B"),
    "9.9 µm at 100": ([disc(9.9, 100)], "pass", "pass"),
    "12 µm at 100": ([disc(12, 100)], "D", "D"),
    "50 µm outside all": ([disc(50, 160)], "pass", "pass"),
    "50 µm reaching into D": ([disc(50, 140)], "D", "D"),
    "scratch 1 µm through the core": ([line(1, 0)], "A", "pass"),
    "four scratches in the core": ([line(2.9, 3)] * 4, "A", "pass"),
    "five scratches in the core": ([line(1, 3)] * 5, "A", "A"),
    "scratch 3.5 µm at 30": ([line(3.5, 30)], "B", "pass"),
    "scratch 0.5 µm at 12.4": ([line(0.5, 12.4)], "A", "pass"),
    "scratch 0.5 µm at 13.2": ([line(0.5, 13.2)], "pass", "pass"),
}


@pytest.mark.parametrize("name", VECTORS)
@pytest.mark.parametrize("connector_class", ["pc", "apc"])
def test_vector_gives_the_verdict_and_the_zone(name: str, connector_class: str) -> None:
    marks, pc, apc = VECTORS[name]
    expected = pc if connector_class == "pc" else apc
    grade = grade_marks(marks, load(connector_class))
    if expected == "pass":
        assert grade.verdict == "pass"
    else:
        assert grade.verdict == "fail"
        assert expected in {breach.zone for breach in grade.breaches}


def test_edge_values_of_the_table_are_allowed() -> None:
    criteria = load("pc")
    assert not breaches([disc(2.0, 30)] * 5, criteria)
    assert breaches([disc(2.0, 30)] * 6, criteria)
    assert not breaches([line(3.0, 30)], criteria)


def test_26_db_counts_only_above_3_um() -> None:
    criteria = load("pc26")
    assert not breaches([disc(3.0, 30)] * 9, criteria)
    assert breaches([disc(3.1, 30)] * 4, criteria)
    assert not breaches([disc(2.0, 5)] * 2, criteria)


def test_multimode_counts_from_5_um_in_b() -> None:
    criteria = load("mm")
    assert not breaches([disc(4.9, 45)] * 20, criteria)
    assert breaches([disc(5.0, 45)] * 6, criteria)
    assert breaches([disc(31, 95)], criteria)


def test_a_zone_without_a_confirmed_limit_is_not_judged() -> None:
    assert not breaches([disc(40, 100)], load("pc26"))


def test_scratch_is_judged_in_every_zone_it_enters() -> None:
    assert zones_of(line(1, 0, reach_um=50), load("pc")) == ("A", "B")


def test_spot_is_judged_in_the_innermost_zone_only() -> None:
    assert zones_of(disc(10, 14), load("pc")) == ("A",)


def test_size_near_its_limit_is_undecided() -> None:
    mark = Sized(kind="spot", size_um=5.1, size_u_um=0.15, inner_um=37.0, outer_um=43.0)
    grade = grade_marks([mark], load("pc"))
    assert grade.verdict == "undecided"
    assert grade.doubtful[0].zone == "B"


def test_guard_band_never_exceeds_its_bound() -> None:
    mark = Sized(kind="spot", size_um=5.6, size_u_um=3.0, inner_um=37.0, outer_um=43.0)
    assert grade_marks([mark], load("pc"), guard_um=0.5).verdict == "fail"
