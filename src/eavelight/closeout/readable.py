"""Texts that other people wrote, made harmless to read.

Characters that steer the page instead of standing on it (controls, overrides of the
reading direction, invisible separators) are shown by their number, and no more than
four marks are stacked on one letter. The attached record keeps every byte.
"""

import dataclasses
import re
import unicodedata
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

T = TypeVar("T")

SPACES = {"\t", "\n", "\r"}
KEPT = {"\u200c", "\u200d", "\ufe0f", "\ufe0e"}
MOST_COMBINING = 4
QUANTITY = re.compile(r"(\d) (dBm|dB|nm|Ω|MΩ|V|W|A|m|km|mm|°C|K|s|min|bytes)\b")


def visible(text: str) -> str:
    r"""The text with steering characters shown by number and whitespace joined.

    >>> visible("left\u202eright")
    'left[U+202E]right'
    """
    out: list[str] = []
    stacked = 0
    for sign in text:
        category = unicodedata.category(sign)
        stacked = stacked + 1 if category in {"Mn", "Me"} else 0
        if stacked > MOST_COMBINING:
            continue
        if sign in SPACES:
            out.append(" ")
        elif sign in KEPT or category not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}:
            out.append(sign)
        else:
            out.append(numbered(sign))
    return "".join(out)


def numbered(sign: str) -> str:
    """A character by its number."""
    return f"[U+{ord(sign):04X}]"


def together(text: str) -> str:
    """The text with every number kept on one line with its unit.

    >>> together("at most 1.00 dB") == "at most 1.00\u00a0dB"
    True
    """
    return QUANTITY.sub("\\1\u00a0\\2", text)


def readable(document: T) -> T:
    """The document with every text made visible and numbers beside their units."""
    found: T = each_text(document, lambda text: together(visible(text)))
    return found


def each_text(thing: Any, change: Callable[[str], str]) -> Any:
    """A copy with `change` done to every text; bytes and numbers stay as they are."""
    if isinstance(thing, str):
        return change(thing)
    if isinstance(thing, tuple):
        return tuple(each_text(item, change) for item in thing)
    if isinstance(thing, Mapping):
        return {key: each_text(item, change) for key, item in thing.items()}
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        names = [item.name for item in dataclasses.fields(thing)]
        return dataclasses.replace(
            thing, **{name: each_text(getattr(thing, name), change) for name in names}
        )
    return thing
