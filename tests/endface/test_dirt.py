import numpy as np
import pytest

from eavelight.demo.endface_simulator import Disc, Lint, Scene, draw
from eavelight.endface import grade_picture, picture_from_array
from eavelight.endface.dirt import advise, features_of, kinds_of_face, odds_of
from eavelight.errors import EvidenceError
from eavelight.standards.endface_criteria import load
from eavelight.standards.endface_dirt import load_dirt, load_words, parse_dirt

TABLE = load_dirt()


def features(**changes):
    base = {
        "shape": "irregular", "tone": "black", "rim": "plain", "place": "glass",
        "number": "alone", "change": "unknown",
    }  # fmt: skip
    return {**base, **changes}


def best(**changes):
    odds = odds_of(features(**changes), TABLE)
    assert sum(odds.values()) == pytest.approx(1.0)
    return max(odds, key=lambda name: odds[name])


def test_dark_flake_is_most_likely_dust_of_one_kind_or_another() -> None:
    assert "dust" in best()


def test_kinds_a_picture_cannot_separate_are_named_together() -> None:
    assert best(shape="film", tone="faint") == "oil+gel"


def test_what_stayed_after_dry_and_wet_is_not_loose() -> None:
    odds = odds_of(features(shape="round", change="stayed_wet"), TABLE)
    assert max(odds, key=lambda name: odds[name]).startswith("pit")


def test_what_went_by_itself_was_water() -> None:
    assert (
        best(shape="round", number="many", rim="rimmed", change="gone_alone") == "water"
    )


def advice(odds, done=(), **options):
    return advise([odds], done, TABLE, **options).step


def test_dust_is_first_cleaned_dry() -> None:
    assert advice({"dust": 1.0}) in {"dry", "wet_then_dry"}


def test_gritty_dust_is_lifted_wet_and_never_dragged() -> None:
    assert advice({"plaster": 1.0}) == "lift_wet"


def test_oil_and_gel_want_solvent_then_dry() -> None:
    assert advice({"oil+gel": 1.0}) == "wet_then_dry"


def test_solvent_ring_wants_a_dry_pass_and_less_solvent() -> None:
    assert advice({"dried_solvent": 1.0}) == "dry_less_solvent"


def test_frost_wants_warmth() -> None:
    assert advice({"water": 1.0}) == "warm"


@pytest.mark.parametrize("kind", ["scratch", "crack", "pit+chip"])
def test_damage_is_replaced_and_never_abraded(kind: str) -> None:
    done = ("dry", "wet")
    assert advice({kind: 1.0}, done, abrasive=True) == "replace"


def test_resin_is_abraded_only_when_allowed_and_after_dry_and_wet() -> None:
    assert advice({"resin": 1.0}, ("dry", "wet")) == "replace"
    assert advice({"resin": 1.0}, ("dry",), abrasive=True) == "replace"
    assert advice({"resin": 1.0}, ("dry", "wet"), abrasive=True) == "abrasive"
    once = ("dry", "wet", "abrasive")
    assert advice({"resin": 1.0}, once, abrasive=True) == "replace"


def test_rounds_are_bounded() -> None:
    done = ("dry",) * 3 + ("wet",) * 3
    assert advice({"dust": 1.0}, done) == "replace"


def test_adapter_is_cleaned_with_the_plug() -> None:
    assert advise([{"dust": 1.0}], (), TABLE).adapter_too


def test_lint_on_a_picture_is_recognised() -> None:
    hair = Lint(row_um=5, col_um=0, length_um=100, width_um=3, turn_deg=100)
    face = grade_picture(
        picture_from_array(draw(Scene(marks=(hair,)), np.random.default_rng(1))),
        load("pc"),
    )
    odds = kinds_of_face(face, TABLE)
    largest = int(np.argmax([mark.size_um for mark in face.marks]))
    assert "lint" in odds[largest]
    assert features_of(face.marks[largest], face.marks)["shape"] == "hair"


def test_every_kind_and_step_has_words() -> None:
    words = load_words()
    assert {kind.id for kind in TABLE.kinds} <= set(words["kind"])
    assert {step.id for step in TABLE.steps} <= set(words["step"])


def test_probabilities_of_the_table_are_probabilities() -> None:
    for kind in TABLE.kinds:
        for feature, row in kind.likelihood.items():
            assert all(0 < value <= 1 for value in row.values()), (kind.id, feature)


def test_a_step_that_nobody_defined_is_refused() -> None:
    text = """
    least_benefit = 0.1
    [[step]]
    id = "dry"
    rounds = 1
    minutes = 1.0
    counts_as = "dry"
    [[kind]]
    id = "dust"
    prior = 0.5
    likelihood = {}
    helps = { dri = 0.5 }
    harms = {}
    """
    with pytest.raises(EvidenceError, match="dry"):
        parse_dirt(text, file="own.toml")


def test_spot_words_are_known_to_the_table() -> None:
    known = {
        feature: {word for kind in TABLE.kinds for word in kind.likelihood[feature]}
        for feature in ("shape", "tone", "rim", "place", "number")
    }
    mark = Disc(row_um=20, col_um=20, diameter_um=5)
    face = grade_picture(
        picture_from_array(draw(Scene(marks=(mark,)), np.random.default_rng(1))),
        load("pc"),
    )
    for feature, word in features_of(face.marks[0], face.marks).items():
        if feature != "change":
            assert word in known[feature]
