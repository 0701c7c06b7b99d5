"""The result of a face as plain values, for scripts and doors."""

from typing import Any

from eavelight.endface.compare import Comparison
from eavelight.endface.face import Face

SCHEMA = "eavelight.endface/1"


def _number(value: float, digits: int = 3) -> float:
    return round(float(value), digits)


def reasons(face: Face) -> list[dict[str, Any]]:
    """Why the verdict is what it is, as ids with values.

    Parameters
    ----------
    face : Face
        The graded or refused face [1]

    Returns
    -------
    reasons : list of dict
        Each with `id`, and the values its text needs [1]
    """
    if face.refusal is not None:
        values = {key: _number(value, 4) for key, value in face.refusal.values}
        return [{"id": face.refusal.reason, **values}]
    if face.grade is None:
        return []
    broken = face.grade.breaches or face.grade.doubtful
    prefix = "" if face.grade.breaches else "maybe_"
    found = [
        {
            "id": f"{prefix}{breach.reason}",
            "zone": breach.zone,
            "kind": breach.kind,
            "measured": _number(breach.measured, 2),
            "limit": breach.limit,
        }
        for breach in broken
    ]
    if not found and face.verdict == "pass":
        found.append({"id": "clean"})
    return found + [{"id": note} for note in face.notes]


def mark_rows(
    face: Face, kinds: list[dict[str, float]] | None = None
) -> list[dict[str, Any]]:
    """The marks as plain values.

    Parameters
    ----------
    face : Face
        The graded face [1]
    kinds : list of dict, optional
        Odds of kinds of dirt for each mark [1]

    Returns
    -------
    rows : list of dict
        One for each mark inside the outermost zone [1]
    """
    if face.grade is None:
        return []
    rows = []
    for index, mark in enumerate(face.marks):
        zones = face.grade.zones_of[index]
        if not zones:
            continue
        rows.append(
            {
                "kind": mark.kind,
                "zone": zones[0],
                "size_um": _number(mark.size_um, 2),
                "size_u_um": _number(mark.size_u_um, 2),
                "row_um": _number(mark.row_um, 2),
                "col_um": _number(mark.col_um, 2),
                "counts": face.grade.counts[index],
                "at_resolution_limit": mark.at_limit,
                "zones": list(zones),
                "contrast": _number(mark.contrast, 3),
                "fate": None,
                "kinds": kinds[index] if kinds else None,
            }
        )
    return rows


def gone_rows(before: Face, comparison: Comparison) -> list[dict[str, Any]]:
    """Marks that were there before and are gone or have moved away.

    Parameters
    ----------
    before : Face
        The earlier face [1]
    comparison : Comparison
        Fates of its marks [1]

    Returns
    -------
    rows : list of dict
        Like `mark_rows`, none of which counts [1]
    """
    rows = []
    kept = [
        fate
        for fate, zones in zip(
            comparison.before,
            before.grade.zones_of if before.grade else (),
            strict=True,
        )
        if zones
    ]
    for row, fate in zip(mark_rows(before), kept, strict=True):
        if fate == "gone":
            rows.append({**row, "fate": "gone", "counts": False})
    return rows


def as_contract(
    face: Face,
    because: str,
    *,
    comparison: Comparison | None = None,
    before: Face | None = None,
    kinds: list[dict[str, float]] | None = None,
) -> dict[str, Any]:
    """The stable fields of `endface --json` for one face.

    Parameters
    ----------
    face : Face
        The graded or refused face [1]
    because : str
        The reason in words, made by the caller [1]
    comparison : Comparison, optional
        Match with the picture before cleaning [1]
    before : Face, optional
        The face before cleaning [1]
    kinds : list of dict, optional
        Odds of kinds of dirt for each mark [1]

    Returns
    -------
    fields : dict
        Plain numbers, texts and lists [1]
    """
    rows = mark_rows(face, kinds)
    if comparison is not None and face.grade is not None:
        kept = [
            fate
            for fate, zones in zip(comparison.after, face.grade.zones_of, strict=True)
            if zones
        ]
        rows = [{**row, "fate": fate} for row, fate in zip(rows, kept, strict=True)]
        if before is not None:
            rows += gone_rows(before, comparison)
    fibre = face.fibre
    return {
        "schema": SCHEMA,
        "verdict": face.verdict,
        "because": because,
        "reasons": reasons(face),
        "fibre": None
        if fibre is None
        else {
            "row_px": _number(fibre.row_px, 2),
            "col_px": _number(fibre.col_px, 2),
            "radius_px": _number(fibre.radius_px, 2),
        },
        "um_per_px": None if fibre is None else _number(fibre.um_per_px, 4),
        "sharpness_um": None if fibre is None else _number(fibre.edge_um, 2),
        "marks": rows,
        "criteria": {
            "document": face.criteria.document,
            "edition": face.criteria.edition,
            "class": face.criteria.connector_class,
            "confidence": face.criteria.confidence,
        },
        "zones_graded": list(face.zones),
        "predicted_loss_db": None
        if face.effect is None
        else {
            str(wavelength): [_number(low), _number(high)]
            for wavelength, (low, high) in face.effect.loss_db.items()
        },
        "contact_risk": None if face.effect is None else face.effect.contact_risk,
        "migration": None
        if face.effect is None
        else {
            "count": face.effect.migrating,
            "largest_um": _number(face.effect.largest_migrating_um, 1),
        },
    }
