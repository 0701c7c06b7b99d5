"""The document is plain data, and each of its fields says what it is."""

import dataclasses
import inspect
from pathlib import Path
from typing import get_type_hints

from eavelight.closeout import document
from eavelight.closeout.features import REPORT_FEATURES, ReportFeature
from eavelight.model.message import Message
from eavelight.wording import say

PAGE = Path(__file__).parents[2] / "docs" / "closeout" / "document.md"
KINDS = [
    kind
    for _, kind in inspect.getmembers(document, inspect.isclass)
    if kind.__module__ == document.__name__ and dataclasses.is_dataclass(kind)
]


def test_every_field_has_a_help_text():
    assert len(KINDS) > 8
    for kind in KINDS:
        hints = get_type_hints(kind, include_extras=True)
        for item in dataclasses.fields(kind):
            assert hints[item.name].__metadata__[0].strip()


def test_every_field_of_page_one_is_in_the_docs():
    text = PAGE.read_text(encoding="utf-8")
    for kind in (document.PageOne, document.Document):
        for item in dataclasses.fields(kind):
            assert f"`{item.name}`" in text


def test_features_name_the_libraries_that_they_lack():
    assert all(feature.missing() == () for feature in REPORT_FEATURES)
    absent = ReportFeature(
        name=Message("closeout.doctor.pdf"), needs=("a_library_nobody_has",)
    )
    assert absent.missing() == ("a_library_nobody_has",)
    assert say(absent.name) == "closeout as PDF"
