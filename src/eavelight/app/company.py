"""Other visits of the company, as digests: folders beside a visit, then the store."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from eavelight.app.evidence_files import observe_file
from eavelight.app.names import known_names
from eavelight.app.store_url import store_exists
from eavelight.app.visit_folder import VisitFolder, read_visit_folder
from eavelight.app.visit_folder.read import FILE_NAME
from eavelight.errors import EavelightError
from eavelight.model.observation import (
    Evidence,
    FileObservation,
    Observations,
    OtherVisit,
)


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
        files=observed_files(opened, measure=is_baseline),
        readings=visit.readings,
        crew=visit.head.crew,
        is_baseline=is_baseline,
    )


def observed_files(
    opened: VisitFolder, *, measure: bool = True
) -> tuple[FileObservation, ...]:
    """The evidence of a visit, decoded, wherever its bytes are."""
    return tuple(
        observe_file(
            _with_polish(opened, item),
            opened.evidence_path(item),
            measure=measure,
            recorded=opened.recorded_digest(item),
            is_copy=opened.is_copy(item),
        )
        for item in opened.visit.evidence
    )


def _with_polish(opened: VisitFolder, item: Evidence) -> Evidence:
    """An end face without a class is graded against the polish of its part."""
    if item.what != "endface" or item.polish is not None or item.at is None:
        return item
    part = opened.visit.plan.plant.part_named(item.at)
    return item if part is None else replace(item, polish=part.polish)


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


def company(
    opened: VisitFolder, observations: Observations, store: str | None
) -> tuple[tuple[OtherVisit, ...], list[str]]:
    """Folders beside a visit, then the store; a visit in both counts as its folder."""
    beside: tuple[OtherVisit, ...] = ()
    problems: list[str] = []
    if not opened.in_store:
        beside, problems = others_beside(opened)
    if not store_exists(store):
        return beside, problems
    from eavelight.app.company_stored import others_in_store

    known = [other.visit for other in beside]
    files = observations.files
    stored, more = others_in_store(opened, files, store=store, known=known)
    return (*beside, *stored), [*problems, *more]


def first_line(error: Exception) -> str:
    """The first line of an error's text."""
    return str(error).partition("\n")[0]
