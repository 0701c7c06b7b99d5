"""One way to write a value, so that one value has one digest (RFC 8785)."""

import hashlib
import json
from typing import Any

import rfc8785


def canonical(value: Any) -> bytes:
    """The canonical JSON of plain data.

    Refuses what JSON cannot hold: numbers that are not finite, whole numbers beyond
    2^53 - 1, anything that is not plain data.

    >>> canonical({"b": 1.0, "a": "é"}).decode()
    '{"a":"é","b":1}'
    """
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, RecursionError) as error:
        raise ValueError(f"value must be plain data, got {error}") from None


def digest(value: Any) -> str:
    """SHA-256 of the canonical JSON, in hexadecimal.

    >>> digest({})[:8]
    '44136fa3'
    """
    return hashlib.sha256(canonical(value)).hexdigest()


def _whole(text: str) -> int | float:
    """A whole number; beyond 2^53 it was a float whose canonical form has no point."""
    value = int(text)
    return value if abs(value) < 2**53 else float(value)


def parsed(text: str) -> Any:
    """Plain data from JSON that must be canonical to the last byte.

    Raises
    ------
    ValueError
        If the text is no JSON, or JSON written in another way.
    """
    try:
        value = json.loads(text, parse_int=_whole)
    except (ValueError, OverflowError, RecursionError) as error:
        raise ValueError(f"text must be JSON: {error}") from None
    if canonical(value) != text.encode("utf-8", "surrogatepass"):
        raise ValueError("text must be canonical JSON")
    return value
