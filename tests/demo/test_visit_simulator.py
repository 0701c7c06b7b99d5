"""Visits of the forward model: reproducible, and weighed with honest odds."""

import numpy as np
import pytest

from eavelight.app.diagnosing.case import case_of
from eavelight.app.names import known_names
from eavelight.app.visit_folder import read_visit_folder
from eavelight.assess.assessment import assess, context_of
from eavelight.demo.crew import SCENARIOS, build_visit
from eavelight.demo.visit_simulator import simulate
from eavelight.diagnosis.diagnose import diagnose
from eavelight.model.observation import Observations
from eavelight.standards.profiles import load_profile


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """What the first demo visit reads and looks at, its files left out."""
    opened = read_visit_folder(
        build_visit(SCENARIOS[0], tmp_path_factory.mktemp("crew")), known_names()
    )
    visit = opened.visit
    seen = Observations(started=visit.head.started, readings=visit.readings)
    args = (visit.head.id, visit.plan, seen, load_profile())
    return case_of(context_of(*args), assess(*args).findings)


def test_same_seed_gives_the_same_visit(template):
    one, two = (simulate(template, np.random.default_rng(4)) for _ in range(2))
    assert one.truth == two.truth
    assert one.case.seen == two.case.seen


def test_faults_are_drawn_by_their_priors(template):
    truths = [simulate(template, np.random.default_rng(i)).truth for i in range(150)]
    sound = sum(not truth for truth in truths) / len(truths)
    assert 0.3 < sound < 0.65
    causes = [cause for truth in truths for cause, _ in truth]
    assert causes.count("contamination") > causes.count("splice")


def test_odds_come_out_right_on_the_own_model(template):
    # 60 visits: the share of hits may stray from the mean odds by four spreads
    odds, hits = [], []
    for seed in range(60):
        drawn = simulate(template, np.random.default_rng(1000 + seed))
        top = diagnose(drawn.case).causes[0]
        odds.append(top.probability)
        true = {cause for cause, _ in drawn.truth} or {"none"}
        hits.append(top.cause in true)
    odds = np.array(odds)
    spread = np.sqrt(np.sum(odds * (1 - odds))) / len(odds)
    assert abs(np.mean(hits) - odds.mean()) < 4 * spread + 0.02
