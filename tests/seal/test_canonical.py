"""Canonical JSON against the examples printed in RFC 8785, and what it refuses."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.seal import canonical, digest, parsed
from eavelight.seal.canonical import _whole

# RFC 8785, appendix B: numbers and how they must be written
NUMBERS = [
    (0.0, "0"), (-0.0, "0"), (5e-324, "5e-324"), (-5e-324, "-5e-324"),
    (1.7976931348623157e308, "1.7976931348623157e+308"),
    (9007199254740992.0, "9007199254740992"),
    (295147905179352830000.0, "295147905179352830000"),
    (9.999999999999997e22, "9.999999999999997e+22"), (1e23, "1e+23"),
    (999999999999999700000.0, "999999999999999700000"), (1e21, "1e+21"),
    (333333333.3333332, "333333333.3333332"), (0.000001, "0.000001"),
]  # fmt: skip


@pytest.mark.parametrize(("value", "text"), NUMBERS)
def test_numbers_are_written_as_the_rfc_prints_them(value, text):
    assert canonical(value).decode() == text


def test_keys_are_sorted_by_utf_16_units_as_the_rfc_shows():
    # RFC 8785, 3.2.3
    value = {
        "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter",
        "1": "One", "\U0001f600": "Emoji", "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }  # fmt: skip
    names = list(parsed(canonical(value).decode()))
    assert names == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@pytest.mark.parametrize("value", [math.nan, math.inf, 2**53, {1, 2}, object()])
def test_what_json_cannot_hold_is_refused(value):
    with pytest.raises(ValueError, match="plain data"):
        canonical({"a": value})


@pytest.mark.parametrize("text", ['{"a": 1}', '{"b":1,"a":2}', '{"a":1.0}', "{"])
def test_json_written_in_another_way_is_refused(text):
    with pytest.raises(ValueError, match="JSON"):
        parsed(text)


def test_one_and_one_point_zero_have_one_digest():
    assert digest({"a": 1}) == digest({"a": 1.0})


plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**50), 2**50)
    | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


@settings(max_examples=50, deadline=None)
@given(plain)
def test_parsing_and_writing_again_gives_the_same_bytes(value):
    first = canonical(value)
    assert canonical(parsed(first.decode())) == first


# signs and numbers at which the fast way and RFC 8785 could part
hard = st.recursive(
    st.integers(-(2**60), 2**60)
    | st.floats(allow_nan=False)
    | st.text(alphabet='"\\\n\t\x00\x1f\x7f/é\u2028\ud7ff\uffff😀e0.1', max_size=6),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.text(alphabet="aé\uffff😀", max_size=2), inner, max_size=3)
    ),
    max_leaves=5,
)


@settings(max_examples=400, deadline=None)
@given(hard)
def test_text_is_taken_exactly_when_it_is_what_rfc_8785_writes(value):
    for sort in (True, False):
        text = json.dumps(
            value, sort_keys=sort, separators=(",", ":"), ensure_ascii=False
        )
        try:
            wanted = canonical(json.loads(text, parse_int=_whole)).decode() == text
        except ValueError:
            wanted = False
        try:
            taken = parsed(text) is not None
        except ValueError:
            taken = False
        assert taken == wanted
