"""What a closeout says before it is a page: plain data that every door renders.

HTML and PDF are made from the same `Document`, so they hold the same content. Each
field carries its help text; texts are finished sentences, already put into words.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from eavelight.closeout.figures import Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    title: Annotated[str, "head of the column"]
    align: Annotated[str, "left or right; numbers stand right"] = "left"
    weight: Annotated[float, "share of the width, against the other columns"] = 1.0
    code: Annotated[bool, "letters of equal width, for ids and hashes"] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a table, with a sentence under it where there is one to say."""

    cells: Annotated[tuple[str, ...], "one text per column"]
    mark: Annotated[
        str, "pass, fail, undecided, not measured, superseded, or nothing"
    ] = ""
    notes: Annotated[tuple[str, ...], "sentences under the widest cell"] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under a head."""

    title: Annotated[str, "what the table shows; empty where the heading says it"]
    columns: Annotated[tuple[Column, ...], "the columns in order"]
    rows: Annotated[tuple[Row, ...], "the rows in order"]

    @property
    def widest(self) -> int:
        """The column under whose cell the sentences of a row stand."""
        weights = [column.weight for column in self.columns]
        return weights.index(max(weights))


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """One or a few sentences."""

    text: Annotated[str, "the sentences"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list of sentences."""

    items: Annotated[tuple[str, ...], "one sentence or two each"]
    numbered: Annotated[bool, "whether their order matters"] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Names with their values."""

    pairs: Annotated[tuple[tuple[str, str], ...], "name and value, in order"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing with its text alternative, both from the same data."""

    name: Annotated[str, "stable name, such as level-line"]
    drawing: Annotated[Drawing, "the data that are drawn"]
    alt: Annotated[str, "the same in words, for who cannot see it"]
    caption: Annotated[str, "what is shown and how to read it"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo or the picture of an end face, made smaller for the page."""

    data: Annotated[bytes, "the picture file as shown; empty where it has none"]
    media_type: Annotated[str, "image/png or image/jpeg"]
    alt: Annotated[str, "what the picture is of"]
    caption: Annotated[str, "file, place, and whether it was graded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Pictures side by side."""

    items: Annotated[tuple[Picture, ...], "in the order of the record"]


Block = Paragraph | Bullets | Facts | Table | Figure | Pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the document under a heading."""

    title: Annotated[str, "the heading"]
    blocks: Annotated[tuple[Block, ...], "what stands under it, in order"]
    level: Annotated[int, "2 for a section, 3 for a part of one"] = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class PageOne:
    """What must do for someone with twenty seconds."""

    heading: Annotated[str, "kind of document and visit"]
    state: Annotated[str, "ready, not ready or undecided"]
    state_mark: Annotated[str, "the shape that goes with the state"]
    state_word: Annotated[str, "the state in capitals"]
    reason: Annotated[str, "one sentence: why"]
    counts: Annotated[str, "how many findings got which answer"]
    next_step: Annotated[str, "what to do first; empty when nothing is open"]
    facts: Annotated[Facts, "site, port, crew, times"]
    open_findings: Annotated[Table | None, "what keeps it from ready, worst first"]
    exceptions: Annotated[Table | None, "what was done or accepted anyway"]
    no_exceptions: Annotated[str, "said where there are none"]
    level_line: Annotated[Figure | None, "the central picture"]
    no_level_line: Annotated[str, "said where it cannot be drawn"]
    signatures: Annotated[Table, "who answers for it, and whether they signed"]
    record_label: Annotated[str, "what the hash is of"]
    record_sha256: Annotated[str, "SHA-256 of the attached record"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A closeout, ready to be rendered."""

    language: Annotated[str, "language of the texts"]
    title: Annotated[str, "title of the file"]
    author: Annotated[str, "program and version that wrote it"]
    date: Annotated[datetime, "when the visit ended; never the time of printing"]
    words: Annotated[Mapping[str, str], "fixed words that the page itself needs"]
    page_one: Annotated[PageOne, "the first page"]
    sections: Annotated[tuple[Section, ...], "everything after it"]
    record_name: Annotated[str, "file name of the attached record"]
    record: Annotated[bytes, "the record byte for byte"]
