"""Texts without a declared encoding are made readable."""

import pytest

from eavelight.trace.codec.text import readable_text


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        ("plain", "ascii"),
        ("écart à 3 km", "utf-8"),
        ("écart à 3 km", "cp1252"),
        ("полная линия", "utf-8"),
        ("полная линия", "cp1251"),
        ("光纤测试", "gbk"),
    ],
)
def test_common_encodings_are_told_apart(text: str, encoding: str) -> None:
    assert readable_text(text.encode(encoding)) == text


def test_no_bytes_make_it_fail() -> None:
    for first in range(256):
        for second in range(256):
            assert isinstance(readable_text(bytes([first, second])), str)


def test_a_blank_is_an_empty_text() -> None:
    assert readable_text(b" ") == ""
