"""End faces: what a graded picture says, and what the crew stated.

A graded picture outranks a statement; where the two disagree nobody can tell. The last
picture of a face counts, because cleaning comes before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import Placed
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation

if TYPE_CHECKING:
    from eavelight.endface.face import Face

SIDES = ("plug", "adapter", "equipment plug")
# Faces that a turn-up must show: the plug that this crew mates, and what it meets.
EXPECTED = {"terminal": ("plug", "adapter"), "port": ("plug", "adapter")}
GRADED = {
    "pass": Verdict.PASS,
    "fail": Verdict.FAIL,
    "undecided": Verdict.UNDECIDED,
}


def assess_endface(context: Context) -> list[Finding]:
    """One finding per face: graded, stated, or not measured."""
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
        found.extend(_finding(context, part.name, side) for side in sides)
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
    """Pictures of one face in order of time; without one, that of the record."""
    listed = [
        item
        for item in context.files("endface")
        if item.evidence.at == connector and (item.evidence.side or "plug") == side
    ]
    if all(item.evidence.time is not None for item in listed):
        listed.sort(key=lambda item: item.evidence.time or context.observations.started)
    return tuple(listed)


def face_of(item: FileObservation) -> "Face | None":
    """The graded face of a picture, None where it could not be read."""
    face: Face | None = item.analysis if item.evidence.what == "endface" else None
    return face


def graded_as(picture: FileObservation) -> str:
    """The verdict of a picture in a word, empty where it could not be read."""
    return str(getattr(picture.analysis, "verdict", ""))


def is_cleaned(picture: FileObservation) -> bool:
    """Whether a picture was taken after a round of cleaning."""
    return bool(picture.evidence.cleaned or picture.evidence.cleaning)


def last_graded(pictures: Sequence[FileObservation]) -> FileObservation | None:
    """The newest picture that says clean or dirty, None where that is not known now.

    A picture that could not be read is passed over, unless the face was cleaned before
    it or it could not be decided: then nothing older tells of the face any more.
    """
    for item in reversed(pictures):
        if graded_as(item) in {"pass", "fail"}:
            return item
        if graded_as(item) == "undecided" or is_cleaned(item):
            return None
    return None


def cleaned_at(context: Context, connector: str) -> datetime | None:
    """When pictures first showed both sides clean, one of them after cleaning.

    None where the newest pictures do not show both sides clean, or state no time.
    """
    times: list[datetime] = []
    for side in ("plug", "adapter"):
        pictures = pictures_of(context, connector, side)
        last = last_graded(pictures)
        if last is None or graded_as(last) != "pass":
            return None
        passed = [p for p in pictures if is_cleaned(p) and graded_as(p) == "pass"]
        times += [p.evidence.time for p in passed[:1] if p.evidence.time is not None]
    return max(times, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """All that is known of one face."""

    connector: str
    side: str
    stated: tuple[Placed, ...]
    pictures: tuple[FileObservation, ...]

    @property
    def last_picture(self) -> FileObservation | None:
        return self.pictures[-1] if self.pictures else None

    @property
    def face(self) -> "Face | None":
        return face_of(self.last_picture) if self.last_picture else None

    @property
    def statement(self) -> Verdict | None:
        """The last statement, unless a later picture was taken after cleaning."""
        if not self.stated:
            return None
        last, picture = self.stated[-1].reading, self.last_picture
        if (
            picture is not None
            and picture.evidence.cleaning
            and "before cleaning" in last.state
        ):
            return None
        return Verdict.PASS if last.text == "pass" else Verdict.FAIL

    @property
    def abraded(self) -> bool:
        return any("abrasive" in item.evidence.cleaning for item in self.pictures)

    @property
    def observations(self) -> tuple[str, ...]:
        return (*ids(self.stated), *(item.evidence.file for item in self.pictures))


def _finding(context: Context, connector: str, side: str) -> Finding:
    seen = _Seen(
        connector=connector,
        side=side,
        stated=stated_of(context, connector, side),
        pictures=pictures_of(context, connector, side),
    )
    values: dict[str, Any] = {
        "subject": connector,
        "side": side,
        "pictures": len(seen.pictures),
    }
    required = (
        context.required("endface.grade") and connector == "terminal" and side == "plug"
    )
    more: dict[str, Any] = {"required": required, "observations": seen.observations}
    face = seen.face
    if face is not None and face.verdict in GRADED:
        return _graded(context, seen, face, values=values, more=more)
    if face is not None:
        values["reasons"] = reason_messages(face)
    return _stated(context, seen, values=values, more=more)


def reason_messages(face: "Face") -> tuple[Message, ...]:
    """Why a face was graded so, or refused, as sentences."""
    # the room of pictures is only loaded where there is a picture
    from eavelight.endface.report import reasons

    return tuple(
        Message(f"endface.reason.{item['id']}", item) for item in reasons(face)
    )


def _graded(
    context: Context,
    seen: _Seen,
    face: "Face",
    *,
    values: dict[str, Any],
    more: dict[str, Any],
) -> Finding:
    """What the picture says, held against what the crew stated."""
    verdict, name = GRADED[face.verdict], "graded"
    stated = seen.statement
    if verdict is Verdict.PASS and seen.abraded:
        verdict, name = Verdict.UNDECIDED, "abraded"
    elif stated is not None and verdict is not Verdict.UNDECIDED and stated != verdict:
        values["stated"] = str(stated)
        verdict, name = Verdict.UNDECIDED, "disagree"
    values |= {
        "graded": face.verdict,
        "reasons": reason_messages(face),
        "edition": f"{face.criteria.document} {face.criteria.edition}",
        "polish": face.criteria.connector_class,
    }
    criteria = face.criteria
    return finding(
        context,
        "endface.grade",
        seen.connector,
        verdict=verdict,
        because=Message(f"endface.grade.{verdict}.{name}", values),
        measured=Quantity(value=f"{seen.side}: {face.verdict}", unit=""),
        limit=Limit(
            clause=f"endface.{criteria.connector_class}",
            edition=f"{criteria.document} {criteria.edition}",
            confidence=criteria.confidence,
        ),
        decide_by=(
            None
            if verdict in {Verdict.PASS, Verdict.FAIL}
            else Message("endface.grade.decide_by", values)
        ),
        broken_by=tuple(item.evidence.file for item in seen.pictures[-1:]),
        **more,
    )


def _stated(
    context: Context, seen: _Seen, *, values: dict[str, Any], more: dict[str, Any]
) -> Finding:
    """What the crew stated, where no picture could be graded."""
    requirement = "endface.grade"
    if not seen.stated:
        reason = ""
        if seen.pictures:
            reason = "refused" if values.get("reasons") else "picture"
        return not_measured(
            context, requirement, seen.connector, reason=reason, values=values, **more
        )
    last = seen.stated[-1].reading
    verdict = Verdict.PASS if last.text == "pass" else Verdict.FAIL
    name = "stated"
    if seen.pictures:
        name += "_refused" if values.get("reasons") else "_picture"
    return finding(
        context,
        requirement,
        seen.connector,
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.{name}", values),
        measured=Quantity(value=f"{seen.side}: {last.text}", unit=""),
        broken_by=ids(seen.stated[-1:]),
        **more,
    )
