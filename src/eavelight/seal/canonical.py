"""One way to write a value, so that one value has one digest (RFC 8785)."""

import hashlib
import json
import re
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


# Where Python writes a number or orders names in another way than RFC 8785 does.
_WRITTEN_OTHERWISE = re.compile(r"[0-9][eE]|\.0(?![0-9])|[0-9]{16}|NaN|Infinity")
_FIRST_SURROGATE = "\ud800"


def _plainly_canonical(value: Any, text: str) -> bool:
    """Whether a text is canonical beyond doubt; false decides nothing.

    For text without the numbers above and without signs outside the basic plane, the
    fast writer of the standard library and RFC 8785 agree to the last byte.
    """
    if _WRITTEN_OTHERWISE.search(text) or max(text, default="") >= _FIRST_SURROGATE:
        return False
    plain = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return plain == text


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
    if _plainly_canonical(value, text):
        return value
    if canonical(value) != text.encode("utf-8", "surrogatepass"):
        raise ValueError("text must be canonical JSON")
    return value
