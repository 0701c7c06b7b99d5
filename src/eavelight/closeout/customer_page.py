"""The customer sheet as a page on paper and on a screen, from the same content."""

import dataclasses
import json
from datetime import UTC
from functools import cache
from importlib import resources
from typing import Any

from eavelight.closeout.customer import CustomerSheet
from eavelight.closeout.fonts import FAMILY, font_folder, printable
from eavelight.closeout.readable import each_text
from eavelight.errors import MissingFeatureError

STANDARDS = ["a-3b", "ua-1"]
DATE_PARTS = ("year", "month", "day", "hour", "minute", "second")


def customer_pdf(sheet: CustomerSheet) -> bytes:
    """The sheet on one page; the same sheet gives the same bytes."""
    typst = _typst()
    shown: CustomerSheet = each_text(sheet, printable)
    files = {
        "sheet.json": json.dumps(_data(shown), ensure_ascii=False).encode("utf-8"),
        "main.typ": _source("customer.typ").encode("utf-8"),
    }
    result: bytes = typst.compile(
        files,
        format="pdf",
        font_paths=_fonts(),
        ignore_system_fonts=True,
        pdf_standards=STANDARDS,
        timestamp=int(sheet.date.timestamp()),
    )
    return result


def _typst() -> Any:
    try:
        import typst
    except ImportError as error:
        raise MissingFeatureError("customer sheet", "report", str(error)) from None
    return typst


@cache
def _fonts() -> Any:
    """The one font of printed documents; without it no page, for text would vanish."""
    found = _typst().Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(font_folder())],
    )
    if FAMILY not in found.families():
        raise MissingFeatureError("customer sheet", "report", f"no font {FAMILY}")
    return found


def customer_html(sheet: CustomerSheet) -> bytes:
    """The sheet as a self-contained page: no script, nothing fetched."""
    text: str = _template().render(sheet=sheet, longest=longest_h(sheet))
    return text.encode("utf-8")


def longest_h(sheet: CustomerSheet) -> float:
    """Right end of the hours, for drawing."""
    return max([bar.high_h for bar in sheet.bars], default=1.0) or 1.0


def _data(sheet: CustomerSheet) -> dict[str, Any]:
    data = dataclasses.asdict(sheet)
    when = sheet.date.astimezone(UTC)
    data["date"] = {name: getattr(when, name) for name in DATE_PARTS}
    return data | {"longest": longest_h(sheet), "font": FAMILY}


def _source(name: str) -> str:
    folder = resources.files("eavelight.closeout") / "templates"
    return (folder / name).read_text(encoding="utf-8")


@cache
def _template() -> Any:
    try:
        import jinja2
    except ImportError as error:
        raise MissingFeatureError("customer sheet", "report", str(error)) from None
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_source),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("customer.html.j2")
