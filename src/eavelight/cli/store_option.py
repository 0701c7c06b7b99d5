"""The option that names a store, the same for every command."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def store_option(command: F) -> F:
    """Add `--store URL` to a command."""
    return click.option(
        "--store",
        metavar="URL",
        help="The store: a file, sqlite:///FILE or postgresql+psycopg://HOST/NAME;"
        " else EAVELIGHT_STORE, else the file in your data folder.",
    )(command)
