"""Sentences: complete, well formed, numbers with their unit and minus sign."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from eavelight.model.message import Message
from eavelight.wording import catalogue, quantity, say, with_uncertainty

SOURCE = Path(__file__).parents[2] / "src" / "eavelight"
# requirement ids that assess builds so far, found in its own source
BUILT = sorted(
    {
        name
        for path in (SOURCE / "assess").glob("*.py")
        for name in re.findall(
            r'requirement = "([a-z_.]+)"', path.read_text(encoding="utf-8")
        )
    }
)


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_sentence_renders_with_any_values(name):
    text = say(Message(name, {}))
    assert not re.search(r"[{}\[\]|]", text)


@pytest.mark.parametrize("requirement", BUILT)
def test_every_built_requirement_has_a_sentence_for_pass_and_not_measured(requirement):
    names = set(catalogue())
    for ending in ("pass", "not_measured"):
        found = [n for n in names if n.startswith(f"{requirement}.{ending}")]
        assert found, f"{requirement}.{ending}"


def test_literal_message_ids_exist():
    used = set()
    for path in SOURCE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        used |= set(re.findall(r'Message\(\s*"([a-z_.\- ]+)"', text))
    assert used - set(catalogue()) == set()


def test_unknown_sentence_is_an_error():
    with pytest.raises(KeyError, match=r"no\.such"):
        say(Message("no.such"))


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (-18.69, "dBm", "−18.7 dBm"),
        (0.0, "dB", "0.00 dB"),
        (-0.001, "dB", "0.00 dB"),
        (1.05, "ohm", "1.05 Ω"),
        (0.46, "deg", "0.5°"),
        (None, "V", "unknown"),
        (float("nan"), "V", "unknown"),
    ],
)
def test_number_has_unit_and_true_minus(value, unit, text):
    assert quantity(value, unit) == text


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (-16.86, 0.19, "−16.9 ± 0.4 dBm"),
        (-16.861, 0.012, "−16.86 ± 0.02 dBm"),
        (-16.86, None, "−16.9 dBm"),
    ],
)
def test_digits_follow_the_uncertainty(value, u, text):
    assert with_uncertainty(value, u, "dBm") == text


def test_choice_and_inner_value(monkeypatch):
    message = Message(
        "level.expected.pass",
        {"value": -16.0, "away": 0.4, "expected": -16.4, "plan": -15.0,
         "conditioned": True},
    )  # fmt: skip
    assert "The plan alone said −15.0 dBm" in say(message)


def test_nested_message_and_time_are_rendered():
    inner = Message("record.item.photo_open")
    text = say(Message("record.complete.decide_by", {"missing": (inner,)}))
    assert text == "Add: photo with the lid open."
    late = Message(
        "evidence.order.fail.ended",
        {"started": datetime(2026, 4, 1, 9, tzinfo=UTC), "ended": None},
    )
    assert "2026-04-01 09:00" in say(late)
