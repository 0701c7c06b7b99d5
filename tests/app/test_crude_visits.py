"""Twenty faults as a technician would write them down, crude and by hand.

Nothing of the forward model made these numbers; each visit is the sound one with the
few readings changed that its story names.
"""

import pytest
from tests.app.visit_table import entry

from eavelight.app.assess_visit import assess_visit


def lose(table, short, middle, long, *, port=0.0):
    """Light lost in the drop at 1310, 1490 and 1550 nm, and before the port."""
    entry(table, "loss", wavelength_nm=1310)["value"] += short
    entry(table, "loss", wavelength_nm=1550)["value"] += long
    entry(table, "level", "terminal")["value"] -= middle + port
    entry(table, "level", "port")["value"] -= port
    entry(table, "level_reported")["value"] -= middle + port
    entry(table, "level_upstream")["value"] -= short + port


def every(table, what, change, **keys):
    for item in table["reading"]:
        if item["what"] == what and all(item.get(k) == v for k, v in keys.items()):
            item["value"] = change(item["value"])


def without(table, *kinds):
    table["reading"] = [i for i in table["reading"] if i["what"] not in kinds]


def dirty_adapter(t):
    lose(t, 0.4, 0.4, 0.4)
    entry(t, "endface_stated", "terminal", side="adapter")["value"] = "fail"


def dirt_unseen(t):
    lose(t, 2.0, 1.95, 1.9)
    without(t, "endface_stated")


def weak_bend(t):
    lose(t, 0.05, 0.25, 0.6)


def tight_bend(t):
    lose(t, 1.0, 3.2, 5.0)


def poor_splice(t):
    lose(t, 0.3, 0.26, 0.25)
    every(t, "splice_estimate", lambda _: 0.25)


def bubble(t):
    lose(t, 1.1, 1.0, 0.95)
    entry(t, "sleeve_seen")["value"] = "bubble"


def ice(t):
    lose(t, 1.0, 1.35, 1.5)
    entry(t, "temperature", "outside")["value"] = -12.0


def wrong_polish(t):
    lose(t, 3.0, 2.9, 2.8)
    entry(t, "polish_seen", "terminal", side="adapter")["value"] = "pc"


def wrong_label(t):
    entry(t, "port_label")["value"] = "4/9"


def other_split(t):
    lose(t, 0.0, 0.0, 0.0, port=3.5)


def steady_light(t):
    entry(t, "fibre_light")["value"] = "steady"


def before_the_port(t):
    lose(t, 0.0, 0.0, 0.0, port=2.0)


def whole_street(t):
    lose(t, 0.0, 0.0, 0.0, port=1.6)
    entry(t, "neighbours_affected")["value"] = True


def bad_reference(t):
    every(t, "loss", lambda value: round(value - 0.8, 2))


def thin_pair(t):
    entry(t, "loop_resistance")["value"] = 1.6
    entry(t, "volts", "terminal", state="loaded")["value"] = 12.6


def reversed_pair(t):
    every(t, "volts", lambda value: -value, at="terminal")


def bad_crimp(t):
    entry(t, "volts", "terminal", state="loaded")["value"] = 12.3


def low_supply(t):
    every(t, "volts", lambda value: round(value - 1.6, 2))


def dark_drop(t):
    without(t, "loss", "level_reported", "level_upstream", "terminal_online_at")
    without(t, "seconds_stable")
    level = entry(t, "level", "terminal")
    level["value"], level["below"] = -50.0, True
    entry(t, "fibre_light")["value"] = "dark"


STORIES = {
    dirty_adapter: ("contamination", "clean-both-faces"),
    dirt_unseen: ("contamination", "clean-both-faces"),
    weak_bend: ("bend", "relax-bend"),
    tight_bend: ("bend", "relax-bend"),
    poor_splice: ("splice", "re-splice"),
    bubble: ("splice", "re-splice"),
    ice: ("crush-or-ice", "free-drop"),
    wrong_polish: ("connector-mismatch", "match-polish"),
    wrong_label: ("wrong-port", "check-port"),
    other_split: ("wrong-split", "call-desk-registration"),
    steady_light: ("wrong-fibre", "prove-fibre"),
    before_the_port: ("upstream", "call-desk-upstream"),
    whole_street: ("upstream", "restore-neighbour"),
    bad_reference: ("measurement", "take-reference-again"),
    thin_pair: ("conductor", "check-conductor"),
    reversed_pair: ("conductor", "swap-conductors"),
    bad_crimp: ("joint-resistance", "remake-crimp"),
    low_supply: ("supply", "check-outlet"),
    dark_drop: ("break", None),
}


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.__name__)
def test_story_has_its_cause_and_its_first_action(story, clean, save):
    cause, action = STORIES[story]
    story(clean)
    result = assess_visit(str(save(clean)), alone=True).assessment
    assert result.causes[0]["cause"] == cause
    if action is not None:
        assert result.next_actions[0].action == action
