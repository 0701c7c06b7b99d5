"""Which cause comes first, how sure, and what speaks for it."""

import pytest

from eavelight.diagnosis.diagnose import diagnose
from eavelight.model.message import Message
from eavelight.standards.priors import CAUSES
from eavelight.wording import say


def share(result, cause):
    return sum(c.probability for c in result.causes if c.cause == cause)


def first(result):
    return result.causes[0].cause, result.causes[0].at


def test_nothing_wrong_is_said_where_everything_is_as_planned(bench):
    bench.levels()
    bench.losses()
    result = diagnose(bench.case())
    assert first(result)[0] == "none"
    assert result.nothing_wrong > 0.8
    assert result.advice == ()


def test_without_any_evidence_the_priors_stand(bench):
    result = diagnose(bench.case())
    assert 0.3 < result.nothing_wrong < 0.7
    assert share(result, "contamination") > share(result, "splice")


def test_probabilities_of_hypotheses_sum_to_one(bench):
    bench.levels(terminal=-17.4)
    bench.losses({1310: 0.9, 1550: 0.8})
    result = diagnose(bench.case())
    assert sum(h.probability for h in result.hypotheses) == pytest.approx(1.0)
    assert result.hypotheses[-1].other


def test_causes_are_the_marginals_of_the_hypotheses(bench):
    bench.levels(terminal=-18.0)
    bench.losses({1310: 0.1, 1550: 3.8})
    result = diagnose(bench.case())
    top = result.causes[0]
    told = sum(
        h.probability
        for h in result.hypotheses
        if (top.cause, top.at) in {(f.cause, f.at) for f in h.faults}
    )
    rest = result.hypotheses[-1].probability
    assert told <= top.probability + 1e-9 <= told + rest + 1e-6


def test_same_case_gives_the_same_answer(bench):
    bench.levels(terminal=-17.0)
    bench.losses({1310: 0.8, 1550: 0.8})
    case = bench.case()
    assert diagnose(case) == diagnose(case)


def test_loss_that_rises_with_wavelength_is_a_bend(bench):
    # lid pinch of the reference sheet on the trade, 11.2: 0.11 / 1.83 / 3.83 dB
    bench.levels(terminal=-16.2 - 1.83)
    bench.losses({1310: 0.11, 1550: 3.83})
    result = diagnose(bench.case())
    assert first(result)[0] == "bend"
    assert result.causes[0].probability > 0.95
    assert result.advice[0].action == "relax-bend"
    assert result.causes[0].detail["excess_db"]["1550"] == pytest.approx(3.83, abs=0.3)


def test_flat_loss_with_a_dirty_plug_is_dirt(bench):
    bench.levels(terminal=-17.3)
    bench.losses({1310: 1.1, 1550: 1.05})
    bench.mark("face", "terminal", bad=True, side="plug")
    result = diagnose(bench.case())
    assert first(result) == ("contamination", "terminal")
    assert result.advice[0].action == "clean-both-faces"


def test_flat_loss_with_a_high_estimate_is_the_splice(bench):
    bench.levels(terminal=-16.9)
    bench.losses({1310: 0.75, 1550: 0.6})
    bench.read("splice_estimate", "pigtail splice", 0.55, u=0.02, attempt=1)
    for side in ("plug", "adapter"):
        for at in ("port", "terminal"):
            bench.mark("face after both sides", at, bad=False, side=side)
    result = diagnose(bench.case())
    assert first(result)[0] == "splice"


def test_flat_loss_alone_leaves_its_causes_undecided(bench):
    bench.levels(terminal=-17.2)
    bench.losses({1310: 1.0, 1550: 1.0})
    result = diagnose(bench.case())
    dirt, splice = share(result, "contamination"), share(result, "splice")
    assert dirt > splice > 0.02
    assert result.causes[0].probability < 0.9


def test_loss_above_the_port_is_upstream_not_the_drop(bench):
    bench.levels(port=-18.9, terminal=-19.2)
    bench.losses()
    result = diagnose(bench.case())
    assert first(result)[0] in {"upstream", "wrong-split"}
    assert share(result, "contamination") < 0.2


def test_neighbours_in_trouble_point_upstream(bench):
    bench.levels(port=-18.3, terminal=-18.6)
    bench.losses()
    plain = share(diagnose(bench.case()), "upstream")
    bench.circumstances.add("neighbours affected")
    assert share(diagnose(bench.case()), "upstream") > plain


def test_step_of_one_doubling_is_another_splitter(bench):
    bench.levels(port=-19.3, terminal=-19.6)
    bench.losses()
    result = diagnose(bench.case())
    assert share(result, "wrong-split") > 0.3


def test_wrong_label_with_a_perfect_level_is_the_wrong_port(bench):
    bench.levels()
    bench.losses()
    bench.mark("port label", "port", bad=True)
    bench.mark("port registered", "port", bad=True)
    result = diagnose(bench.case())
    assert first(result) == ("wrong-port", "port")
    assert result.advice[0].action == "check-port"


def test_light_that_does_not_follow_is_the_wrong_fibre(bench):
    bench.mark("light steady", "drop cable", bad=True)
    bench.mark("strand", "drop cable", bad=True)
    result = diagnose(bench.case())
    assert first(result)[0] == "wrong-fibre"
    assert result.advice[0].action == "prove-fibre"


def test_joint_shows_under_load_and_not_in_the_loop(bench):
    # bad crimp of the reference sheet on the trade, 11.3: 1.1 ohm
    bench.ohm("loop", 1.05)
    bench.ohm("load", 2.15)
    result = diagnose(bench.case())
    assert first(result)[0] == "joint-resistance"
    assert result.causes[0].detail["extra_ohm"] == pytest.approx(1.1, abs=0.1)
    assert result.advice[0].action == "remake-crimp"


def test_loop_and_load_alike_too_high_is_the_conductor(bench):
    bench.ohm("loop", 2.1)
    bench.ohm("load", 2.15)
    assert first(diagnose(bench.case()))[0] == "conductor"


def test_two_faults_at_once_are_both_named(bench):
    bench.levels(terminal=-16.2 - 1.9)
    bench.losses({1310: 0.1, 1550: 3.8})
    bench.ohm("loop", 1.05)
    bench.ohm("load", 2.3)
    best = diagnose(bench.case()).hypotheses[0]
    assert {f.cause for f in best.faults} == {"bend", "joint-resistance"}


def test_bend_and_dirt_in_one_drop_are_told_apart_by_three_wavelengths(bench):
    bench.levels(terminal=-16.2 - 1.2 - 0.9)
    bench.losses({1310: 1.23, 1550: 3.1, 1625: 5.8}, bands=(1310, 1550, 1625))
    bench.mark("face", "terminal", bad=True, side="plug")
    best = diagnose(bench.case()).hypotheses[0]
    assert {f.cause for f in best.faults} == {"bend", "contamination"}


def test_negative_loss_is_the_reference(bench):
    bench.levels()
    bench.losses({1310: -0.9, 1550: -0.9})
    result = diagnose(bench.case())
    assert first(result)[0] == "measurement"
    assert result.advice[0].action == "take-reference-again"


def test_one_stray_reading_does_not_make_a_fault_certain(bench):
    bench.levels()
    bench.losses()
    bench.read("level_upstream", "hub", -21.0, u=0.5)
    assert diagnose(bench.case()).causes[0].probability < 0.95


def test_closing_the_lid_tells_the_pinch(bench):
    bench.losses(lid=1)
    bench.losses({1310: 0.03, 1550: 0.5})
    bench.circumstances.add("lid just closed")
    assert first(diagnose(bench.case())) == ("bend", "box")


def test_loss_that_left_with_the_dirt_is_dirt_already_gone(bench):
    state = ("before cleaning",)
    bench.losses({1310: 1.4, 1550: 1.4}, state=state)
    after = ("after cleaning both sides",)
    bench.losses(state=after)
    bench.mark("face after both sides", "terminal", bad=False, side="plug")
    result = diagnose(bench.case())
    assert first(result)[0] == "contamination"
    assert result.causes[0].mended
    assert "clean-both-faces" not in [a.action for a in result.advice[:1]]


def test_baseline_makes_a_small_change_visible(bench):
    loose = -16.2 - 0.9
    bench.levels(terminal=loose)
    plain = diagnose(bench.case()).nothing_wrong
    baseline = type(bench)()
    baseline.levels()
    bench.baseline = baseline.seen
    assert diagnose(bench.case()).nothing_wrong < plain


def test_frost_raises_the_odds_of_ice(bench):
    bench.losses({1310: 0.6, 1550: 1.0})
    warm = share(diagnose(bench.case()), "crush-or-ice")
    bench.circumstances.add("freezing")
    assert share(diagnose(bench.case()), "crush-or-ice") > warm


def test_every_cause_has_its_words_and_every_reason_can_be_said(bench):
    for cause in (*CAUSES, "none"):
        assert say(Message(f"diagnosis.cause.{cause}", {"at": "box"}))
    bench.levels(terminal=-17.4)
    bench.losses({1310: 1.1, 1550: 1.3})
    bench.read("splice_estimate", "pigtail splice", 0.3, u=0.02)
    bench.ohm("loop", 1.4)
    bench.mark("face before cleaning", "terminal", bad=True, side="plug")
    for cause in diagnose(bench.case()).causes:
        for sentence in (*cause.because, *cause.against):
            assert "unknown" not in say(sentence)


def test_reasons_name_the_two_wavelengths_and_the_ends(bench):
    bench.levels(terminal=-18.0)
    bench.losses({1310: 0.11, 1550: 3.83})
    names = [m.id for m in diagnose(bench.case()).causes[0].because]
    assert "diagnosis.slope.rises" in names
    assert "diagnosis.ends.drop" in names


def test_what_speaks_against_is_told(bench):
    bench.levels(terminal=-17.4)
    bench.losses({1310: 1.2, 1550: 1.2})
    bench.mark("face after both sides", "terminal", bad=False, side="plug")
    bench.mark("face", "port", bad=True, side="plug")
    causes = {(c.cause, c.at): c for c in diagnose(bench.case()).causes}
    against = causes["contamination", "terminal"].against
    assert any(m.id.startswith("diagnosis.mark.face") for m in against)


def test_readings_that_nothing_explains_ask_to_stop(bench):
    bench.levels(port=-12.0, terminal=-25.0)
    bench.losses(
        {1310: 9.0, 1550: -0.6, 1490: 4.0, 1625: 9.5}, bands=(1310, 1490, 1550, 1625)
    )
    bench.read("splice_estimate", "pigtail splice", 4.0, u=0.02)
    bench.ohm("loop", 0.2)
    bench.ohm("load", 9.0)
    result = diagnose(bench.case())
    assert "stop-and-escalate" in [item.action for item in result.advice]
