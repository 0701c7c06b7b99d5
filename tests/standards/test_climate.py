"""Numbers of judgement and climatic classes: labelled, complete, no hidden limit."""

import pytest

from eavelight.errors import EvidenceError
from eavelight.model.plan import Housing
from eavelight.standards.clauses import clause, load_clauses
from eavelight.standards.climate import (
    climate_practice,
    outside_air,
    parse_numbers,
)
from eavelight.standards.profiles import load_profile, parse_profile

CLASS = """
extends = "default"
[limits]
"housing.class.low" = "etsi_300_019_1_4.class_4_2{letter}.low"
"housing.class.high" = "etsi_300_019_1_4.class_4_2{letter}.high"
"""


def test_every_shade_of_a_plan_has_its_numbers():
    stated = Housing.__annotations__["shade"].__args__
    assert set(climate_practice().shades) == set(stated)
    passes = [climate_practice().shades[name].beam_passes for name in stated]
    assert passes == sorted(passes, reverse=True)


@pytest.mark.parametrize(
    ("entry", "match"),
    [
        ("{ value = 3.0, source = 'x' }", "label"),
        ("{ value = 3.0, label = 'guess', source = 'x' }", "label"),
        ("{ value = 3.0, label = 'judgement' }", "source"),
        ("{ value = 3.0, label = 'judgement', source = 'x', unit = 'K' }", "unit"),
        ("3.0", "label"),
    ],
)
def test_a_number_without_label_or_source_is_refused(entry, match):
    with pytest.raises(EvidenceError, match=match):
        parse_numbers(f"[grid]\nhot_k = {entry}\n", file="x.toml")


def test_the_last_resort_is_the_widest_common_class():
    air = outside_air(load_profile(), "last_resort")
    assert (air.low.value, air.high.value) == (-45.0, 45.0)
    assert "recalled" in air.source


def test_an_operator_may_name_the_class_of_its_homes():
    air = outside_air(parse_profile(CLASS.format(letter="l")), "class")
    assert (air.low.value, air.high.value) == (-65.0, 35.0)


def test_an_uncertain_number_of_a_class_never_counts():
    assert clause("etsi_300_019_1_4.class_4_2h.low").confidence == "uncertain"
    assert outside_air(parse_profile(CLASS.format(letter="h")), "class") is None


def test_class_numbers_are_told_as_recalled():
    found = [c for c in load_clauses().values() if c.id.startswith("etsi_300_019")]
    assert len(found) == 8
    assert all(item.provisional for item in found)
