"""End-face pictures in, graded faces out; before and after cleaning put together."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from eavelight.endface.compare import Comparison, compare_marks, turn_between
from eavelight.endface.dirt import Advice, advise, kinds_of_face
from eavelight.endface.face import Face, grade_picture
from eavelight.endface.overlay import overlay_png
from eavelight.endface.picture import MAX_BYTES, Picture, read_picture
from eavelight.endface.report import as_contract, reasons
from eavelight.errors import EavelightError, EvidenceError
from eavelight.standards.endface_criteria import load
from eavelight.standards.endface_dirt import load_dirt, load_words

# What one round of cleaning did, in the words of the table of dirt.
GONE_WORDS = {"dry": "gone_dry", "wet": "gone_wet"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GradedFace:
    """One picture with everything made of it, or why there is nothing."""

    path: str
    picture: Picture | None = None
    face: Face | None = None
    before: Face | None = None
    comparison: Comparison | None = None
    kinds: tuple[dict[str, float], ...] = ()
    advice: Advice | None = None
    error: str | None = None

    @property
    def verdict(self) -> str:
        """Pass, fail, undecided or refused; `error` where nothing could be read."""
        return "error" if self.face is None else self.face.verdict


def grade_data(
    data: bytes,
    *,
    name: str,
    polish: str = "apc",
    um_per_px: float | None = None,
    which: int | None = None,
    before: bytes | None = None,
    done: Sequence[str] = (),
) -> GradedFace:
    """Grade the bytes of one picture, compared with one before cleaning if given.

    Raises
    ------
    EvidenceError
        If the bytes are no picture that can be read.
    """
    criteria = load(polish)

    def graded(content: bytes) -> tuple[Picture, Face]:
        try:
            picture = read_picture(content)
        except EvidenceError as error:
            raise error.at(name) from None
        face = grade_picture(picture, criteria, stated_um_per_px=um_per_px, which=which)
        return picture, face

    picture, face = graded(data)
    earlier = None if before is None else graded(before)[1]
    comparison = None if earlier is None else _compared(earlier, face)
    table = load_dirt()
    kinds = tuple(kinds_of_face(face, table)) if face.grade is not None else ()
    return GradedFace(
        path=name,
        picture=picture,
        face=face,
        before=earlier,
        comparison=comparison,
        kinds=kinds,
        advice=_advice(face, kinds, done),
    )


def _compared(before: Face, after: Face) -> Comparison | None:
    """Fates of the marks, where both pictures could be graded."""
    if before.surface is None or after.surface is None:
        return None
    turn, agreement = turn_between(before.surface, after.surface)
    return compare_marks(before.marks, after.marks, turn_deg=turn, agreement=agreement)


def _advice(
    face: Face, kinds: Sequence[dict[str, float]], done: Sequence[str]
) -> Advice | None:
    """The next cleaning step for what counts against the face."""
    if face.grade is None or face.verdict == "pass":
        return None
    against = [
        odds for odds, counts in zip(kinds, face.grade.counts, strict=True) if counts
    ]
    return advise(against or list(kinds), done, load_dirt()) if kinds else None


def grade_files(
    paths: Iterable[Path],
    *,
    polish: str,
    um_per_px: float | None = None,
    which: int | None = None,
    before: Path | None = None,
) -> Iterator[GradedFace]:
    """Grade many pictures one after the other; an unreadable one says why."""
    earlier = None if before is None else _bytes_of(before)
    for path in paths:
        try:
            yield grade_data(
                _bytes_of(path),
                name=path.as_posix(),
                polish=polish,
                um_per_px=um_per_px,
                which=which,
                before=earlier,
            )
        except (EavelightError, OSError) as error:
            yield GradedFace(path=path.as_posix(), error=str(error))


def _bytes_of(path: Path) -> bytes:
    if not path.is_file():
        raise EvidenceError(
            path.as_posix(), "file", "a picture", "nothing", advice="check the name"
        )
    size = path.stat().st_size
    if size > MAX_BYTES:
        raise EvidenceError(
            path.as_posix(),
            "size",
            f"at most {MAX_BYTES} bytes",
            f"{size} bytes",
            advice="export a smaller picture",
        )
    return path.read_bytes()


def because(face: Face) -> str:
    """Why the verdict is what it is, in words."""
    words = load_words()["reason"]
    return " ".join(_filled(words[item["id"]], item) for item in reasons(face))


def _filled(sentence: str, values: dict[str, Any]) -> str:
    shown = {
        key: f"{value:g}" if isinstance(value, float) else value
        for key, value in values.items()
    }
    return sentence.format(**shown)


def advice_text(advice: Advice | None) -> str | None:
    """The next cleaning step in words."""
    if advice is None:
        return None
    words = load_words()
    kinds = [
        " or ".join(words["kind"].get(name, name) for name in kind.split("+"))
        for kind in advice.kinds[:3]
    ]
    text = words["step"].get(advice.step, advice.step)
    if kinds:
        text = f"Looks like {', '.join(kinds)}. {text}"
    if advice.adapter_too:
        text += f" {words['step']['adapter_too']}"
    return text


def face_json(item: GradedFace) -> dict[str, Any]:
    """One face in the JSON of the contract."""
    if item.face is None:
        return {
            "schema": "eavelight.endface/1",
            "file": item.path,
            "error": item.error or "not read",
        }
    data = as_contract(
        item.face,
        because(item.face),
        comparison=item.comparison,
        before=item.before,
        kinds=[dict(odds) for odds in item.kinds],
    )
    return {
        "schema": data.pop("schema"),
        "file": item.path,
        **data,
        "next_cleaning": advice_text(item.advice),
    }


def face_drawn(data: bytes, face: object, *, zones: bool = True) -> bytes | None:
    """The zones of a picture with what was found in them before, as PNG."""
    if not isinstance(face, Face):
        return None
    try:
        picture = read_picture(data)
    except EvidenceError:
        return None
    return overlay_png(picture, face, zones=zones, near=True)


def face_overlay(item: GradedFace, *, zones: bool = True) -> bytes | None:
    """The picture with zones and marks drawn over it, as PNG."""
    if item.picture is None or item.face is None:
        return None
    return overlay_png(item.picture, item.face, title=item.face.verdict, zones=zones)
