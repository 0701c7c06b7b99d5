"""Texts in the record are other people's: they may say anything and steer nothing."""

import io

import pytest
from pypdf import PdfReader

from eavelight.closeout.readable import visible

HOSTILE = [
    '#panic("x") *bold* _it_ $x^2$ [link](y) @ref <label> \\ // /* `raw`',
    "</td></table><script>alert(1)</script><img src=x onerror=alert(1)>",
    "{{ 7*7 }} {% raw %} ${7*7} %s {0}",
    "W" * 400,
    "🧯🔥 👩🏽‍🔧 שלום עולם مرحبا بالعالم 日本語 ไทย",
    "left\u202eright \u2066x \u0000 \u0007 \u200b \ufeff \ue000 \U000e0041",
    "Z" + "\u0301" * 300 + "algo",
    "'\"\"\"'''; --  & &amp; <!-- --> ]]> \u2028 \u2029",
    "$\\frac{1}{$ \\unknown{ ^_{}",
]


def toml(text: str) -> str:
    """The text as a TOML string."""
    out = []
    for sign in text:
        escaped = sign in '"\\' or not sign.isprintable()
        out.append(f"\\U{ord(sign):08x}" if escaped else sign)
    return '"' + "".join(out) + '"'


def poisoned(folder, text):
    """The same text everywhere a person may write one."""
    file = folder / "visit.toml"
    # files are other tests' matter; without them a document is made sooner
    record = file.read_text(encoding="utf-8").partition("[[evidence]]")[0]
    words = toml(text)
    for plain in ('"heron-1"', '"t44"', '"S-7001"', '"drop cable"', '"pigtail splice"',
                  '"INVT00007001"', '"V-incomplete"'):  # fmt: skip
        assert plain in record
        # parts need names of their own
        own = text + " 2" if plain == '"pigtail splice"' else text
        if plain == '"V-incomplete"':
            own = own.translate(dict.fromkeys(map(ord, "/\\\0")))
        record = record.replace(plain, toml(own))
    record += f"""
[[reading]]
id = {words}
what = "note"
at = "box"
value = {words}
time = 2026-04-02T10:00:00+02:00
tool = {words}
[[exception]]
what = "close"
at = "box"
reason = {words}
accepted_by = {words}
"""
    file.write_text(record, encoding="utf-8")
    return folder


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_is_shown_and_does_nothing(visit, rendered, text):
    found = rendered(poisoned(visit("incomplete"), text))
    one = found.document.page_one
    first = PdfReader(io.BytesIO(found.pdf)).pages[0].extract_text()
    for needed in (one.state_word, one.record_sha256, "not signed", "Exceptions"):
        assert needed in first
    assert "<script>" not in found.html
    assert "<img src=x" not in found.html
    assert "49" not in one.heading


def test_page_one_stays_one_page_with_many_long_exceptions(visit, rendered):
    reason = "because " * 60
    more = "".join(
        f'[[exception]]\nwhat = "close"\nat = "box"\nreason = "{number} {reason}"\n'
        for number in range(12)
    )
    found = rendered(visit("bend", more=more))
    pages = PdfReader(io.BytesIO(found.pdf)).pages
    first, second = pages[0].extract_text(), pages[1].extract_text()
    assert found.document.page_one.record_sha256 in first
    assert "Signatures" in first
    assert "What to do next" in second
    whole = next(s for s in found.document.sections if s.title == "Exceptions")
    assert len(whole.blocks[0].rows) == 12
    assert whole.blocks[0].rows[-1].cells[2].startswith("11 because")


def test_steering_characters_are_shown_by_number():
    assert visible("a\u202eb\u0000") == "a[U+202E]b[U+0000]"


def test_ordinary_words_of_any_script_stay_as_they_are():
    text = "Größe señal żółć Ελλάδα שלום 日本"
    assert visible(text) == text


def test_markup_of_the_typesetter_is_text(visit, rendered):
    found = rendered(poisoned(visit("incomplete"), "#pagebreak() *x*"))
    text = PdfReader(io.BytesIO(found.pdf)).pages[0].extract_text()
    assert "#pagebreak() *x*" in text.replace("\xa0", " ")
