"""Graded faces as text for people, or as JSON that streams as pictures are read."""

import json
import textwrap
from collections.abc import Iterable, Iterator

import click

from eavelight.app.endface_files import (
    GradedFace,
    advice_text,
    because,
    face_json,
)
from eavelight.wording import with_uncertainty

WORDS = {
    "pass": "✓ pass",
    "fail": "✕ fail",
    "undecided": "? cannot tell",
    "refused": "– refused",
}
MOST_MARKS = 12


def print_faces_json(items: Iterable[GradedFace], *, single: bool) -> list[str]:
    """Print one object, or a list that grows; returns the verdicts."""
    verdicts = []
    if not single:
        click.echo('{"faces": [')
    for number, item in enumerate(items):
        verdicts.append(item.verdict)
        if number:
            click.echo(",")
        text = json.dumps(face_json(item), ensure_ascii=False, allow_nan=False)
        click.echo(text, nl=single)
    if not single:
        click.echo("\n]}")
    return verdicts


def print_faces(items: Iterable[GradedFace], *, single: bool) -> list[str]:
    """Print a few lines for each face; what cannot be read goes to stderr."""
    verdicts = []
    for item in items:
        verdicts.append(item.verdict)
        if item.face is None:
            click.echo(item.error or "not read", err=True)
            continue
        for line in face_lines(item):
            click.echo(line)
        if not single:
            click.echo()
    return verdicts


def face_lines(item: GradedFace) -> Iterator[str]:
    """Verdict, reason, scale, marks and what to do."""
    face = item.face
    if face is None:
        return
    yield f"{item.path} · {WORDS[face.verdict]}"
    yield from _wrapped(because(face))
    criteria = face.criteria
    provisional = "" if criteria.confidence == "seen" else ", provisional"
    yield (
        f"  Criteria {criteria.document} {criteria.edition}, class "
        f"{criteria.connector_class} ({criteria.confidence}{provisional})"
    )
    if face.fibre is not None:
        yield (
            f"  Scale {face.fibre.um_per_px:.3f} µm per pixel from the glass itself, "
            f"edge {face.fibre.edge_um:.1f} µm wide"
        )
    yield from _marks(item)
    if face.effect is not None:
        losses = ", ".join(
            f"{low:.2f} to {high:.2f} dB at {nm} nm"
            for nm, (low, high) in face.effect.loss_db.items()
        )
        yield f"  Would cost about {losses}; not part of any budget"
    advice = advice_text(item.advice)
    if advice:
        yield from _wrapped(advice)


def _marks(item: GradedFace) -> Iterator[str]:
    rows = face_json(item)["marks"]
    counted = [row for row in rows if row["counts"]]
    if not rows:
        return
    yield f"  {len(rows)} marks, {len(counted)} count"
    ordered = sorted(rows, key=lambda row: (not row["counts"], -row["size_um"]))
    for row in ordered[:MOST_MARKS]:
        size = with_uncertainty(row["size_um"], row["size_u_um"], "µm")
        limit = "at most " if row["at_resolution_limit"] else ""
        fate = f", {row['fate']}" if row["fate"] else ""
        counts = "counts" if row["counts"] else "free"
        yield (
            f"    zone {row['zone']}  {row['kind']:<8} {limit}{size}, "
            f"{row['row_um']:.0f} µm down, {row['col_um']:.0f} µm right, "
            f"{counts}{fate}"
        )
    if len(ordered) > MOST_MARKS:
        yield f"    and {len(ordered) - MOST_MARKS} more; see --json"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 78, initial_indent="  ", subsequent_indent="  ")
