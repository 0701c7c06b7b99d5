"""The closeout as a PDF for decades: PDF/A-3b, tagged, the record attached inside.

All texts reach the typesetter as data, never as markup. It sees only a folder of its
own, which is gone afterwards.
"""

import json
import tempfile
from dataclasses import dataclass, field
from datetime import UTC
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from eavelight.closeout.document import (
    Block,
    Bullets,
    Column,
    Document,
    Facts,
    Figure,
    PageOne,
    Paragraph,
    Pictures,
    Row,
    Section,
    Table,
)
from eavelight.closeout.figures import draw
from eavelight.closeout.fonts import FAMILY, FAMILY_CODE, font_folder, printable
from eavelight.closeout.readable import each_text
from eavelight.errors import MissingFeatureError

STANDARDS = ["a-3b", "ua-1"]
SUFFIX = {"image/png": "png", "image/jpeg": "jpg"}


def closeout_pdf(document: Document) -> bytes:
    """The document as PDF; the same document gives the same bytes."""
    typst = _typst()
    files = _Files()
    shown: Document = each_text(document, printable)
    data = _document(shown, files)
    files.held["closeout.json"] = json.dumps(data, ensure_ascii=False).encode("utf-8")
    files.held["record"] = document.record
    files.held["main.typ"] = _template()
    with tempfile.TemporaryDirectory(prefix="closeout-") as name:
        root = Path(name)
        for file, content in files.held.items():
            (root / file).write_bytes(content)
        result: bytes = typst.compile(
            root / "main.typ",
            root=root,
            format="pdf",
            font_paths=_fonts(),
            ignore_system_fonts=True,
            pdf_standards=STANDARDS,
            timestamp=int(document.date.timestamp()),
        )
    return result


def _typst() -> Any:
    try:
        import typst
    except ImportError as error:
        raise MissingFeatureError("closeout as PDF", "report", str(error)) from None
    return typst


@cache
def _fonts() -> Any:
    """The fonts of the plotting library and no others; without them, no document.

    The typesetter leaves out text for which it has no font and only warns.
    """
    found = _typst().Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    if lacking := {FAMILY, FAMILY_CODE} - set(found.families()):
        names = ", ".join(sorted(lacking))
        raise MissingFeatureError("closeout as PDF", "report", f"no font {names}")
    return found


@cache
def _template() -> bytes:
    folder = resources.files("eavelight.closeout") / "templates"
    return (folder / "closeout.typ").read_bytes()


@dataclass(slots=True)
class _Files:
    """Files that the typesetter sees, by name."""

    held: dict[str, bytes] = field(default_factory=dict)

    def keep(self, data: bytes, suffix: str) -> str:
        name = f"file-{len(self.held):04d}.{suffix}"
        self.held[name] = data
        return name


def _document(document: Document, files: _Files) -> dict[str, Any]:
    date = document.date.astimezone(UTC)
    parts = ("year", "month", "day", "hour", "minute", "second")
    return {
        "language": document.language,
        "title": document.title,
        "author": document.author,
        "date": {name: getattr(date, name) for name in parts},
        "words": dict(document.words),
        "fonts": {"text": FAMILY, "code": FAMILY_CODE},
        "one": _page_one(document.page_one, files),
        "sections": [_section(section, files) for section in document.sections],
        "record_name": document.record_name,
    }


def _page_one(one: PageOne, files: _Files) -> dict[str, Any]:
    texts = {
        name: getattr(one, name)
        for name in one.__slots__
        if isinstance(getattr(one, name), str)
    }
    parts = ("facts", "open_findings", "exceptions", "level_line", "signatures")
    blocks = {name: getattr(one, name) for name in parts}
    return texts | {
        name: None if block is None else _block(block, files)
        for name, block in blocks.items()
    }


def _section(section: Section, files: _Files) -> dict[str, Any]:
    return {
        "title": section.title,
        "level": section.level,
        "blocks": [_block(block, files) for block in section.blocks],
    }


def _block(block: Block, files: _Files) -> dict[str, Any]:
    if isinstance(block, Paragraph):
        return {"kind": "paragraph", "text": block.text}
    if isinstance(block, Bullets):
        return {"kind": "bullets", "items": block.items, "numbered": block.numbered}
    if isinstance(block, Facts):
        return {"kind": "facts", "pairs": block.pairs}
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Figure):
        name = files.keep(draw(block.drawing), "svg")
        return {
            "kind": "figure",
            "file": name,
            "alt": block.alt,
            "caption": block.caption,
        }
    return _pictures(block, files)


def _pictures(block: Pictures, files: _Files) -> dict[str, Any]:
    return {
        "kind": "pictures",
        "items": [
            {
                "file": files.keep(item.data, SUFFIX[item.media_type]),
                "alt": item.alt,
                "caption": item.caption,
            }
            for item in block.items
        ],
    }


def _table(table: Table) -> dict[str, Any]:
    return {
        "kind": "table",
        "title": table.title,
        "widest": table.widest,
        "columns": [_column(column) for column in table.columns],
        "rows": [_row(row) for row in table.rows],
    }


def _column(column: Column) -> dict[str, Any]:
    return {
        "title": column.title,
        "align": column.align,
        "weight": column.weight,
        "code": column.code,
    }


def _row(row: Row) -> dict[str, Any]:
    return {"cells": row.cells, "mark": row.mark, "notes": row.notes}
