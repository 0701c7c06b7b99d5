"""The diagnosis beside the verdicts: it explains, advises, and changes none of them."""

import json

import pytest
from tests.app.visit_table import entry

from eavelight.app.assess_visit import assess_visit, observe, open_visit
from eavelight.app.assessment_json import assessment_json
from eavelight.assess.assessment import assess
from eavelight.cli.assess_text import assessment_text
from eavelight.demo.crew import SCENARIOS, build_visit
from eavelight.standards.profiles import load_profile

# first cause of every demo visit
CAUSES = {
    1: "none",
    2: "bend",
    3: "joint-resistance",
    4: "wrong-port",
    5: "none",
    7: "contamination",
}


@pytest.mark.parametrize("number", sorted(CAUSES))
def test_demo_visit_has_its_cause_first(number, tmp_path):
    scenario = next(s for s in SCENARIOS if s.number == number)
    result = assess_visit(str(build_visit(scenario, tmp_path))).assessment
    assert result.causes[0]["cause"] == CAUSES[number]
    assert result.causes[0]["probability"] > 0.85


def test_verdicts_are_those_of_the_findings_alone(clean, save):
    entry(clean, "loss", "drop", wavelength_nm=1550)["value"] = 4.35
    folder = str(save(clean))
    opened = open_visit(folder)
    seen, visit = observe(opened), opened.visit
    alone = assess(visit.head.id, visit.plan, seen, load_profile())
    both = assess_visit(folder, alone=True).assessment
    assert (both.findings, both.state, both.before) == (
        alone.findings,
        alone.state,
        alone.before,
    )


def test_json_of_the_diagnosis_keeps_its_contract(clean, save):
    entry(clean, "loss", "drop", wavelength_nm=1550)["value"] = 2.1
    entry(clean, "level", "terminal")["value"] = -16.6
    result = assess_visit(str(save(clean))).assessment
    data = json.loads(json.dumps(assessment_json(result), allow_nan=False))
    total = sum(item["probability"] for item in data["hypotheses"])
    assert total == pytest.approx(1.0)
    assert data["hypotheses"][-1]["other"] is True
    for item in data["hypotheses"]:
        assert all(set(f) == {"cause", "at", "detail"} for f in item["faults"])
    shares = [cause["probability"] for cause in data["causes"]]
    assert shares == sorted(shares, reverse=True)
    assert "none" in [cause["cause"] for cause in data["causes"]]
    top = data["causes"][0]
    assert top["because"]
    assert all(isinstance(text, str) and "{" not in text for text in top["because"])


def test_text_shows_the_likely_cause_with_its_reasons(clean, save):
    entry(clean, "loss", "drop", wavelength_nm=1550)["value"] = 2.1
    entry(clean, "level", "terminal")["value"] = -16.6
    text = assessment_text(assess_visit(str(save(clean))))
    assert "Likely causes" in text
    assert "a bend in the box" in text
    assert "for      The drop loses 2.10 dB at 1550 nm but only" in text


def test_ready_visit_still_says_close_first(clean, save):
    result = assess_visit(str(save(clean))).assessment
    assert result.next_actions[0].action == "close"


def test_neighbour_without_service_comes_before_the_cause(clean, save):
    entry(clean, "neighbours_affected")["value"] = True
    entry(clean, "loss", "drop", wavelength_nm=1550)["value"] = 4.35
    result = assess_visit(str(save(clean))).assessment
    assert result.next_actions[0].action == "restore-neighbour"


def test_action_of_the_diagnosis_carries_the_cause_it_is_for(clean, save):
    entry(clean, "loss", "drop", wavelength_nm=1550)["value"] = 4.35
    entry(clean, "loss", "drop", wavelength_nm=1310)["value"] = 0.64
    first = assess_visit(str(save(clean))).assessment.next_actions[0]
    assert first.action == "relax-bend"
    assert first.why.id.startswith("diagnosis.why")
    assert "bend" in first.resolves


def test_visit_without_a_single_reading_gets_an_answer(clean, save):
    clean["reading"], clean["evidence"] = [], []
    result = assess_visit(str(save(clean))).assessment
    assert result.state == "undecided"
    assert sum(h["probability"] for h in result.hypotheses) == pytest.approx(1.0)
