"""The tray planner: ends that meet, marks that may be cut, re-splices that remain."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.tray import (
    Cable,
    Pigtail,
    Side,
    Tray,
    TrayPlan,
    Work,
    plan_tray,
    resplices_left,
)
from eavelight.glass.tray_path import Winding, forward_route

TRAY = Tray(
    length_mm=120.0,
    width_mm=80.0,
    winding_radius_mm=20.0,
    holder_offset_mm=30.0,
    sleeve_mm=60.0,
)
CABLE = Cable(strands=4)
PIGTAIL = Pigtail(length_mm=1500.0)


def plan(tray: Tray = TRAY, **changes: object) -> TrayPlan:
    given_ = {"cable": CABLE, "pigtail": PIGTAIL, **changes}
    return plan_tray(tray, **given_)  # type: ignore[arg-type]


def sides(found: TrayPlan) -> tuple[Side, Side]:
    assert found.cable is not None
    assert found.pigtail is not None
    return found.cable, found.pigtail


def marks(side: Side) -> dict[str, float]:
    return {mark.layer: mark.from_entry_mm for mark in side.marks}


def test_ends_meet_from_opposite_directions() -> None:
    cable, pigtail = sides(plan())
    assert cable.arrives == "along the winding"
    assert pigtail.arrives == "against the winding"
    assert pigtail.reversing


def test_no_reversing_loop_where_the_pigtail_comes_from_the_other_end() -> None:
    cable, pigtail = sides(plan(replace(TRAY, pigtail_entry="opposite")))
    assert not pigtail.reversing
    assert pigtail.arrives == "against the winding"
    assert not cable.reversing


def test_marks_of_each_layer_follow_in_the_order_of_stripping() -> None:
    cable, pigtail = (marks(side) for side in sides(plan()))
    assert list(cable) == ["sheath", "tube", "fibre", "coating", "cleave"]
    assert list(pigtail) == ["jacket", "aramid", "fibre", "buffer", "cleave"]
    assert cable["sheath"] < cable["tube"] < cable["coating"] < cable["cleave"]
    assert cable["cleave"] < cable["fibre"]
    assert cable["cleave"] - cable["coating"] == pytest.approx(16.0)
    assert pigtail["jacket"] < pigtail["aramid"] < pigtail["buffer"]


def test_both_ends_come_out_in_the_middle_of_the_holder() -> None:
    found = plan()
    cable, pigtail = sides(found)
    assert marks(cable)["cleave"] == cable.laps * cable.lap_mm + 30.0
    assert found.drawing is not None
    ends = [route.pieces[-1].end for route in found.drawing.routes]
    for end in ends:
        np.testing.assert_allclose(end, found.drawing.holder, atol=1e-9)
    assert pigtail.length_mm + PIGTAIL.outside_mm <= PIGTAIL.length_mm


def test_marks_count_from_sheath_and_connector_too() -> None:
    cable, pigtail = sides(plan())
    for mark in cable.marks:
        assert mark.from_origin_mm - mark.from_entry_mm == pytest.approx(50.0)
    for mark in pigtail.marks:
        assert mark.from_origin_mm - mark.from_entry_mm == pytest.approx(300.0)


def test_three_laps_lose_2_7_mm_of_radius_per_attempt() -> None:
    cable, _ = sides(plan())
    assert cable.laps == 3
    assert cable.resplices.radius_lost_mm == pytest.approx(2.65, abs=0.01)
    assert cable.resplices.by_radius == 3
    assert cable.resplices.by_length == 9
    radii = [lay.radius_mm for lay in cable.resplices.lays[:3]]
    np.testing.assert_allclose(
        20.0 - np.array(radii), 2.6526 * np.arange(1, 4), rtol=1e-3
    )


@settings(deadline=None, max_examples=40)
@given(
    radius=st.floats(16.0, 30.0),
    laps=st.integers(0, 6),
    cut=st.floats(30.0, 70.0),
    smallest=st.floats(7.5, 15.0),
)
def test_every_lay_fits_its_radius_and_still_reaches_the_splicer(
    radius: float, laps: int, cut: float, smallest: float
) -> None:
    winding = Winding(length_mm=150.0, width_mm=100.0, radius_mm=radius)
    route = forward_route(winding, 40.0, laps=laps)
    work = Work(cut_mm=cut)
    left = resplices_left(route, radius_mm=radius, smallest_mm=smallest, work=work)
    length = route.length_mm
    for lay in left.lays:
        assert smallest - 1e-6 <= lay.radius_mm <= radius + 1e-6
        length -= cut + lay.cut_extra_mm
        stored = 40.0 + lay.laps * (2 * np.pi * lay.radius_mm + 2 * winding.straight_mm)
        if lay.laps:
            assert length == pytest.approx(stored, abs=1e-6)
        assert length >= work.reach_mm - 1e-6
    assert min(left.by_length, left.by_radius) <= max(left.total, 0) or not laps
    assert left.total <= left.by_length
    assert left.limited_by in {"length", "radius"}


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 5))
def test_planned_attempts_are_kept_where_the_pigtail_allows(wanted: int) -> None:
    found = plan(work=Work(spare_attempts=wanted))
    enough = found.remaining >= wanted
    assert enough or "fewer re-splices than planned" in found.warnings


def test_a_longer_pigtail_never_leaves_fewer_attempts() -> None:
    lengths = (1000.0, 1300.0, 1500.0, 2000.0, 3000.0)
    work = Work(spare_attempts=5)
    left = [
        plan(pigtail=Pigtail(length_mm=length), work=work).remaining
        for length in lengths
    ]
    assert left == sorted(left)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"sleeve_mm": 20.0}, "sleeve too short"),
        ({"sleeve_mm": 60.0, "holder_mm": 45.0}, "sleeve too long"),
        ({"sleeve_mm": 115.0}, "sleeve too long"),
        ({"winding_radius_mm": 40.0}, "winding does not fit the tray"),
        ({"holder_offset_mm": 300.0}, "holder beyond one lap"),
    ],
)
def test_a_refused_plan_names_why_and_carries_no_marks(
    changes: dict[str, float], reason: str
) -> None:
    found = plan(replace(TRAY, **changes))
    assert reason in found.refused
    assert not found.usable
    assert found.cable is None
    assert found.drawing is None
    assert found.remaining == 0


def test_bare_glass_too_long_for_its_sleeve_is_refused() -> None:
    found = plan(
        replace(TRAY, sleeve_mm=40.0),
        cable=Cable(bare_mm=16.0),
        pigtail=Pigtail(length_mm=1500.0, bare_mm=16.0),
    )
    assert found.refused == ("sleeve too short",)


def test_a_pigtail_too_short_to_reach_the_holder_is_refused() -> None:
    found = plan(pigtail=Pigtail(length_mm=600.0))
    assert found.refused == ("pigtail too short",)


def test_a_round_tray_has_no_room_to_reverse() -> None:
    round_ = replace(TRAY, length_mm=70.0, width_mm=70.0, winding_radius_mm=30.0)
    assert "no room to reverse" in plan(replace(round_, sleeve_mm=30.0)).refused


def test_a_stiff_tube_ends_at_the_entry_and_says_so() -> None:
    found = plan(cable=Cable(strands=4, tube_laps=1))
    assert found.layers[0].ends == "at the entry"
    assert any("tube" in warning for warning in found.warnings)


def test_a_tube_with_room_is_wound_on_its_own_larger_radius() -> None:
    big = replace(TRAY, length_mm=160.0, width_mm=100.0, holder_offset_mm=45.0)
    found = plan(big, cable=Cable(strands=4, tube_laps=1))
    tube, fibre = found.layers[:2]
    assert tube.radius_mm == 38.0
    assert fibre.radius_mm == 20.0
    cable, _ = sides(found)
    plain, _ = sides(plan(big))
    extra = marks(cable)["cleave"] - marks(plain)["cleave"]
    assert extra == pytest.approx(tube.length_mm - 15.0)


def test_every_layer_is_listed_with_its_coating_and_radius() -> None:
    layers = {layer.name: layer for layer in plan().layers}
    assert list(layers) == ["tube", "fibre", "spare", "pigtail"]
    assert layers["spare"].strands == 3
    assert layers["pigtail"].coating_mm == 0.9
    assert "spare" not in {layer.name for layer in plan(cable=Cable()).layers}


def test_a_winding_below_the_fibre_s_minimum_is_warned_about() -> None:
    found = plan(cable=Cable(smallest_mm=30.0))
    assert "radius below the fibre's minimum" in found.warnings


def test_clockwise_is_the_same_tray_turned_over() -> None:
    one, two = plan(), plan(replace(TRAY, direction="clockwise"))
    assert one.cable == two.cable
    assert one.drawing is not None
    assert two.drawing is not None
    assert two.drawing.holder == (one.drawing.holder[0], 80.0 - one.drawing.holder[1])


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"winding_radius_mm": 0.0}, "winding_radius_mm"),
        ({"sleeve_mm": -60.0}, "sleeve_mm"),
        ({"length_mm": float("nan")}, "length_mm"),
        ({"direction": "left"}, "direction"),
        ({"holder_offset_mm": -1.0}, "holder_offset_mm"),
    ],
)
def test_impossible_input_is_refused_by_name(
    changes: dict[str, float], name: str
) -> None:
    with pytest.raises(ValueError, match=name):
        plan(replace(TRAY, **changes))  # type: ignore[arg-type]


def test_a_plan_can_be_written_as_it_is() -> None:
    assert json.loads(json.dumps(asdict(plan()), allow_nan=False))["remaining"] == 5


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"cable": Cable(strands=0)}, "strands"),
        ({"pigtail": Pigtail(length_mm=0.0)}, "pigtail length_mm"),
        ({"work": Work(cut_mm=0.0)}, "cut_mm"),
    ],
)
def test_impossible_parts_are_refused_by_name(
    changes: dict[str, object], name: str
) -> None:
    with pytest.raises(ValueError, match=name):
        plan(**changes)


def test_more_attempts_than_any_winding_gives_are_planned_as_far_as_they_go() -> None:
    found = plan(pigtail=Pigtail(length_mm=20_000.0), work=Work(spare_attempts=1000))
    cable, _ = sides(found)
    assert cable.laps == 12
    assert "fewer re-splices than planned" in found.warnings


@pytest.mark.parametrize(
    ("place", "warned"), [(30.0, False), (60.0, True), (80.0, True)]
)
def test_a_sleeve_that_reaches_into_a_curve_is_warned_about(
    place: float, warned: bool
) -> None:
    found = plan(replace(TRAY, holder_offset_mm=place))
    assert found.usable
    assert ("sleeve reaches into a curve" in found.warnings) is warned
