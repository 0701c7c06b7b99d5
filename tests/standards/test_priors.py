"""The priors file: every cause once, with its reason, and mistakes named."""

import pytest

from eavelight.errors import EvidenceError
from eavelight.standards.actions import action_kinds
from eavelight.standards.clauses import data_files
from eavelight.standards.priors import CAUSES, parse_priors, priors, signatures

TEXT = next(t for name, t in data_files("parameters") if name.endswith("priors.toml"))


@pytest.mark.parametrize("purpose", ["turn-up", "repair"])
def test_shares_of_all_causes_make_one(purpose):
    assert sum(priors().shares[purpose].values()) == pytest.approx(1.0)


def test_every_cause_says_where_its_number_comes_from():
    assert set(priors().reasons) == set(CAUSES)
    assert all(len(reason) > 10 for reason in priors().reasons.values())


def test_switch_multiplies_only_its_cause():
    cold = frozenset({"freezing"})
    plain = priors().odds("crush-or-ice", "turn-up")
    assert priors().odds("crush-or-ice", "turn-up", cold) == pytest.approx(8 * plain)
    assert priors().odds("bend", "turn-up", cold) == priors().odds("bend", "turn-up")


def test_copper_grows_with_age():
    for cause in ("battery", "joint-resistance", "conductor", "supply"):
        assert priors().odds(cause, "repair") > priors().odds(cause, "turn-up")


def test_unknown_key_is_named():
    with pytest.raises(EvidenceError, match="shares"):
        parse_priors(TEXT + '\n[shares]\n"x" = 1\n')


def test_share_that_is_no_number_is_refused():
    with pytest.raises(EvidenceError, match="above 0"):
        parse_priors(TEXT.replace('"turn-up" = 0.36', '"turn-up" = "much"'))


def test_forgotten_cause_is_refused():
    with pytest.raises(EvidenceError, match="every cause once"):
        parse_priors(TEXT.replace('id = "heat"', 'id = "cold"'))


def test_probabilities_of_marks_are_probabilities():
    for kind in signatures().marks.values():
        assert 0 < kind.without < 1
        assert all(0 < p < 1 and p > kind.without for p in kind.with_.values())


def test_every_cause_but_the_evidence_of_others_has_a_cure():
    cured = {c for k in action_kinds().values() if k.success for c in k.resolves}
    assert set(CAUSES) <= cured
