"""Paths in the tray: unbroken, as long as their formula, from opposite directions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.glass.tray_path import (
    Arc,
    Line,
    Piece,
    Winding,
    forward_route,
    opposite_route,
    reversing_radius,
    reversing_route,
)

WINDING = Winding(length_mm=120.0, width_mm=80.0, radius_mm=20.0)
ROUTES = (forward_route, opposite_route, reversing_route)


def heading(piece: Piece, *, at_end: bool) -> float:
    if isinstance(piece, Arc):
        angle = piece.start_deg + (piece.sweep_deg if at_end else 0.0)
        return (angle + 90.0 * np.sign(piece.sweep_deg)) % 360
    (x0, y0), (x1, y1) = piece.start, piece.end
    return float(np.degrees(np.arctan2(y1 - y0, x1 - x0)) % 360)


def turn(one: float, two: float) -> float:
    return abs((one - two + 180) % 360 - 180)


@pytest.mark.parametrize("build", ROUTES)
@settings(deadline=None, max_examples=40)
@given(place=st.floats(1.0, 260.0))
def test_a_route_is_unbroken_without_a_kink_and_ends_in_the_holder(
    build: object, place: float
) -> None:
    route = build(WINDING, place, laps=1)  # type: ignore[operator]
    for one, two in zip(route.pieces, route.pieces[1:], strict=False):
        np.testing.assert_allclose(one.end, two.start, atol=1e-9)
        if min(one.length_mm, two.length_mm) > 1e-6:
            joint = heading(one, at_end=True), heading(two, at_end=False)
            assert turn(*joint) < 1e-4
    point, along = WINDING.point_at(place)
    np.testing.assert_allclose(route.pieces[-1].end, point, atol=1e-6)
    wanted = along if build is forward_route else along + 180.0
    assert turn(heading(route.pieces[-1], at_end=True), wanted) < 1e-3


@settings(deadline=None, max_examples=40)
@given(st.floats(0.0, 265.0), st.integers(0, 5))
def test_forward_length_is_laps_and_the_place(place: float, laps: int) -> None:
    route = forward_route(WINDING, place, laps=laps)
    assert route.length_mm == pytest.approx(laps * WINDING.lap_mm + place, abs=1e-6)


def test_figure_eight_has_its_closed_length() -> None:
    s, r = WINDING.straight_mm, 20.0
    lean = np.arcsin(2 * r / s)
    crossing = s + 2 * r * (np.pi + lean) + np.sqrt(s**2 - 4 * r**2)
    route = reversing_route(WINDING, 30.0, laps=0)
    back = 2 * s + np.pi * r - 30.0
    assert route.length_mm == pytest.approx(crossing + back)
    assert route.turning == pytest.approx(3 * np.pi + 2 * lean)


def test_shrinking_the_winding_shortens_a_route_by_its_turning() -> None:
    less = Winding(length_mm=119.0, width_mm=80.0, radius_mm=19.5)
    assert less.straight_mm == WINDING.straight_mm
    one = forward_route(WINDING, 30.0, laps=3)
    two = forward_route(less, 30.0, laps=3)
    assert one.length_mm - two.length_mm == pytest.approx(0.5 * one.turning)


def test_a_short_tray_reverses_on_a_smaller_radius_or_not_at_all() -> None:
    short = Winding(length_mm=100.0, width_mm=80.0, radius_mm=30.0)
    assert reversing_radius(short) == pytest.approx(15.0)
    route = reversing_route(short, 10.0, laps=0)
    for one, two in zip(route.pieces, route.pieces[1:], strict=False):
        np.testing.assert_allclose(one.end, two.start, atol=1e-9)
    round_ = Winding(length_mm=70.0, width_mm=70.0, radius_mm=30.0)
    assert reversing_radius(round_) == 0
    with pytest.raises(ValueError, match="no room"):
        reversing_route(round_, 10.0, laps=0)


@pytest.mark.parametrize("build", ROUTES)
def test_every_piece_stays_in_the_tray(build: object) -> None:
    route = build(WINDING, 30.0, laps=1)  # type: ignore[operator]
    for piece in (*route.pieces, *WINDING.lap(), WINDING.lead()):
        shares = np.linspace(0, 1, 21)
        if isinstance(piece, Arc):
            points = [piece.point(float(share)) for share in shares]
        else:
            points = [piece.start, piece.end]
        x, y = np.transpose(points)
        assert np.all((x >= 0) & (x <= 120) & (y >= 0) & (y <= 80))


def test_a_piece_run_back_or_turned_over_keeps_its_length() -> None:
    for piece in (
        Line(start=(0.0, 0.0), end=(3.0, 4.0)),
        Arc(centre=(1.0, 2.0), radius_mm=5.0, start_deg=10.0, sweep_deg=-70.0),
    ):
        back, over = piece.backwards(), piece.mirrored(80.0)
        assert back.length_mm == over.length_mm == piece.length_mm
        np.testing.assert_allclose(back.start, piece.end)
        np.testing.assert_allclose(over.end, (piece.end[0], 80.0 - piece.end[1]))
        assert over.turning == piece.turning


def test_room_for_a_sleeve_is_straight_and_centred() -> None:
    assert WINDING.room_at(30.0) == 80.0
    assert WINDING.room_at(75.0) == 0.0
    top = WINDING.straight_mm + np.pi * 20 + 35.0
    assert WINDING.room_at(top) == pytest.approx(70.0)
