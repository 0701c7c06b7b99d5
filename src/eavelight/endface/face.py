"""One picture from grey values to verdict: the whole chain."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from eavelight.endface.effect import Effect, predict_effect
from eavelight.endface.fibre import Fibre, find_fibres
from eavelight.endface.grade import Criteria, Grade, grade_marks
from eavelight.endface.marks import Mark, find_marks
from eavelight.endface.picture import Picture, read_picture
from eavelight.endface.surface import Surface, flatten
from eavelight.endface.trust import (
    Refusal,
    Trust,
    blockiness,
    light_imbalance,
    refuse_clipped,
    refuse_copies,
    refuse_dark,
    refuse_geometry,
    refuse_graphics,
    refuse_lit_core,
    refuse_not_glass,
    refuse_rings,
    refuse_wrong_tip,
)

FINEST_GUARD_UM = 0.5
COARSE_UM_PER_PX = 0.62
"""Above this a 2 µm mark has too few pixels for a clean face to be proven."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """What one picture showed.

    `verdict` is pass, fail, undecided or refused. `zones` are the zones that were
    seen whole. `notes` are ids such as `zones_a_b_only`, `coarse`, `no_limit_d`.
    """

    verdict: str
    refusal: Refusal | None
    criteria: Criteria
    fibre: Fibre | None = None
    marks: tuple[Mark, ...] = ()
    grade: Grade | None = None
    effect: Effect | None = None
    zones: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    surface: Surface | None = field(default=None, repr=False)


def _chosen(
    picture: Picture, stated_um_per_px: float | None, which: int | None
) -> tuple[Fibre | None, Refusal | None]:
    """The one fibre to grade, or why there is none."""
    fibres = find_fibres(picture.values, stated_um_per_px=stated_um_per_px)
    fibres = tuple(fibre for fibre in fibres if _plausible(fibre))
    if not fibres:
        return None, Refusal(reason="no_end_face")
    best = fibres[0]
    alike = [
        fibre
        for fibre in fibres
        if fibre is best
        or (abs(fibre.radius_px / best.radius_px - 1) < 0.04 and fibre.support >= 0.6)
    ]
    if len(alike) == 1 and which in (None, 1):
        return best, None
    if which is None:
        return None, Refusal(
            reason="several_fibres", values=(("count", float(len(alike))),)
        )
    if not 1 <= which <= len(alike):
        return None, Refusal(
            reason="no_such_fibre", values=(("count", float(len(alike))),)
        )
    return sorted(alike, key=lambda fibre: (fibre.col_px, fibre.row_px))[
        which - 1
    ], None


def _ripple(picture: Picture) -> float:
    """Ripple of lossy compression, also where a lossless copy hides it."""
    if picture.block_step > 0 or blockiness(picture.values) < 1.1:
        return picture.block_step
    return 1.5 / 255.0


def _plausible(fibre: Fibre) -> bool:
    """Chance circles of a picture without a fibre are patchy, faint or oval."""
    if fibre.contrast < 0.035 or fibre.likeness < Trust().likeness:
        return False
    if fibre.support < Trust().support:
        patchy = fibre.support < Trust().least_support
        return not patchy and fibre.contrast > 0.1 and fibre.axis_ratio < 1.025
    return fibre.axis_ratio < 1.035 or fibre.support > 0.95


def _zones_seen(
    fibre: Fibre, criteria: Criteria, shape: tuple[int, int]
) -> tuple[str, ...]:
    """Zones whose whole ring lies in the picture."""
    rows, cols = shape
    room = min(
        fibre.row_px + 0.5,
        fibre.col_px + 0.5,
        rows - 0.5 - fibre.row_px,
        cols - 0.5 - fibre.col_px,
    )
    return tuple(
        zone.name
        for zone in criteria.zones
        if zone.outer_um / 2 <= room * fibre.um_per_px + 0.5
    )


def _distrust(
    picture: Picture, surface: Surface, fibre: Fibre, trust: Trust
) -> Refusal | None:
    checks: tuple[Callable[[], Refusal | None], ...] = (
        lambda: refuse_dark(surface, trust),
        lambda: refuse_rings(surface),
        lambda: refuse_clipped(surface, trust),
        lambda: refuse_lit_core(surface, trust),
        lambda: refuse_wrong_tip(surface, fibre, trust),
        lambda: refuse_not_glass(surface),
        lambda: refuse_copies(picture, fibre),
    )
    for check in checks:
        refusal = check()
        if refusal is not None:
            return refusal
    return None


def _why_unsharp(
    refusal: Refusal | None, picture: Picture, trust: Trust
) -> Refusal | None:
    """An unsharp picture with light on one side comes from the wrong tip."""
    if refusal is None or refusal.reason not in ("no_end_face", "out_of_focus"):
        return refusal
    imbalance = light_imbalance(picture.values)
    if imbalance < trust.one_sided_picture:
        return refusal
    return Refusal(reason="one_sided", values=(("picture", imbalance),))


def grade_picture(
    picture: Picture,
    criteria: Criteria,
    *,
    stated_um_per_px: float | None = None,
    which: int | None = None,
    trust: Trust | None = None,
) -> Face:
    """Grade one face, or say why not.

    Parameters
    ----------
    picture : Picture
        Grey values of the picture [1]
    criteria : Criteria
        Zones and rules of the connector's class [µm]
    stated_um_per_px : float, optional
        Scale stated by the instrument, checked against the cladding [µm/px]
    which : int, optional
        Fibre to grade when several are in view, counted from the left [1]
    trust : Trust, optional
        Limits of the checks of the picture [1]

    Returns
    -------
    face : Face
        Verdict, marks, predicted effect, or the refusal [1]
    """
    trust = trust or Trust()
    fibre, refusal = _chosen(picture, stated_um_per_px, which)
    if fibre is None:
        refusal = _why_unsharp(refusal, picture, trust)
        return Face(verdict="refused", refusal=refusal, criteria=criteria)
    refusal = refuse_graphics(picture, fibre) or refuse_geometry(
        fibre,
        picture.values.shape,
        stated_um_per_px,
        trust,
    )
    graded_core = criteria.connector_class == "mm"
    if refusal is not None:
        refusal = _why_unsharp(refusal, picture, trust)
        return Face(verdict="refused", refusal=refusal, criteria=criteria, fibre=fibre)
    surface = flatten(picture.values, fibre, graded_core=graded_core)
    refusal = _distrust(picture, surface, fibre, trust)
    if refusal is not None:
        return Face(verdict="refused", refusal=refusal, criteria=criteria, fibre=fibre)
    marks = tuple(
        find_marks(surface, block_step=_ripple(picture), grey_step=picture.step)
    )
    guard = max(FINEST_GUARD_UM, fibre.um_per_px)
    grade = grade_marks([mark.sized for mark in marks], criteria, guard_um=guard)
    zones = _zones_seen(fibre, criteria, picture.values.shape)
    notes = [*picture.notes]
    if criteria.zones[-1].name not in zones:
        notes.append("zones_a_b_only")
    verdict: str = grade.verdict
    if fibre.um_per_px > COARSE_UM_PER_PX and verdict == "pass":
        notes.append("coarse")
        verdict = "undecided"
    return Face(
        verdict=verdict,
        refusal=None,
        criteria=criteria,
        fibre=fibre,
        marks=marks,
        grade=grade,
        effect=predict_effect(surface, marks),
        zones=zones,
        notes=tuple(notes),
        surface=surface,
    )


def after_abrasion(face: Face) -> Face:
    """The face of a connector that was cleaned with abrasive film.

    A picture shows neither the angle nor the height of the fibre, which abrasion may
    have changed: a clean picture then proves nothing until loss and reflectance are
    measured.

    Parameters
    ----------
    face : Face
        The face as graded [1]

    Returns
    -------
    face : Face
        The same face; a pass has become undecided [1]
    """
    if face.verdict != "pass":
        return face
    return replace(face, verdict="undecided", notes=(*face.notes, "abraded"))


def grade_bytes(
    data: bytes,
    criteria: Criteria,
    *,
    stated_um_per_px: float | None = None,
    which: int | None = None,
) -> Face:
    """Grade the bytes of one picture file.

    Parameters
    ----------
    data : bytes
        Content of a PNG, JPEG, TIFF or BMP file [1]
    criteria : Criteria
        Zones and rules of the connector's class [µm]
    stated_um_per_px : float, optional
        Scale stated by the instrument [µm/px]
    which : int, optional
        Fibre to grade when several are in view, counted from the left [1]

    Returns
    -------
    face : Face
        Verdict, marks, predicted effect, or the refusal [1]
    """
    return grade_picture(
        read_picture(data), criteria, stated_um_per_px=stated_um_per_px, which=which
    )
