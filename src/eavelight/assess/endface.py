"""End faces: what the crew stated, and what a graded picture says."""

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation

SIDES = ("plug", "adapter", "equipment plug")
# Faces that a turn-up must show: the plug that this crew mates, and what it meets.
EXPECTED = {"terminal": ("plug", "adapter"), "port": ("plug", "adapter")}


def assess_endface(context: Context) -> list[Finding]:
    """One finding per face: stated, pictured, or not measured."""
    found: list[Finding] = []
    for part in context.plan.plant.part:
        if part.kind != "connector":
            continue
        sides = [
            side
            for side in SIDES
            if side in EXPECTED.get(part.name, ())
            or stated_of(context, part.name, side)
            or pictures_of(context, part.name, side)
        ]
        found.extend(_face(context, part.name, side) for side in sides)
    return found


def stated_of(context: Context, connector: str, side: str) -> tuple[Placed, ...]:
    """What the crew stated of one face, all of it in order of time."""
    return tuple(
        item
        for item in context.selection.all_of("endface_stated", connector)
        if (item.reading.side or "plug") == side
    )


def pictures_of(
    context: Context, connector: str, side: str
) -> tuple[FileObservation, ...]:
    """Pictures of one face, in the order of the record."""
    return tuple(
        item
        for item in context.files("endface")
        if item.evidence.at == connector and (item.evidence.side or "plug") == side
    )


def face_verdict(context: Context, connector: str, side: str) -> Verdict:
    """The verdict on one face after its last cleaning."""
    return _face(context, connector, side).verdict


def _face(context: Context, connector: str, side: str) -> Finding:
    requirement = "endface.grade"
    stated = stated_of(context, connector, side)
    pictures = pictures_of(context, connector, side)
    required = (
        context.required(requirement) and connector == "terminal" and side == "plug"
    )
    values: dict[str, object] = {
        "subject": connector,
        "side": side,
        "pictures": len(pictures),
    }
    if not stated:
        return not_measured(
            context,
            requirement,
            connector,
            reason="picture" if pictures else "",
            values=values,
            required=required,
            observations=tuple(item.evidence.file for item in pictures),
        )
    last = stated[-1].reading
    verdict = Verdict.PASS if last.text == "pass" else Verdict.FAIL
    name = f"{requirement}.{verdict}.stated" + ("_picture" if pictures else "")
    return finding(
        context,
        requirement,
        connector,
        verdict=verdict,
        because=Message(name, values),
        measured=Quantity(value=f"{side}: {last.text}", unit=""),
        required=required,
        observations=(
            *ids(stated),
            *(item.evidence.file for item in pictures),
        ),
    )
