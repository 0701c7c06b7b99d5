"""The one font of printed documents and figures, and what it can show.

DejaVu Sans comes with the plotting library, so that every machine has the same.
"""

from functools import cache
from pathlib import Path

from eavelight.closeout.readable import numbered
from eavelight.errors import MissingFeatureError

FAMILY, FAMILY_CODE = "DejaVu Sans", "DejaVu Sans Mono"
FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")


def font_folder() -> Path:
    """Where the font files lie."""
    try:
        import matplotlib
    except ImportError as error:
        raise MissingFeatureError("fonts", "report", str(error)) from None
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def shown_signs() -> frozenset[int]:
    """Code points that both weights of the font can show."""
    from matplotlib.ft2font import FT2Font

    maps = [set(FT2Font(str(font_folder() / name)).get_charmap()) for name in FILES]
    return frozenset(set.intersection(*maps))


def printable(text: str) -> str:
    """The text with signs that the font lacks shown by number.

    A document that is kept for decades must not show an empty box for a sign.
    """
    signs = shown_signs()
    if all(ord(sign) in signs for sign in text):
        return text
    return "".join(sign if ord(sign) in signs else numbered(sign) for sign in text)
