"""Fibre types as data, tied to the clauses of their limits."""

import pytest

from eavelight.standards.clauses import clause
from eavelight.standards.fibre_types import (
    attenuation_default,
    fibre_type,
    fibre_types,
)


def test_the_four_types_of_the_visit_folder_are_there() -> None:
    assert list(fibre_types()) == ["g652d", "g657a1", "g657a2", "g657b3"]


def test_limit_rows_carry_the_value_of_their_clause() -> None:
    for model in fibre_types().values():
        for row in model.bend_limits:
            assert row.loss_db == clause(row.clause).value
            text = f"{row.turns:g} turn"
            assert text in clause(row.clause).quantity
            assert f"{row.radius_mm:g} mm" in clause(row.clause).quantity


def test_every_type_states_its_edition_and_confidence() -> None:
    for model in fibre_types().values():
        assert model.edition == "2016"
        assert model.confidence in {"second_hand", "recalled"}


def test_bare_fibre_is_its_own_default() -> None:
    cabled, _ = attenuation_default("g657a2", 1550.0)
    bare, _ = attenuation_default("g657a2", 1550.0, cabled=False)
    assert bare < cabled


def test_an_unknown_type_names_the_nearest() -> None:
    with pytest.raises(ValueError, match="g657a1"):
        fibre_type("g657a11")
