"""Figures under each other on one page, each with its caption, as SVG, PDF or PNG."""

import re
import tempfile
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast

from eavelight.closeout.figures.style import FONT_PT, POINTS_PER_MM, figure, svg
from eavelight.errors import MissingFeatureError

AROUND_PT, BETWEEN_PT = 14.0, 10.0
LINE_MM, MM_PER_SIGN = 5.0, 1.95
PIXELS_PER_INCH = 150
MAIN = """#set page(width: auto, height: auto, margin: 0pt)
#set document(date: none)
#image("page.svg")
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Captioned:
    """One drawn figure and the words over it."""

    svg: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class _Placed:
    body: str
    width: float
    height: float
    box: str


def figure_page(figures: list[Captioned], *, suffix: str) -> bytes:
    """All figures in one file; the suffix is .svg, .pdf or .png."""
    page = stacked(figures)
    return page if suffix == ".svg" else _typeset(page, suffix.removeprefix("."))


def stacked(figures: list[Captioned]) -> bytes:
    """All figures under each other in one SVG, at their own sizes."""
    placed = []
    for item in figures:
        body = _opened(item.svg)
        placed += [_opened(_caption(item.caption, body.width / POINTS_PER_MM)), body]
    width = max(item.width for item in placed) + 2 * AROUND_PT
    parts, y = [], AROUND_PT
    for number, piece in enumerate(placed):
        parts.append(
            f'<svg x="{AROUND_PT:g}" y="{y:g}" width="{piece.width:g}" '
            f'height="{piece.height:g}" viewBox="{piece.box}">{piece.body}'
        )
        y += piece.height + (BETWEEN_PT if number % 2 else 0.0)
    height = y + AROUND_PT - BETWEEN_PT
    head = (
        '<?xml version="1.0" encoding="utf-8"?>\n'
        '<svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" version="1.1" '
        f'width="{width:g}pt" height="{height:g}pt" viewBox="0 0 {width:g} {height:g}">'
        '<rect width="100%" height="100%" fill="white"/>'
    )
    return (head + "\n".join(parts) + "</svg>\n").encode("utf-8")


def _opened(data: bytes) -> _Placed:
    """A drawn SVG without its head: size, box, and the rest with the closing tag."""
    text = data.decode("utf-8")
    start = text.index("<svg")
    end = text.index(">", start)
    head = text[start:end]

    def value(name: str) -> str:
        found = re.search(rf'\b{name}="([^"]*)"', head)
        if found is None:
            raise ValueError(f"svg: no {name} in its head")
        return found[1]

    return _Placed(
        body=text[end + 1 :].strip(),
        width=float(value("width").removesuffix("pt")),
        height=float(value("height").removesuffix("pt")),
        box=value("viewBox"),
    )


def _caption(text: str, width_mm: float) -> bytes:
    """Words as outlines, so that they look the same wherever they are shown."""
    lines = textwrap.wrap(text, max(20, int(width_mm / MM_PER_SIGN))) or [""]
    with figure(width_mm=width_mm, height_mm=LINE_MM * len(lines) + 2.0) as (
        drawn,
        axes,
    ):
        axes.set_axis_off()
        drawn.text(0.0, 1.0, "\n".join(lines), va="top", fontsize=FONT_PT)
        return svg(drawn)


def _typeset(page: bytes, form: str) -> bytes:
    try:
        import typst
    except ImportError as error:
        raise MissingFeatureError(
            f"figures as {form.upper()}", "report", str(error)
        ) from None
    more: dict[str, Any] = {"ppi": PIXELS_PER_INCH} if form == "png" else {}
    with tempfile.TemporaryDirectory(prefix="figures-") as name:
        root = Path(name)
        (root / "page.svg").write_bytes(page)
        (root / "main.typ").write_text(MAIN, encoding="utf-8")
        made = typst.compile(
            root / "main.typ",
            root=root,
            format=cast("Literal['pdf', 'png']", form),
            ignore_system_fonts=True,
            **more,
        )
    data: bytes = made[0] if isinstance(made, list) else made
    return data
