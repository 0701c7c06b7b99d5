"""Two visits side by side: what looks alike in their evidence, and what does not."""

from collections.abc import Iterator
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.desk import LiveVisit
from eavelight.model.finding import Finding
from eavelight.model.observation import FileObservation, Reading
from eavelight.web.context import shown, visit_of
from eavelight.web.render import page, visit_base

Key = tuple[str, str, int | None, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A file of this visit and the one of the other that it resembles."""

    mine: FileObservation
    theirs: FileObservation


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One kind of reading in both visits; `same` where the numbers are equal."""

    mine: Reading
    theirs: Reading

    @property
    def same(self) -> bool:
        """Whether both say the same."""
        return bool(self.mine.value == self.theirs.value)


@shown()
def compare(request: Request) -> Response:
    """What two visits share, both sides shown alike."""
    shelf, visit = visit_of(request)
    other = shelf.visit(request.path_params["other"])
    if other is None or other.id == visit.id:
        raise HTTPException(404)
    rows = list(_rows(visit, other))
    values = {
        "visit": visit,
        "other": other,
        "here": visit_base(shelf, visit),
        "there": visit_base(shelf, other),
        "findings": about(visit, other.id),
        "pairs": list(_pairs(visit, other)),
        "rows": rows,
        "same": sum(row.same for row in rows),
    }
    return page(request, "compare.html.j2", values)


def about(visit: LiveVisit, other: str) -> list[Finding]:
    """Findings of a visit that name another one."""
    found = visit.assessed.assessment.findings
    return [f for f in found if other_of(f) == other]


def other_of(item: Finding) -> str:
    """The other visit that a finding about evidence names; empty where none."""
    if not item.requirement.startswith("evidence."):
        return ""
    return str(item.because.values.get("visit", ""))


def _pairs(visit: LiveVisit, other: LiveVisit) -> Iterator[Pair]:
    """Files that a finding names together, and those of equal bytes."""
    mine = {f.evidence.file: f for f in visit.assessed.observations.files}
    theirs = {f.evidence.file: f for f in other.assessed.observations.files}
    named = {
        (str(values.get("file")), str(values.get("other")))
        for values in (f.because.values for f in about(visit, other.id))
    }
    equal = {
        (name, twin)
        for name, one in mine.items()
        for twin, two in theirs.items()
        if one.sha256 == two.sha256
    }
    for name, twin in sorted(named | equal):
        if name in mine and twin in theirs:
            yield Pair(mine=mine[name], theirs=theirs[twin])


def _key(reading: Reading) -> Key:
    return (
        reading.what,
        reading.at,
        reading.wavelength_nm,
        " ".join(reading.state),
        str(reading.end or ""),
    )


def _rows(visit: LiveVisit, other: LiveVisit) -> Iterator[Row]:
    """Readings that both took, the last of each kind, in the order of this visit."""
    last = {_key(r): r for r in other.stored.visit.readings}
    mine = {_key(r): r for r in visit.stored.visit.readings}
    for key, reading in mine.items():
        if key in last:
            yield Row(mine=reading, theirs=last[key])
