"""The main use case: a visit in, an assessment out."""

from dataclasses import dataclass, field
from pathlib import Path

from eavelight.app.company import company, observed_files
from eavelight.app.diagnosing import assess_and_diagnose
from eavelight.app.names import known_names
from eavelight.app.store_url import store_exists
from eavelight.app.visit_folder import VisitFolder, read_visit_folder
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


def open_visit(place: str, *, store: str | None = None) -> VisitFolder:
    """The visit at a folder or `visit.toml`, else that of this id in the store."""
    is_id = not set(place) & set("/\\") and not Path(place).exists()
    if not is_id or not store_exists(store):
        return read_visit_folder(Path(place), known_names())
    from eavelight.app.record_place import open_record
    from eavelight.app.record_stored import open_stored

    with open_record(store, make=False) as record:
        opened = open_stored(record.store, place)
        opened.lay_out()
    return opened


def observe(opened: VisitFolder) -> Observations:
    """What was seen on a visit: its readings and its decoded evidence."""
    visit = opened.visit
    return Observations(
        started=visit.head.started,
        ended=visit.head.ended,
        readings=visit.readings,
        files=observed_files(opened),
        exceptions=visit.exceptions,
        crew=visit.head.crew,
    )


def assess_visit(
    place: str, *, alone: bool = False, store: str | None = None
) -> AssessedVisit:
    """Assess the visit at a place, compared with those beside it and in the store."""
    opened = open_visit(place, store=store)
    observations = observe(opened)
    profile = load_profile(opened.visit.head.profile)
    others, problems = ((), []) if alone else company(opened, observations, store)
    assessment = assess_and_diagnose(
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
