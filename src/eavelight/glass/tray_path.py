"""Paths of fibre in a splice tray, as lines and arcs to scale.

The winding is a race-track between two fixed hubs. A place counts along it from the
entry (left end of the lower straight) in the winding direction, anticlockwise, y up.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight piece [mm]."""

    start: Point
    end: Point

    @property
    def length_mm(self) -> float:
        """Its length [mm]."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))

    @property
    def turning(self) -> float:
        """How far it turns [rad]."""
        return 0.0

    def backwards(self) -> "Line":
        """The same piece, run the other way."""
        return Line(start=self.end, end=self.start)

    def mirrored(self, width_mm: float) -> "Line":
        """The same piece in a tray turned over."""
        (x0, y0), (x1, y1) = self.start, self.end
        return Line(start=(x0, width_mm - y0), end=(x1, width_mm - y1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A piece of a circle [mm, degrees anticlockwise from the x axis]."""

    centre: Point
    radius_mm: float
    start_deg: float
    sweep_deg: float

    @property
    def length_mm(self) -> float:
        """Its length [mm]."""
        return self.radius_mm * self.turning

    @property
    def turning(self) -> float:
        """How far it turns, without sign [rad]."""
        return float(np.radians(abs(self.sweep_deg)))

    def point(self, share: float) -> Point:
        """The point at a share of its length, 0 to 1."""
        angle = np.radians(self.start_deg + share * self.sweep_deg)
        return (
            float(self.centre[0] + self.radius_mm * np.cos(angle)),
            float(self.centre[1] + self.radius_mm * np.sin(angle)),
        )

    @property
    def start(self) -> Point:
        """Where it begins."""
        return self.point(0.0)

    @property
    def end(self) -> Point:
        """Where it ends."""
        return self.point(1.0)

    def backwards(self) -> "Arc":
        """The same piece, run the other way."""
        return replace(
            self,
            start_deg=self.start_deg + self.sweep_deg,
            sweep_deg=-self.sweep_deg,
        )

    def mirrored(self, width_mm: float) -> "Arc":
        """The same piece in a tray turned over."""
        return Arc(
            centre=(self.centre[0], width_mm - self.centre[1]),
            radius_mm=self.radius_mm,
            start_deg=-self.start_deg,
            sweep_deg=-self.sweep_deg,
        )


Piece = Line | Arc


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Pieces run once, and laps of the winding on top of them.

    `fixed_mm` is the length without the laps; `turning` in radians includes them.
    """

    pieces: tuple[Piece, ...]
    laps: int
    lap_mm: float
    backward: bool
    reversing: bool

    @property
    def fixed_mm(self) -> float:
        """Length without the laps [mm]."""
        return sum(piece.length_mm for piece in self.pieces)

    @property
    def length_mm(self) -> float:
        """Length from the entry to the end [mm]."""
        return self.fixed_mm + self.laps * self.lap_mm

    @property
    def turning(self) -> float:
        """Angle that the whole route turns through [rad]."""
        return 2 * np.pi * self.laps + sum(piece.turning for piece in self.pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding:
    """A race-track winding in the middle of a tray [mm]."""

    length_mm: float
    width_mm: float
    radius_mm: float
    edge_mm: float = 5.0

    @property
    def fits(self) -> bool:
        """Whether one lap lies inside the tray."""
        across = 2 * (self.radius_mm + self.edge_mm)
        return across <= self.width_mm + 1e-9 and across <= self.length_mm + 1e-9

    @property
    def straight_mm(self) -> float:
        """Length of each straight."""
        return max(0.0, self.length_mm - 2 * (self.radius_mm + self.edge_mm))

    @property
    def lap_mm(self) -> float:
        """Length of one lap."""
        return 2 * np.pi * self.radius_mm + 2 * self.straight_mm

    @property
    def hubs(self) -> tuple[Point, Point]:
        """Centres of the left and the right end."""
        half = self.straight_mm / 2
        middle = self.width_mm / 2
        return (
            (self.length_mm / 2 - half, middle),
            (self.length_mm / 2 + half, middle),
        )

    def lap(self) -> tuple[Piece, ...]:
        """One lap from the entry, in the winding direction."""
        (left, middle), (right, _) = self.hubs
        r = self.radius_mm
        return (
            Line(start=(left, middle - r), end=(right, middle - r)),
            Arc(centre=(right, middle), radius_mm=r, start_deg=-90.0, sweep_deg=180.0),
            Line(start=(right, middle + r), end=(left, middle + r)),
            Arc(centre=(left, middle), radius_mm=r, start_deg=90.0, sweep_deg=180.0),
        )

    def lead(self) -> Line:
        """From the tray's edge to the entry; not counted in any length."""
        (left, middle), _ = self.hubs
        y = middle - self.radius_mm
        return Line(start=(0.0, y), end=(left, y))

    def along(self, first_mm: float, last_mm: float) -> tuple[Piece, ...]:
        """Pieces of the lap between two places, in the winding direction."""
        found, begin = [], 0.0
        for piece in self.lap():
            length = piece.length_mm
            low = max(first_mm - begin, 0.0)
            high = min(last_mm - begin, length)
            if high > low + 1e-9:
                found.append(_part(piece, low / length, high / length))
            begin += length
        return tuple(found)

    def room_at(self, place_mm: float) -> float:
        """Longest straight piece centred on a place; 0 on a curve."""
        place = place_mm % self.lap_mm
        s, half = self.straight_mm, np.pi * self.radius_mm
        if place <= s:
            before = place + self.radius_mm + self.edge_mm
            return 2 * min(before, s - place)
        if s + half <= place <= 2 * s + half:
            return 2 * min(place - s - half, 2 * s + half - place)
        return 0.0

    def point_at(self, place_mm: float) -> tuple[Point, float]:
        """Point and heading in degrees at a place on the lap."""
        place = place_mm % self.lap_mm
        piece, *later = self.lap()
        while later and place > piece.length_mm:
            place -= piece.length_mm
            piece = later.pop(0)
        share = min(1.0, place / piece.length_mm) if piece.length_mm else 0.0
        if isinstance(piece, Arc):
            return piece.point(share), piece.start_deg + share * piece.sweep_deg + 90.0
        (x0, y0), (x1, y1) = piece.start, piece.end
        heading = 0.0 if x1 >= x0 else 180.0
        return (x0 + share * (x1 - x0), y0 + share * (y1 - y0)), heading


def _part(piece: Piece, low: float, high: float) -> Piece:
    if isinstance(piece, Arc):
        return replace(
            piece,
            start_deg=piece.start_deg + low * piece.sweep_deg,
            sweep_deg=(high - low) * piece.sweep_deg,
        )
    (x0, y0), (x1, y1) = piece.start, piece.end
    return Line(
        start=(x0 + low * (x1 - x0), y0 + low * (y1 - y0)),
        end=(x0 + high * (x1 - x0), y0 + high * (y1 - y0)),
    )


def _backwards(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    return tuple(piece.backwards() for piece in reversed(pieces))


def forward_route(winding: Winding, place_mm: float, *, laps: int) -> Route:
    """Route from the entry to a place, in the winding direction.

    Parameters
    ----------
    winding : Winding
        The winding of the tray [mm]
    place_mm : float
        Place along the winding from the entry [mm]
    laps : int
        Full laps on the way [1]

    Returns
    -------
    route : Route
        Pieces and length [mm]
    """
    return Route(
        pieces=winding.along(0.0, place_mm),
        laps=laps,
        lap_mm=winding.lap_mm,
        backward=False,
        reversing=False,
    )


def opposite_route(winding: Winding, place_mm: float, *, laps: int) -> Route:
    """Route from an entry at the far end of the straight, against the winding.

    Parameters
    ----------
    winding : Winding
        The winding of the tray [mm]
    place_mm : float
        Place along the winding from the usual entry [mm]
    laps : int
        Full laps on the way [1]

    Returns
    -------
    route : Route
        Pieces and length [mm]
    """
    far = winding.straight_mm
    if place_mm <= far:
        pieces = winding.along(place_mm, far)
    else:
        pieces = winding.along(place_mm, winding.lap_mm) + winding.along(0.0, far)
    return Route(
        pieces=_backwards(pieces),
        laps=laps,
        lap_mm=winding.lap_mm,
        backward=True,
        reversing=False,
    )


def reversing_radius(winding: Winding) -> float:
    """Radius of a figure-eight between the hubs, the winding's own where it fits.

    Parameters
    ----------
    winding : Winding
        The winding of the tray [mm]

    Returns
    -------
    radius_mm : float
        Radius of the reversing loop [mm]
    """
    return min(winding.radius_mm, winding.straight_mm / 2)


def reversing_route(winding: Winding, place_mm: float, *, laps: int) -> Route:
    """Route from the usual entry through a figure-eight, then against the winding.

    Parameters
    ----------
    winding : Winding
        The winding of the tray [mm]
    place_mm : float
        Place along the winding from the entry [mm]
    laps : int
        Full laps on the way [1]

    Returns
    -------
    route : Route
        Pieces and length [mm]
    """
    r = reversing_radius(winding)
    if not r > 0:
        raise ValueError(f"winding has no room for a reversing loop, got {winding}")
    (left, middle), (right, _) = winding.hubs
    lean = float(np.degrees(np.arcsin(2 * r / winding.straight_mm)))
    away = Arc(
        centre=(right, middle), radius_mm=r, start_deg=-90.0, sweep_deg=180.0 + lean
    )
    back = Arc(
        centre=(left, middle),
        radius_mm=r,
        start_deg=-90.0 + lean,
        sweep_deg=-180.0 - lean,
    )
    outer = winding.radius_mm
    top = 2 * winding.straight_mm + np.pi * outer
    start = Line(start=(left, middle - outer), end=away.start)
    after = max(0.0, place_mm - top)
    if after:
        rest = winding.along(place_mm, winding.lap_mm) + winding.along(0.0, top)
    else:
        rest = winding.along(place_mm, top)
    run = list(_backwards(rest))
    if r < outer and isinstance(run[0], Line):
        run[0] = Line(start=back.end, end=run[0].end)
    return Route(
        pieces=(start, away, Line(start=away.end, end=back.start), back, *run),
        laps=laps,
        lap_mm=winding.lap_mm,
        backward=True,
        reversing=True,
    )
