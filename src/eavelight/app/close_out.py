"""Use case: a visit in, the document that is handed over out."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from eavelight import __version__
from eavelight.app.assess_visit import AssessedVisit, assess_visit
from eavelight.closeout import (
    CustomerSheet,
    Document,
    FoundEvent,
    Material,
    closeout_document,
    closeout_html,
    closeout_pdf,
    customer_html,
    customer_pdf,
    customer_sheet,
)
from eavelight.errors import EavelightError
from eavelight.trace.results import Event, TraceAnalysis

RENDERERS: dict[str, Callable[[Document], bytes]] = {
    ".pdf": closeout_pdf,
    ".html": closeout_html,
}
CUSTOMER_RENDERERS: dict[str, Callable[[CustomerSheet], bytes]] = {
    ".pdf": customer_pdf,
    ".html": customer_html,
}
LARGEST_PICTURE_BYTES = 60_000_000


class OutputError(EavelightError):
    """A document cannot be written where it was asked for."""

    def __init__(self, path: Path, expected: str, found: str, advice: str) -> None:
        self.path = path
        super().__init__(f"{path}: expected {expected}, found {found}; {advice}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A document that was written, with the state that it tells."""

    path: Path
    state: str
    size_bytes: int
    seal: str | None = None


def close_out(
    place: str,
    out_path: str | Path,
    *,
    customer: bool = False,
    alone: bool = False,
    store: str | None = None,
) -> Written:
    """Write the closeout of a visit or its customer sheet; the suffix is the form."""
    path = Path(out_path)
    render = renderer_of(path)
    check_writable(path)
    assessed = assess_visit(place, alone=alone, store=store)
    material = material_of(assessed)
    if customer:
        data = CUSTOMER_RENDERERS[path.suffix.lower()](customer_sheet(material))
    else:
        data = render(closeout_document(material))
    write_whole(path, data)
    state = assessed.assessment.state
    seal = None
    if assessed.opened.in_store and not customer:
        seal = _sealed(assessed, data, store)
    return Written(path=path, state=state, size_bytes=len(data), seal=seal)


def _sealed(assessed: AssessedVisit, document: bytes, store: str | None) -> str:
    """Seal the visit in the store together with the document's digest."""
    from eavelight.app.record import evidence_row
    from eavelight.app.record_place import open_record
    from eavelight.app.seal_visit import seal_closeout

    visit = assessed.assessment.visit
    with open_record(store, make=False) as place:
        seal = seal_closeout(
            place,
            visit,
            document=document,
            row=evidence_row(document),
            state=assessed.assessment.state,
        )
    return seal.id


def renderer_of(path: Path) -> Callable[[Document], bytes]:
    """What renders a path of this suffix."""
    suffix = path.suffix.lower()
    if suffix not in RENDERERS:
        known = " or ".join(RENDERERS)
        found = repr(suffix) if suffix else "no suffix"
        raise OutputError(path, f"a file ending in {known}", found, "name it so")
    return RENDERERS[suffix]


def material_of(assessed: AssessedVisit) -> Material:
    """An assessed visit as the closeout takes it, pictures included."""
    return Material(
        visit=assessed.opened.visit,
        record=assessed.opened.text,
        observations=assessed.observations,
        profile=assessed.profile,
        assessment=assessed.assessment,
        version=__version__,
        notes=assessed.notes,
        pictures=_pictures(assessed),
        found_events=_found_events(assessed),
    )


def _found_events(assessed: AssessedVisit) -> dict[str, tuple[FoundEvent, ...]]:
    """Events that the analysis of each trace found, for drawing and listing."""
    found = {}
    for item in assessed.observations.files:
        if isinstance(item.analysis, TraceAnalysis):
            zero = item.analysis.zero_m + item.content.first_sample_m
            found[item.evidence.file] = tuple(
                _found_event(event, zero) for event in item.analysis.events
            )
    return found


def _found_event(event: Event, zero_m: float) -> FoundEvent:
    return FoundEvent(
        position_m=event.position_m,
        position_u_m=event.position_u_m,
        drawn_m=event.position_m + zero_m,
        kind=event.kind,
        loss_db=event.loss_db,
        loss_u_db=event.loss_u_db,
        reflectance_db=event.reflectance_db,
        reflectance_u_db=event.reflectance_u_db,
        reflectance_is_bound=bool(event.reflectance_is_bound),
    )


def _pictures(assessed: AssessedVisit) -> dict[str, bytes]:
    """Bytes of photos and end faces; one that cannot be opened is left out."""
    found = {}
    graded = {item.evidence.file: item.analysis for item in assessed.observations.files}
    for item in assessed.opened.visit.evidence:
        path = assessed.opened.evidence_path(item)
        if item.what == "trace":
            continue
        try:
            if path.stat().st_size > LARGEST_PICTURE_BYTES:
                continue
            data = path.read_bytes()
        except OSError:
            continue
        found[item.file] = _ringed(data, graded.get(item.file))
    return found


def _ringed(data: bytes, face: object) -> bytes:
    """An end face with zones and marks drawn over it; else the bytes as they are."""
    if face is None:
        return data
    from eavelight.app.endface_files import face_drawn

    return face_drawn(data, face) or data


def check_writable(path: Path) -> None:
    """Refuse a place that cannot be written before the work is done."""
    folder = path.parent
    if not folder.is_dir():
        raise OutputError(
            path, "a folder to write into", f"none at {folder}", "make it first"
        )
    if path.is_dir():
        raise OutputError(path, "a file", "a folder", "name a file in it")
    if not os.access(folder, os.W_OK):
        raise OutputError(
            path, "a folder one may write into", f"{folder}", "choose another"
        )


def write_whole(path: Path, data: bytes) -> None:
    """Write all of a file or nothing: a half-written closeout must not exist."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        reason = error.strerror or str(error)
        raise OutputError(path, "to write there", reason, "choose another") from None
