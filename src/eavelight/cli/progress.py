"""Progress of long work: on stderr, and only where somebody is watching."""

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")


def steps(items: Iterable[T], *, total: int | None, label: str) -> Iterator[T]:
    """The items, with a bar while they are worked on."""
    if not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    yield from track(
        items, total=total, description=label, console=console, transient=True
    )
