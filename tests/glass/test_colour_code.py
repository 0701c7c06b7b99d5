"""Fibre identity: schemes disagree by design, so every answer names its scheme."""

import pytest

from eavelight.glass.colour_code import (
    colour_agreement,
    fibre_identity,
    fibre_numbers,
    own_scheme,
    position_in_cable,
    tube_and_fibre,
)
from eavelight.standards.colour_schemes import colour_scheme, colour_schemes, synonyms

SCHEMES = colour_schemes()
TIA = SCHEMES["tia-598"]
DIN = SCHEMES["din-vde-0888"]
ALL = list(SCHEMES.values())


@pytest.mark.parametrize("name", SCHEMES)
def test_number_colour_and_code_of_a_dozen_translate_both_ways(name: str) -> None:
    scheme = SCHEMES[name]
    for mark in scheme.strands[:12]:
        assert fibre_numbers(scheme, mark.colour, tracer="none") == (mark.number,)
        assert fibre_numbers(scheme, mark.code, tracer="none") == (mark.number,)
    assert len({scheme.canonical(mark.colour) for mark in scheme.strands[:12]}) == 12


@pytest.mark.parametrize("name", SCHEMES)
def test_no_two_strands_look_the_same(name: str) -> None:
    marks = [(mark.colour, mark.tracer, mark.tracers) for mark in SCHEMES[name].strands]
    assert len(set(marks)) == len(marks)


def test_number_one_is_blue_or_red_by_scheme() -> None:
    assert [scheme.strand(1).colour for scheme in ALL] == [
        "blue", "red", "blue", "red", "red",
    ]  # fmt: skip


def test_black_never_carries_a_black_tracer() -> None:
    for scheme in ALL:
        assert not [m for m in scheme.strands if m.colour == m.tracer]


def test_second_round_of_a_black_fibre_is_yellow_in_one_scheme_clear_in_another() -> (
    None
):
    assert TIA.strand(20).full_code == "BK/YL"
    assert TIA.strand(32).full_code == "BK/YL/YL"
    assert DIN.strand(22).full_name == "transparent/black"


def test_a_number_beyond_the_scheme_is_refused_with_scheme_and_value() -> None:
    with pytest.raises(ValueError, match="1 to 12 in scheme swiss, got 13"):
        SCHEMES["swiss"].strand(13)


def test_seen_colour_that_fits_agrees_by_name_synonym_and_code() -> None:
    for word in ("slate", "Grey", "gray", "SL"):
        assert colour_agreement(TIA, word, 5).agrees is True
    assert colour_agreement(TIA, "turquoise", 12).agrees is True


def test_disagreement_names_the_schemes_under_which_it_would_agree() -> None:
    answer = colour_agreement(TIA, "red", 1, others=ALL)
    assert answer.agrees is False
    assert answer.agrees_under == ("din-vde-0888", "swiss", "france")
    assert answer.numbers_of_seen[0] == 7


def test_agreement_looks_for_no_other_scheme() -> None:
    assert colour_agreement(DIN, "red", 1, others=ALL).agrees_under == ()


def test_a_tracer_nobody_looked_for_leaves_it_open() -> None:
    assert colour_agreement(TIA, "blue", 13).agrees is None
    assert colour_agreement(TIA, "blue", 13, tracer="black").agrees is True
    assert colour_agreement(TIA, "blue", 13, tracer="none").agrees is False
    assert colour_agreement(TIA, "blue/black", 13).agrees is True
    assert colour_agreement(TIA, "blue", 1).agrees is True
    assert colour_agreement(TIA, "blue", 1, tracer="black").agrees is False


def test_one_or_two_tracers_are_told_apart_only_when_counted() -> None:
    assert colour_agreement(TIA, "blue", 25, tracer="black").agrees is None
    assert colour_agreement(TIA, "blue", 25, tracer="double black").agrees is True
    assert colour_agreement(TIA, "blue", 13, tracer="black black").agrees is False


def test_a_word_that_is_no_colour_is_told() -> None:
    answer = colour_agreement(TIA, "blurple", 1, others=ALL)
    assert answer.agrees is False
    assert not answer.known_colour


def test_short_code_means_what_its_own_scheme_says() -> None:
    assert TIA.canonical("GR") == "green"
    assert DIN.canonical("GN") == "green"


def test_identity_names_tube_fibre_code_and_position() -> None:
    found = fibre_identity(TIA, 2, 13, fibres_per_tube=24)
    assert (found.tube_colour, found.fibre_colour) == ("orange", "blue/black")
    assert (found.code, found.position) == ("OR-BL/BK", 37)


def test_tubes_counted_from_red_to_green_have_white_ones_after() -> None:
    colours = [fibre_identity(DIN, tube, 1).tube_colour for tube in (1, 2, 3, 9)]
    assert colours == ["red", "green", "white", "white"]


def test_a_scheme_without_tube_colours_states_none() -> None:
    found = fibre_identity(SCHEMES["swiss"], 3, 1)
    assert found.tube_colour is None
    assert found.code == "3-RD"


def test_position_and_tube_translate_both_ways() -> None:
    for position in range(1, 145):
        tube, fibre = tube_and_fibre(position, fibres_per_tube=12)
        assert position_in_cable(tube, fibre, fibres_per_tube=12) == position


def test_own_list_is_used_in_its_order() -> None:
    mine = colour_scheme(["Green", "yellow", "white", "white/black"])
    assert fibre_numbers(mine, "yellow") == (2,)
    assert mine.strand(4).full_code == "WH/BK"
    assert colour_agreement(mine, "green", 2, others=ALL).agrees is False


def test_own_list_with_the_same_colour_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="must all differ"):
        own_scheme(["grey", "slate"], synonyms=synonyms())


def test_an_unknown_scheme_names_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"tia-598.*got 'rainbow'"):
        colour_scheme("rainbow")


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: TIA.tube(0), "number"),
        (lambda: own_scheme([]), "names"),
        (lambda: own_scheme(["blue", "red/"]), "names must"),
        (lambda: position_in_cable(0, 1, fibres_per_tube=12), "tube"),
        (lambda: position_in_cable(1, 13, fibres_per_tube=12), "fibre"),
        (lambda: tube_and_fibre(0, fibres_per_tube=12), "position"),
        (lambda: colour_agreement(TIA, "  ", 1), "colour"),
    ],
)
def test_impossible_input_is_refused_by_name(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
