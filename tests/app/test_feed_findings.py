"""Feed findings on whole visit folders: the crimp, the open pair, the next step."""

import pytest

from eavelight.app.assess_visit import assess_visit
from eavelight.app.assessment_json import assessment_json
from eavelight.demo.crew import SCENARIOS, build_visit


def assessed(folder):
    return assess_visit(str(folder), alone=True).assessment


def found(assessment, requirement):
    return [i for i in assessment.findings if i.requirement == requirement]


def test_demo_crimp_shows_on_battery_and_not_on_mains(tmp_path):
    scenario = next(item for item in SCENARIOS if item.number == 3)
    result = assessed(build_visit(scenario, tmp_path))
    by_load = {
        (item.because.values["battery"], item.because.values["load"]): item.verdict
        for item in found(result, "feed.loaded")
    }
    assert by_load[False, 8.0] == "pass"
    assert by_load[True, 8.0] == "fail"
    assert found(result, "feed.loop")[0].verdict == "pass"
    assert result.next_actions[0].action == "remake-crimp"
    assert "bigger-battery" not in {item.action for item in result.next_actions}


def test_demo_rehearsal_of_the_sound_house_agrees_with_everything(tmp_path):
    result = assessed(build_visit(SCENARIOS[0], tmp_path))
    verdicts = {
        item.verdict for item in result.findings if item.requirement[:5] == "feed."
    }
    assert verdicts == {"pass"}
    given = found(result, "feed.runtime")[0].because.values["given"]
    assert "feed.runtime.given.rehearsed" in [item.id for item in given]


def test_open_pair_of_two_is_named_and_stands_against_plugging_in(clean, save):
    # two pairs planned, one found: the loop reads that of one pair alone
    clean["feed"] |= {"pairs": 2, "construction": "equal pairs"}
    result = assessed(save(clean))
    finding = found(result, "feed.polarity")[0]
    assert finding.because.id == "feed.polarity.fail.pair_open"
    plug = next(step for step in result.before if step.step == "plug in")
    assert any("pair" in item.id for item in plug.against)
    assert "find-open-conductor" in [item.action for item in result.next_actions]


def test_new_findings_are_never_required(clean, save):
    clean["reading"] = [
        item
        for item in clean["reading"]
        if item["what"] not in {"foreign_volts", "insulation", "temperature"}
        and not (item["what"] == "volts" and item["at"] == "supply")
    ]
    result = assessed(save(clean))
    assert result.state == "ready"
    for name in ("limits", "supply", "polarity", "status", "runtime"):
        assert not any(item.required for item in found(result, f"feed.{name}"))


def test_mains_pulled_without_an_alarm_asks_for_the_line(clean, save):
    last = clean["reading"][-1]
    lines = ("on battery", "battery missing", "battery low", "replace battery")
    for number, line in enumerate(lines):
        clean["reading"].append(
            {
                "id": f"s{number}",
                "what": "status_line",
                "at": "terminal",
                "value": "normal",
                "line": line,
                "state": ["mains pulled"],
                "time": last["time"],
            }
        )
    result = assessed(save(clean))
    finding = found(result, "feed.status")[0]
    assert finding.verdict == "fail"
    names = [item.action for item in result.next_actions]
    assert names.index("read-lines") < names.index("mend-lines")


@pytest.mark.parametrize(
    "change",
    [
        {"supply_float_v": 54.4, "supply_cutoff_v": 43.0, "terminal_min_v": 36.0,
         "terminal_max_v": 57.0},
        {"material": "copper-clad steel", "awg": 18},
        {"terminal_idle_w": 0.0},
        {"status_polarity": "closed is alarm", "return_shared": False},
    ],
    ids=["48 V", "clad", "no idle load", "closed alarms"],
)  # fmt: skip
@pytest.mark.parametrize("battery", [True, False])
def test_unusual_feeds_are_told_in_whole_sentences(clean, save, change, battery):
    clean["feed"] |= change
    for item in clean["reading"]:
        item.pop("load_w", None)
    if not battery:
        del clean["feed"]["battery"]
    data = assessment_json(assessed(save(clean)))
    for item in data["findings"]:
        if item["requirement"].startswith("feed."):
            assert "unknown" not in item["because"]
            assert "{" not in item["because"]
