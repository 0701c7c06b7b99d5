"""Other languages: every sentence of English, with the same values in it."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import material_of
from eavelight.closeout import customer_pdf, customer_sheet
from eavelight.demo.crew import SCENARIOS, build_visit
from eavelight.model.message import Message
from eavelight.wording import catalogue, languages, say
from eavelight.wording.catalogue import FIELD, INNER

OTHERS = [name for name in languages() if name != "en"]
SENTENCES = [(name, id) for name in OTHERS for id in sorted(catalogue("en"))]


def fields(text):
    """Each value of a sentence with its unit, and the branch that it stands in."""
    found = set()
    for name, yes, no, unit in FIELD.findall(text):
        if not (yes or no):
            found.add((name, unit, ""))
            continue
        found.add((name, "", "choice"))
        for branch, part in (("yes", yes), ("no", no)):
            found |= {(inner, unit, branch) for inner, unit in INNER.findall(part)}
    return found


def plausible(text):
    """Values of the kind that each field of a sentence asks for."""
    values = {}
    for name, unit, _ in fields(text):
        values[name] = 1.5 if unit else f"invented {name}"
    return values


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_is_missing_and_none_is_left_over(language):
    assert set(catalogue(language)) == set(catalogue("en"))


@pytest.mark.parametrize(("language", "id"), SENTENCES)
def test_a_sentence_carries_the_same_values_in_every_language(language, id):
    assert fields(catalogue(language)[id]) == fields(catalogue("en")[id])


@pytest.mark.parametrize(("language", "id"), SENTENCES)
def test_a_sentence_is_told_with_plausible_values(language, id):
    english = catalogue("en")[id]
    values = plausible(english)
    choices = {name for name, _, kind in fields(english) if kind == "choice"}
    for chosen in (values, values | dict.fromkeys(choices)):
        text = say(Message(id, chosen), language)
        assert not re.search(r"[{}\[\]|]", text)
        for name, unit, branch in fields(english):
            if not branch and not unit:
                assert f"invented {name}" in text


@pytest.mark.parametrize("language", OTHERS)
def test_messages_lists_and_times_inside_a_sentence_are_told_too(language):
    inner = Message("record.item.photo_open")
    told = say(Message("record.complete.decide_by", {"missing": (inner,)}), language)
    assert say(inner, language) in told
    late = Message(
        "evidence.order.fail.ended",
        {"started": datetime(2026, 4, 1, 9, tzinfo=UTC), "ended": None},
    )
    assert "2026-04-01 09:00" in say(late, language)


@pytest.mark.parametrize("language", OTHERS)
def test_the_customer_sheet_of_an_unfinished_house_is_still_one_page(
    tmp_path, language
):
    pytest.importorskip("typst")
    scenario = next(item for item in SCENARIOS if item.number == 2)
    found = assess_visit(str(build_visit(scenario, tmp_path)), alone=True)
    sheet = customer_sheet(replace(material_of(found), language=language))
    assert sheet.unfinished
    assert sheet.bars
    assert len(re.findall(rb"/Type ?/Page\b", customer_pdf(sheet))) == 1
