"""Reads a catalogue and puts values into its sentences.

In a sentence, `{name:unit}` is a number with its unit, `{name:+unit}` the same with
its sign, `{name}` a word or list, `{name?yes|no}` a choice by truth whose branches
may hold `[name:unit]`.
"""

import re
import tomllib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

from eavelight.model.message import Message
from eavelight.wording.numbers import clock, quantity

FIELD = re.compile(r"\{(\w+)(?:\?([^|{}]*)\|([^{}]*)|:([^{}]+))?\}")
INNER = re.compile(r"\[(\w+)(?::([^\[\]]+))?\]")


def languages() -> tuple[str, ...]:
    """Languages that have a catalogue."""
    return tuple(sorted({name.partition("_")[0] for name in _files()}))


def _files() -> dict[str, Traversable]:
    """Catalogue files by their stem: `en`, and `en_closeout` for one room's own."""
    root = resources.files("eavelight.wording")
    found = {
        item.name.removesuffix(".toml"): item
        for item in root.iterdir()
        if item.name.endswith(".toml")
    }
    return dict(sorted(found.items()))


@cache
def catalogue(language: str = "en") -> Mapping[str, str]:
    """Every sentence of a language by its id, from all of its files."""
    found: dict[str, str] = {}
    for name, file in _files().items():
        if name.partition("_")[0] != language:
            continue
        part: dict[str, str] = {}
        _flatten(tomllib.loads(file.read_text(encoding="utf-8")), "", part)
        if doubled := sorted(found.keys() & part.keys()):
            raise ValueError(f"{name}.toml: sentences told twice: {', '.join(doubled)}")
        found |= part
    return found


def _flatten(table: Mapping[str, Any], prefix: str, found: dict[str, str]) -> None:
    for key, value in table.items():
        name = f"{prefix}.{key}" if prefix else key
        if isinstance(value, dict):
            _flatten(value, name, found)
        else:
            found[name.removesuffix("._")] = value


def say(message: Message, language: str = "en") -> str:
    """The sentence of a message.

    >>> say(Message("caution.ladder"))[:6]
    'Ladder'
    """
    text = catalogue(language).get(message.id)
    if text is None:
        raise KeyError(f"no sentence {message.id!r} in the {language} catalogue")
    values = message.values

    def choice(match: re.Match[str]) -> str:
        name, yes, no, unit = match.groups()
        if yes is None:
            return _value(values.get(name), unit, language)
        branch = yes if values.get(name) else no
        return INNER.sub(
            lambda inner: _value(values.get(inner[1]), inner[2], language), branch
        )

    return " ".join(FIELD.sub(choice, text).split())


def _value(value: Any, unit: str | None, language: str) -> str:
    if isinstance(value, Message):
        return say(value, language)
    if isinstance(value, tuple | list):
        texts = [_value(item, unit, language) for item in value]
        sentences = all(text.endswith(".") for text in texts)
        return (" " if sentences else ", ").join(texts)
    if isinstance(value, datetime):
        return clock(value)
    if unit is not None and (value is None or isinstance(value, int | float)):
        signed = unit.startswith("+")
        return quantity(value, unit.removeprefix("+"), signed=signed)
    if isinstance(value, float):
        return f"{value:g}"
    return "unknown" if value is None else str(value)
