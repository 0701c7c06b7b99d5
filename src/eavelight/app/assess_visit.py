"""The main use case: a visit in, an assessment out."""

from dataclasses import dataclass, field
from pathlib import Path

from eavelight.app.company import others_beside
from eavelight.app.evidence_files import observe_file
from eavelight.app.names import known_names
from eavelight.app.visit_folder import VisitFolder, read_visit_folder
from eavelight.assess.assessment import assess
from eavelight.model.finding import Assessment
from eavelight.model.observation import Observations
from eavelight.standards.profiles import Profile, load_profile


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedVisit:
    """A visit with everything that was made of it."""

    opened: VisitFolder
    observations: Observations
    profile: Profile
    assessment: Assessment
    notes: tuple[str, ...] = field(default=())


def open_visit(place: str) -> VisitFolder:
    """The visit at a folder or `visit.toml`."""
    return read_visit_folder(Path(place), known_names())


def observe(opened: VisitFolder) -> Observations:
    """What was seen on a visit: its readings and its decoded evidence."""
    visit = opened.visit
    return Observations(
        started=visit.head.started,
        ended=visit.head.ended,
        readings=visit.readings,
        files=tuple(
            observe_file(item, opened.evidence_path(item)) for item in visit.evidence
        ),
        exceptions=visit.exceptions,
    )


def assess_visit(place: str, *, alone: bool = False) -> AssessedVisit:
    """Assess the visit at a place, compared with the visits beside it."""
    opened = open_visit(place)
    observations = observe(opened)
    profile = load_profile(opened.visit.head.profile)
    others, problems = ((), []) if alone else others_beside(opened)
    assessment = assess(
        opened.visit.head.id,
        opened.visit.plan,
        observations,
        profile,
        others,
    )
    unread = [
        f"{item.evidence.file}: could not be read: {item.error}"
        for item in observations.files
        if item.error is not None
    ]
    return AssessedVisit(
        opened=opened,
        observations=observations,
        profile=profile,
        assessment=assessment,
        notes=(*unread, *problems),
    )
