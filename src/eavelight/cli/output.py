"""Printing for people and for scripts."""

import json
from typing import Any

import click


def print_json(data: Any) -> None:
    """JSON on stdout: plain numbers, no NaN, text as it is."""
    click.echo(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False))
