"""Collecting mistakes, and naming the nearest known word for each."""

import difflib
from collections.abc import Iterable
from typing import Any

from eavelight.errors import Mistake


def shown(value: Any) -> str:
    """A found value as it may stand in a message: short, on one line."""
    text = repr(value) if isinstance(value, str) else str(value)
    text = text.replace("\n", " ")
    return text if len(text) <= 60 else text[:57] + "..."


def nearest(word: str, known: Iterable[str]) -> str:
    """Advice that names the nearest known word, or lists the known ones."""
    names = sorted(set(known))
    close = difflib.get_close_matches(word, names, n=1, cutoff=0.5)
    if close:
        return f"nearest known name: {close[0]}"
    if not names:
        return "remove it"
    listed = ", ".join(names[:24]) + (", ..." if len(names) > 24 else "")
    return f"known: {listed}"


class Mistakes:
    """The mistakes of one file, in the order in which they were met."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.found: list[Mistake] = []

    def add(
        self, place: str, *, expected: str, found: Any, advice: str = "correct it"
    ) -> None:
        """Note one mistake; `found` is shown shortened."""
        self.found.append(
            Mistake(
                file=self.file,
                place=place,
                expected=expected,
                found=found if isinstance(found, _Nothing) else shown(found),
                advice=advice,
            )
        )

    def unknown(self, place: str, word: str, known: Iterable[str]) -> None:
        """Note a key or name that is not known, with the nearest known one."""
        self.add(
            place, expected="a known name", found=word, advice=nearest(word, known)
        )


class _Nothing(str):
    """Printed bare: there is no value to quote."""


NOTHING = _Nothing("nothing")
