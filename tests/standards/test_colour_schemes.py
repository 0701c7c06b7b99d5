"""Colour schemes as data: complete, distinct, named."""

from eavelight.standards.colour_schemes import (
    colour_scheme,
    colour_schemes,
    colour_swatches,
    strand_mark,
    synonyms,
)


def test_the_five_schemes_of_the_visit_folder_are_there() -> None:
    assert set(colour_schemes()) == {
        "tia-598", "din-vde-0888", "iec-60794-2", "swiss", "france",
    }  # fmt: skip


def test_every_scheme_says_how_well_it_is_known() -> None:
    for scheme in colour_schemes().values():
        assert scheme.confidence in {"second_hand", "recalled"}
        assert scheme.title
        assert scheme.edition


def test_codes_of_a_dozen_are_distinct() -> None:
    for scheme in colour_schemes().values():
        assert len({mark.code for mark in scheme.strands[:12]}) == 12


def test_a_synonym_never_stands_for_two_colours() -> None:
    for word, name in synonyms().items():
        assert synonyms().get(name, name) == name
        assert word == word.lower()


def test_chips_are_chromaticities() -> None:
    for x, y, luminance in colour_swatches().values():
        assert 0 < x < 1
        assert 0 < y < 1
        assert 0 < luminance <= 100


def test_an_own_list_keeps_its_words_and_finds_codes() -> None:
    mine = colour_scheme(["Slate", "olive"])
    assert [mark.colour for mark in mine.strands] == ["slate", "olive"]
    assert [mark.code for mark in mine.strands] == ["GY", "OL"]


def test_a_strand_is_found_by_scheme_and_number() -> None:
    assert strand_mark("france", 2).colour == "blue"
