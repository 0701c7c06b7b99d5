"""A closeout from a visit: the same document for every door."""

from collections.abc import Callable

from eavelight.closeout.copper import copper_section
from eavelight.closeout.document import Document, Section
from eavelight.closeout.material import Material
from eavelight.closeout.page_one import (
    LONGEST_REASON,
    LONGEST_WORD,
    MOST_EXCEPTIONS,
    exception_table,
    page_one,
)
from eavelight.closeout.path_sections import (
    path_sections,
    photo_section,
    record_section,
    wall_section,
)
from eavelight.closeout.readable import readable
from eavelight.closeout.readings import reading_section
from eavelight.closeout.record_sections import (
    caution_section,
    clause_section,
    file_section,
    next_section,
    note_section,
    points_section,
    version_section,
)

PAGE_WORDS = ("page", "of", "attached", "save_record", "stays_narrow")
RECORD_NAME = "visit.toml"
LONGEST_TITLE = 40


def closeout_document(material: Material) -> Document:
    """Page one, then evidence in the order of the path, copper, wall, record."""
    head = material.visit.head
    document = Document(
        language=material.language,
        title=material.say("closeout.title", visit=head.id[:LONGEST_TITLE]),
        author=material.say("closeout.author", version=material.version),
        date=head.ended or head.started,
        words={name: material.say(f"closeout.{name}") for name in PAGE_WORDS},
        page_one=page_one(material),
        sections=_sections(material),
        record_name=RECORD_NAME,
        record=material.record,
    )
    return readable(document)


def _sections(material: Material) -> tuple[Section, ...]:
    after_path: tuple[Callable[[Material], Section | None], ...] = (
        photo_section,
        copper_section,
        wall_section,
        record_section,
        _exception_section,
        reading_section,
        points_section,
        clause_section,
        file_section,
        version_section,
        note_section,
        caution_section,
    )
    found = [next_section(material), *path_sections(material)]
    found += [make(material) for make in after_path]
    return tuple(section for section in found if section is not None)


def _exception_section(material: Material) -> Section | None:
    """All exceptions in full, where page one had to cut them."""
    notes = material.visit.exceptions
    longest = max((len(item.reason) for item in notes), default=0)
    names = [name for item in notes for name in (item.at, item.accepted_by or "")]
    if (
        len(notes) <= MOST_EXCEPTIONS
        and longest <= LONGEST_REASON
        and all(len(name) <= LONGEST_WORD for name in names)
    ):
        return None
    table = exception_table(material, whole=True)
    if table is None:
        return None
    return Section(title=material.say("closeout.exception.title"), blocks=(table,))
