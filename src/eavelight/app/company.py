"""Other visits of the company, as digests: folders beside the given one."""

from collections.abc import Iterator
from pathlib import Path

from eavelight.app.evidence_files import observe_file
from eavelight.app.names import known_names
from eavelight.app.visit_folder import VisitFolder, read_visit_folder
from eavelight.app.visit_folder.read import FILE_NAME
from eavelight.errors import EavelightError
from eavelight.model.observation import OtherVisit


def folders_beside(folder: Path) -> Iterator[Path]:
    """Visit folders in the same parent, the given one left out, in order of name."""
    here = folder.resolve()
    for sibling in sorted(here.parent.iterdir()):
        if sibling != here and (sibling / FILE_NAME).is_file():
            yield sibling


def digest_of(opened: VisitFolder, *, is_baseline: bool = False) -> OtherVisit:
    """What another visit needs to know of this one."""
    visit = opened.visit
    return OtherVisit(
        visit=visit.head.id,
        site=visit.plan.site.key,
        started=visit.head.started,
        files=tuple(
            observe_file(item, opened.evidence_path(item), measure=is_baseline)
            for item in visit.evidence
        ),
        readings=visit.readings,
        is_baseline=is_baseline,
    )


def others_beside(opened: VisitFolder) -> tuple[tuple[OtherVisit, ...], list[str]]:
    """Digests of the visits beside this one, and why any could not be read."""
    found, problems = [], []
    for sibling in folders_beside(opened.path):
        try:
            other = read_visit_folder(sibling, known_names())
        except EavelightError as error:
            problems.append(f"{sibling.name}: not compared: {first_line(error)}")
            continue
        if other.visit.head.id == opened.visit.head.id:
            continue
        baseline = other.visit.head.id == opened.visit.head.baseline
        found.append(digest_of(other, is_baseline=baseline))
    return tuple(found), problems


def first_line(error: Exception) -> str:
    """The first line of an error's text."""
    return str(error).partition("\n")[0]
