"""Clauses are read strictly, and what is uncertain never becomes a limit."""

import hashlib
from pathlib import Path

import pytest

from eavelight.errors import EvidenceError
from eavelight.standards.clauses import (
    BOUNDS,
    CONFIDENCE,
    UNITS,
    by_id,
    clause,
    data_files,
    load_clauses,
    parse_clauses,
    weakest,
)
from eavelight.standards.profiles import load_profile

GOOD = """
document = "DEMO 1"
edition = "2020"
[[clause]]
id = "demo_1.splice_loss"
where = "6.2, table 3"
quantity = "insertion loss of one fusion splice"
value = 0.1
unit = "dB"
bound = "max"
confidence = "recalled"
"""


def test_a_clause_carries_its_document_and_the_hash_of_its_file() -> None:
    (item,) = parse_clauses(GOOD, file="demo.toml")
    assert (item.document, item.edition, item.value) == ("DEMO 1", "2020", 0.1)
    assert item.file_sha256 == hashlib.sha256(GOOD.encode()).hexdigest()


def test_only_a_number_that_was_seen_is_not_provisional() -> None:
    (recalled,) = parse_clauses(GOOD, file="demo.toml")
    (seen,) = parse_clauses(GOOD.replace("recalled", "seen"), file="demo.toml")
    assert recalled.provisional
    assert not seen.provisional


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("unit =", "unitt =", "did you mean 'unit'"),
        ('"dB"', '"db"', "did you mean 'dB'"),
        ('"max"', '"most"', "bound"),
        ('"recalled"', '"recaled"', "did you mean 'recalled'"),
        ("0.1", "nan", "finite"),
        ("0.1", "true", "a number"),
        ("0.1", '"0.1"', "a number"),
        ('value = 0.1\n', "", "a key 'value'"),
        ('edition = "2020"\n', "", "a key 'edition'"),
        ('"6.2, table 3"', '""', "a text"),
        ('"recalled"', '"uncertain"', "an uncertain number is never a limit"),
        ('value = 0.1', "value = ", "valid TOML"),
        ('edition = "2020"', 'edition = "2020"\ncolour = "red"', "top level"),
    ],
)  # fmt: skip
def test_a_wrong_clause_is_refused_with_advice(old: str, new: str, said: str) -> None:
    with pytest.raises(EvidenceError, match=said):
        parse_clauses(GOOD.replace(old, new), file="demo.toml")


def test_an_uncertain_number_may_be_stored_as_nominal() -> None:
    text = GOOD.replace("recalled", "uncertain").replace('"max"', '"nominal"')
    assert parse_clauses(text, file="demo.toml")[0].confidence == "uncertain"


def test_a_doubled_id_is_refused() -> None:
    twice = parse_clauses(GOOD, file="a.toml") + parse_clauses(GOOD, file="b.toml")
    with pytest.raises(EvidenceError, match=r"used once.*a\.toml"):
        by_id(twice)


def test_the_shipped_clauses_are_sound() -> None:
    for item in load_clauses().values():
        assert item.unit in UNITS
        assert item.bound in BOUNDS
        assert item.confidence in CONFIDENCE
        assert item.confidence != "uncertain" or item.bound == "nominal"


def test_an_unknown_id_names_the_nearest() -> None:
    with pytest.raises(ValueError, match=r"eavelight_default\.loss_drop"):
        clause("eavelight_default.loss_drp")


def test_what_follows_from_several_is_as_weak_as_the_weakest() -> None:
    assert weakest(["seen", "common_practice", "second_hand"]) == "common_practice"


def test_each_clause_is_chosen_or_says_why_not() -> None:
    chosen = {item.id for item in load_profile().clauses()}
    idle = {
        item.id
        for item in load_clauses().values()
        if item.id not in chosen and item.unused is None
    }
    assert not idle, "put it into data/profiles/default/*.toml or write `unused`"


def test_each_clause_stands_in_the_documentation() -> None:
    pages = "\n".join(
        path.read_text(encoding="utf-8")
        for path in (Path(__file__).parents[2] / "docs" / "standards").glob("*.md")
    )
    absent = [id_ for id_ in load_clauses() if f"`{id_}`" not in pages]
    assert not absent, "run: python -m tools.clause_table"


def test_the_data_folder_is_found_as_a_package_resource() -> None:
    assert "eavelight_default_2026_1.toml" in dict(data_files())
