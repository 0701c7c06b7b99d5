"""Visits of the store that a visit is compared with, as digests.

Of a large store only those are compared that could matter: the baseline, visits that
rest on the same bytes or samples, and the nearest in time of the same crew.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC

from eavelight.app.company import digest_of, first_line
from eavelight.app.record_place import open_record
from eavelight.app.record_stored import open_stored
from eavelight.app.visit_folder import VisitFolder
from eavelight.errors import EavelightError
from eavelight.model.observation import FileObservation, OtherVisit
from eavelight.store import Filters, Store

# visits of the same crew before and after that are compared
NEAREST = 40


def others_in_store(
    opened: VisitFolder,
    files: Iterable[FileObservation],
    *,
    store: str | None = None,
    known: Iterable[str] = (),
) -> tuple[tuple[OtherVisit, ...], list[str]]:
    """Digests of visits of the store that could matter, those known left out."""
    skipped = {opened.visit.head.id, *known}
    found, problems = [], []
    with open_record(store, make=False) as place:
        for visit in _that_matter(place.store, opened, files):
            if visit in skipped:
                continue
            try:
                other = open_stored(place.store, visit)
            except EavelightError as error:
                problems.append(f"{visit}: not compared: {first_line(error)}")
                continue
            baseline = visit == opened.visit.head.baseline
            found.append(digest_of(other, is_baseline=baseline))
    return tuple(found), problems


def _that_matter(
    store: Store, opened: VisitFolder, files: Iterable[FileObservation]
) -> list[str]:
    head = opened.visit.head
    digests = {d for item in files for d in (item.sha256, item.samples_sha256) if d}
    found = [head.baseline] if head.baseline and store.line(head.baseline) else []
    found += store.used_by(digests)
    start = head.started.astimezone(UTC).isoformat().replace("+00:00", "Z")
    crew = Filters(crew=head.crew or "", limit=NEAREST)
    before = store.visits(replace(crew, until=start))
    after = store.visits(replace(crew, since=start, newest_first=False))
    found += [line.visit for line in (*before, *after)]
    return list(dict.fromkeys(found))
