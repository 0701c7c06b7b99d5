"""Plan of a whole splice tray: laps, cut marks of both sides, re-splices, drawing.

The sleeve holder does not move. Both ends are cut so that they meet in its middle from
opposite directions. A plan that is refused carries no marks: nobody cuts by it.
"""

from dataclasses import dataclass

import numpy as np

from eavelight.glass.slack import (
    SleeveFit,
    resplices_by_length,
    resplices_by_radius,
    sleeve_fit,
)
from eavelight.glass.tray_path import (
    Piece,
    Point,
    Route,
    Winding,
    forward_route,
    opposite_route,
    reversing_radius,
    reversing_route,
)

MOST_LAPS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Tray:
    """The tray and its fixed holder [mm].

    `holder_offset_mm` is the middle of the sleeve holder from the entry, along the
    winding. `pigtail_entry` is `same`, or `opposite` at the far end of the straight.
    """

    length_mm: float
    width_mm: float
    winding_radius_mm: float
    holder_offset_mm: float
    sleeve_mm: float
    holder_mm: float | None = None
    edge_mm: float = 5.0
    direction: str = "anticlockwise"
    pigtail_entry: str = "same"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """The drop: strands, and where its layers end [mm].

    A tube with `tube_laps` is wound on its own larger radius; else it ends
    `tube_past_entry_mm` behind the entry. The sheath ends before the entry.
    """

    strands: int = 1
    bare_mm: float | None = None
    coating_mm: float = 0.25
    smallest_mm: float = 10.0
    sheath_before_entry_mm: float = 50.0
    tube_past_entry_mm: float = 15.0
    tube_laps: int = 0
    tube_radius_mm: float = 38.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pigtail:
    """The pigtail: its length, and where its layers end [mm].

    `outside_mm` is the part from its connector to the entry.
    """

    length_mm: float
    outside_mm: float = 300.0
    bare_mm: float | None = None
    coating_mm: float = 0.9
    smallest_mm: float = 10.0
    jacket_before_entry_mm: float = 30.0
    aramid_mm: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What splicing needs, common practice [mm]."""

    spare_attempts: int = 3
    cut_mm: float = 50.0
    reach_mm: float = 350.0
    overlap_mm: float = 6.0
    scrap_mm: float = 30.0
    radius_u_mm: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CutMark:
    """Where one layer ends, from the entry and from the origin of its side [mm].

    The origin is the sheath end of the cable, the connector of the pigtail.
    """

    layer: str
    from_entry_mm: float
    from_origin_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """How the fibre lies after one more attempt."""

    laps: int
    radius_mm: float
    cut_extra_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Resplices:
    """How often one side can be cut again.

    `by_length` and `by_radius` (laps kept) are the two plain limits; `total` lays fewer
    laps where that helps, as `lays` lists; `limited_by` is `length` or `radius`.
    """

    by_length: int
    by_radius: int
    radius_lost_mm: float
    total: int
    limited_by: str
    lays: tuple[Lay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of the splice: its laps, its length, its cut marks.

    `length_mm` runs from the entry to the middle of the holder; `u_mm` is its standard
    uncertainty, taken up by the radius of the laps; `twist_turns` is what the laps
    twist the fibre by.
    """

    laps: int
    reversing: bool
    arrives: str
    lap_mm: float
    length_mm: float
    u_mm: float
    twist_turns: int
    marks: tuple[CutMark, ...]
    resplices: Resplices


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One kind of strand in the tray."""

    name: str
    strands: int
    coating_mm: float
    radius_mm: float
    smallest_mm: float
    laps: int
    length_mm: float
    ends: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRoute:
    """A route to draw: its pieces once, a lap with its count."""

    layer: str
    pieces: tuple[Piece, ...]
    lap: tuple[Piece, ...]
    laps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Everything to scale, origin in the lower left corner of the tray [mm]."""

    length_mm: float
    width_mm: float
    entry: Point
    pigtail_entry: Point
    holder: Point
    holder_heading_deg: float
    sleeve_mm: float
    bare_mm: float
    lead: Piece
    routes: tuple[DrawnRoute, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPlan:
    """The plan of a tray, or why it is refused.

    `refused` names reasons that forbid cutting, `warnings` what to look at. `remaining`
    is the number of re-splices that both sides still allow.
    """

    refused: tuple[str, ...]
    warnings: tuple[str, ...]
    sleeve: SleeveFit
    cable: Side | None
    pigtail: Side | None
    layers: tuple[Layer, ...]
    remaining: int
    drawing: Drawing | None

    @property
    def usable(self) -> bool:
        """Whether the marks may be cut."""
        return not self.refused


def usual_cleave(sleeve_mm: float) -> float:
    """Cleave length that suits a sleeve: 16, 10 or 8 mm.

    Parameters
    ----------
    sleeve_mm : float
        Length of the sleeve [mm]

    Returns
    -------
    bare_mm : float
        Bare glass of each side [mm]

    Examples
    --------
    >>> usual_cleave(60.0), usual_cleave(40.0)
    (16.0, 10.0)
    """
    return 16.0 if sleeve_mm >= 50 else 10.0 if sleeve_mm >= 33 else 8.0


def resplices_left(
    route: Route, *, radius_mm: float, smallest_mm: float, work: Work
) -> Resplices:
    """How often a laid side can be cut again while its end stays in the holder.

    Parameters
    ----------
    route : Route
        Route of the side as laid [mm]
    radius_mm : float
        Radius of the laps as laid [mm]
    smallest_mm : float
        Smallest radius allowed [mm]
    work : Work
        Fibre per attempt, reach to the splicer [mm]

    Returns
    -------
    left : Resplices
        Limits by length and radius, and each lay on the way [1]
    """
    turns = route.turning / (2 * np.pi)
    lays, limit = _lays(route, radius_mm=radius_mm, smallest_mm=smallest_mm, work=work)
    return Resplices(
        by_length=resplices_by_length(
            route.length_mm, reach_mm=work.reach_mm, cut_mm=work.cut_mm
        ),
        by_radius=resplices_by_radius(
            radius_mm, smallest_mm=smallest_mm, laps=turns, cut_mm=work.cut_mm
        ),
        radius_lost_mm=work.cut_mm / route.turning if route.turning else 0.0,
        total=len(lays),
        limited_by=limit,
        lays=tuple(lays),
    )


def _lays(
    route: Route, *, radius_mm: float, smallest_mm: float, work: Work
) -> tuple[list[Lay], str]:
    """Each lay after one more attempt, and what ends them."""
    shrink = 2 * np.pi * max(0.0, radius_mm - smallest_mm)
    lays: list[Lay] = []
    laps, stored, limit = route.laps, route.laps * route.lap_mm, "length"
    while True:
        stored -= work.cut_mm
        while laps > 0 and stored < laps * (route.lap_mm - shrink) - 1e-9:
            laps -= 1
            limit = "radius"
        extra = max(0.0, stored - laps * route.lap_mm)
        stored -= extra
        if stored < -1e-9 or route.fixed_mm + stored < work.reach_mm - 1e-9:
            return lays, limit
        limit = "length"
        lost = (route.lap_mm - stored / laps) / (2 * np.pi) if laps else 0.0
        lays.append(Lay(laps=laps, radius_mm=radius_mm - lost, cut_extra_mm=extra))


def plan_tray(
    tray: Tray, *, cable: Cable, pigtail: Pigtail, work: Work | None = None
) -> TrayPlan:
    """Plan of the whole tray: laps, marks, layers, re-splices, drawing.

    Parameters
    ----------
    tray : Tray
        Tray, winding, holder, sleeve [mm]
    cable : Cable
        The drop in the tray [mm]
    pigtail : Pigtail
        The pigtail in the tray [mm]
    work : Work, optional
        What splicing needs, common practice unless stated [mm]

    Returns
    -------
    plan : TrayPlan
        The plan; refused, it names why and carries no marks [mm]
    """
    work = work or Work()
    _check(tray, cable, pigtail, work)
    usual = usual_cleave(tray.sleeve_mm)
    bare = (cable.bare_mm or usual, pigtail.bare_mm or usual)
    winding = Winding(
        length_mm=tray.length_mm,
        width_mm=tray.width_mm,
        radius_mm=tray.winding_radius_mm,
        edge_mm=tray.edge_mm,
    )
    room = winding.room_at(tray.holder_offset_mm)
    fit = sleeve_fit(
        tray.sleeve_mm,
        cable_bare_mm=bare[0],
        pigtail_bare_mm=bare[1],
        holder_mm=_longest_sleeve(tray),
        overlap_mm=work.overlap_mm,
    )
    refused = _refusals(tray, winding, fit, pigtail)
    routes = None
    if not refused:
        routes = _routes(tray, winding, cable, pigtail=pigtail, work=work)
        if routes[1].length_mm > pigtail.length_mm - pigtail.outside_mm + 1e-9:
            refused, routes = ("pigtail too short",), None
    warnings = list(_warnings(tray, winding, cable, pigtail=pigtail, room=room))
    if routes is None:
        return TrayPlan(
            refused=refused,
            warnings=tuple(warnings),
            sleeve=fit,
            cable=None,
            pigtail=None,
            layers=(),
            remaining=0,
            drawing=None,
        )
    sides = _sides(tray, routes, cable, pigtail=pigtail, work=work, bare=bare)
    remaining = min(side.resplices.total for side in sides)
    if remaining < work.spare_attempts:
        warnings.append("fewer re-splices than planned")
    return TrayPlan(
        refused=(),
        warnings=tuple(warnings),
        sleeve=fit,
        cable=sides[0],
        pigtail=sides[1],
        layers=_layers(tray, winding, cable, pigtail=pigtail, sides=sides),
        remaining=remaining,
        drawing=_drawing(tray, winding, routes, fit, cable=cable),
    )


def _longest_sleeve(tray: Tray) -> float:
    """What the holder takes; where that is not stated, what the tray takes at all."""
    if tray.holder_mm is not None:
        return tray.holder_mm
    return tray.length_mm - 2 * tray.edge_mm


def _check(tray: Tray, cable: Cable, pigtail: Pigtail, work: Work) -> None:
    for name in ("length_mm", "width_mm", "winding_radius_mm", "sleeve_mm"):
        if not getattr(tray, name) > 0:
            raise ValueError(f"{name} must be positive, got {getattr(tray, name)}")
    if not tray.holder_offset_mm >= 0:
        raise ValueError(
            f"holder_offset_mm must not be negative, got {tray.holder_offset_mm}"
        )
    if cable.strands < 1:
        raise ValueError(f"strands must be 1 or more, got {cable.strands}")
    if not pigtail.length_mm > 0:
        raise ValueError(f"pigtail length_mm must be positive, got {pigtail.length_mm}")
    if not (work.cut_mm > 0 and work.spare_attempts >= 0):
        raise ValueError(
            f"cut_mm must be positive and spare_attempts not negative, "
            f"got {work.cut_mm} and {work.spare_attempts}"
        )
    for name, word, known in (
        ("direction", tray.direction, ("anticlockwise", "clockwise")),
        ("pigtail_entry", tray.pigtail_entry, ("same", "opposite")),
    ):
        if word not in known:
            raise ValueError(f"{name} must be one of {', '.join(known)}, got {word!r}")


def _refusals(
    tray: Tray, winding: Winding, fit: SleeveFit, pigtail: Pigtail
) -> tuple[str, ...]:
    found = []
    if not fit.fits:
        found.append(f"sleeve {fit.reason}")
    if not winding.fits:
        found.append("winding does not fit the tray")
    elif tray.holder_offset_mm > winding.lap_mm:
        found.append("holder beyond one lap")
    elif tray.pigtail_entry == "same" and reversing_radius(winding) < min(
        pigtail.smallest_mm, winding.radius_mm
    ):
        found.append("no room to reverse")
    return tuple(found)


def _warnings(
    tray: Tray, winding: Winding, cable: Cable, *, pigtail: Pigtail, room: float
) -> tuple[str, ...]:
    shown = {
        "radius below the fibre's minimum": winding.radius_mm < cable.smallest_mm,
        "radius below the pigtail's minimum": winding.radius_mm < pigtail.smallest_mm,
        "sleeve reaches into a curve": winding.fits and tray.sleeve_mm > room + 1e-9,
        "tube too stiff for the tray: ended at the entry": cable.tube_laps > 0
        and not _tube_winding(tray, cable).fits,
        "reversing loop tighter than the winding": tray.pigtail_entry == "same"
        and winding.fits
        and reversing_radius(winding) < winding.radius_mm - 1e-9,
    }
    return tuple(name for name, is_so in shown.items() if is_so)


def _tube_winding(tray: Tray, cable: Cable) -> Winding:
    return Winding(
        length_mm=tray.length_mm,
        width_mm=tray.width_mm,
        radius_mm=max(cable.tube_radius_mm, tray.winding_radius_mm),
        edge_mm=tray.edge_mm,
    )


def _tube_mm(tray: Tray, cable: Cable) -> float:
    """Length of tube behind the entry that is wound; 0 where it ends there."""
    winding = _tube_winding(tray, cable)
    return cable.tube_laps * winding.lap_mm if winding.fits else 0.0


def _routes(
    tray: Tray, winding: Winding, cable: Cable, *, pigtail: Pigtail, work: Work
) -> tuple[Route, Route]:
    """Fewest laps on each side that leave the spare attempts, or the best there is."""
    place = tray.holder_offset_mm
    make = reversing_route if tray.pigtail_entry == "same" else opposite_route
    inside = pigtail.length_mm - pigtail.outside_mm
    chosen = []
    for build, smallest, most in (
        (forward_route, cable.smallest_mm, np.inf),
        (make, pigtail.smallest_mm, inside),
    ):
        best, left = build(winding, place, laps=0), -1
        for laps in range(MOST_LAPS + 1):
            route = build(winding, place, laps=laps)
            if route.length_mm > most + 1e-9 or left >= work.spare_attempts:
                break
            more = resplices_left(
                route, radius_mm=winding.radius_mm, smallest_mm=smallest, work=work
            ).total
            if more > left:
                best, left = route, more
        chosen.append(best)
    return chosen[0], chosen[1]


def _sides(
    tray: Tray,
    routes: tuple[Route, Route],
    cable: Cable,
    *,
    pigtail: Pigtail,
    work: Work,
    bare: tuple[float, float],
) -> tuple[Side, Side]:
    tube = _tube_mm(tray, cable)
    first, second = routes
    end = tube + first.length_mm
    sheath = -cable.sheath_before_entry_mm
    cable_marks = {
        "sheath": sheath,
        "tube": tube + cable.tube_past_entry_mm,
        "fibre": end + work.scrap_mm,
        "coating": end - bare[0],
        "cleave": end,
    }
    other = second.length_mm
    jacket = -pigtail.jacket_before_entry_mm
    pigtail_marks = {
        "jacket": jacket,
        "aramid": jacket + pigtail.aramid_mm,
        "fibre": other + work.scrap_mm,
        "buffer": other - bare[1],
        "cleave": other,
    }
    return (
        _side(
            first,
            cable_marks,
            -sheath,
            radius_mm=tray.winding_radius_mm,
            smallest_mm=cable.smallest_mm,
            work=work,
        ),
        _side(
            second,
            pigtail_marks,
            pigtail.outside_mm,
            radius_mm=tray.winding_radius_mm,
            smallest_mm=pigtail.smallest_mm,
            work=work,
        ),
    )


def _side(
    route: Route,
    marks: dict[str, float],
    origin_mm: float,
    *,
    radius_mm: float,
    smallest_mm: float,
    work: Work,
) -> Side:
    return Side(
        laps=route.laps,
        reversing=route.reversing,
        arrives="against the winding" if route.backward else "along the winding",
        lap_mm=route.lap_mm,
        length_mm=marks["cleave"],
        u_mm=route.turning * work.radius_u_mm,
        twist_turns=-route.laps if route.backward else route.laps,
        marks=tuple(
            CutMark(layer=layer, from_entry_mm=at, from_origin_mm=at + origin_mm)
            for layer, at in marks.items()
        ),
        resplices=resplices_left(
            route, radius_mm=radius_mm, smallest_mm=smallest_mm, work=work
        ),
    )


def _layers(
    tray: Tray,
    winding: Winding,
    cable: Cable,
    *,
    pigtail: Pigtail,
    sides: tuple[Side, Side],
) -> tuple[Layer, ...]:
    tube = _tube_mm(tray, cable)
    wound = tube > 0
    radius = winding.radius_mm
    layers = [
        Layer(
            name="tube",
            strands=1,
            coating_mm=0.0,
            radius_mm=_tube_winding(tray, cable).radius_mm if wound else 0.0,
            smallest_mm=cable.tube_radius_mm,
            laps=cable.tube_laps if wound else 0,
            length_mm=tube + cable.tube_past_entry_mm,
            ends="after its laps" if wound else "at the entry",
        )
    ]
    rows = [("fibre", 1, cable, sides[0], "in the holder")]
    if cable.strands > 1:
        rows.append(("spare", cable.strands - 1, cable, sides[0], "stored whole"))
    for name, strands, part, side, ends in rows:
        layers.append(
            Layer(
                name=name,
                strands=strands,
                coating_mm=part.coating_mm,
                radius_mm=radius,
                smallest_mm=part.smallest_mm,
                laps=side.laps,
                length_mm=side.length_mm,
                ends=ends,
            )
        )
    layers.append(
        Layer(
            name="pigtail",
            strands=1,
            coating_mm=pigtail.coating_mm,
            radius_mm=radius,
            smallest_mm=pigtail.smallest_mm,
            laps=sides[1].laps,
            length_mm=sides[1].length_mm,
            ends="in the holder",
        )
    )
    return tuple(layers)


def _drawing(
    tray: Tray,
    winding: Winding,
    routes: tuple[Route, Route],
    fit: SleeveFit,
    *,
    cable: Cable,
) -> Drawing:
    turn = tray.direction == "clockwise"
    width = tray.width_mm

    def shown(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
        return tuple(p.mirrored(width) for p in pieces) if turn else pieces

    def flip(point: Point) -> Point:
        return (point[0], width - point[1]) if turn else point

    lead = winding.lead()
    holder, heading = winding.point_at(tray.holder_offset_mm)
    (_, middle), (right, _) = winding.hubs
    far = (right, middle - winding.radius_mm)
    drawn = []
    if _tube_mm(tray, cable) > 0:
        tube = _tube_winding(tray, cable)
        drawn.append(
            DrawnRoute(
                layer="tube", pieces=(), lap=shown(tube.lap()), laps=cable.tube_laps
            )
        )
    for layer, route in zip(("fibre", "pigtail"), routes, strict=True):
        drawn.append(
            DrawnRoute(
                layer=layer,
                pieces=shown(route.pieces),
                lap=shown(winding.lap()),
                laps=route.laps,
            )
        )
    return Drawing(
        length_mm=tray.length_mm,
        width_mm=width,
        entry=flip(lead.end),
        pigtail_entry=flip(lead.end if tray.pigtail_entry == "same" else far),
        holder=flip(holder),
        holder_heading_deg=-heading if turn else heading,
        sleeve_mm=tray.sleeve_mm,
        bare_mm=fit.bare_mm,
        lead=shown((lead,))[0],
        routes=tuple(drawn),
    )
