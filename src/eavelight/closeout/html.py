"""The closeout as one self-contained page: no script, nothing fetched."""

import base64
from functools import cache
from importlib import resources
from typing import Any

from eavelight.closeout.document import (
    Block,
    Bullets,
    Document,
    Facts,
    Figure,
    Paragraph,
    Pictures,
    Table,
)
from eavelight.closeout.figures import NARROW_MM, WIDE_MM, draw
from eavelight.errors import MissingFeatureError

KINDS: dict[type[Any], str] = {
    Paragraph: "paragraph",
    Bullets: "bullets",
    Facts: "facts",
    Table: "table",
    Figure: "figure",
    Pictures: "pictures",
}


def closeout_html(document: Document) -> bytes:
    """The page as UTF-8."""
    text: str = _template().render(document=document, one=document.page_one)
    return text.encode("utf-8")


@cache
def _template() -> Any:
    try:
        import jinja2
    except ImportError as error:
        raise MissingFeatureError("closeout as a page", "report", str(error)) from None
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_source),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["kind"] = kind
    environment.filters["data_uri"] = data_uri
    environment.globals["drawn"] = drawn
    return environment.get_template("closeout.html.j2")


def _source(name: str) -> str:
    folder = resources.files("eavelight.closeout") / "templates"
    return (folder / name).read_text(encoding="utf-8")


def kind(block: Block) -> str:
    """The word by which a template knows a block."""
    return KINDS[type(block)]


def data_uri(data: bytes, media_type: str) -> str:
    """Bytes as an address that needs no network."""
    return f"data:{media_type};base64,{base64.b64encode(data).decode('ascii')}"


def drawn(figure: Figure, *, narrow: bool = False) -> bytes:
    """A figure for a wide page or a telephone."""
    return draw(figure.drawing, width_mm=NARROW_MM if narrow else WIDE_MM)
