"""A profile chooses clauses; an operator's own text changes only what it names."""

import pytest

from eavelight.errors import EvidenceError
from eavelight.standards.profiles import load_profile, parse_profile

OWN = """
extends = "default"
id = "north"
title = "North"
edition = "3"
document = "North rules"
[limits]
"loss.drop" = "north.loss_drop"
[advisory]
of = ["level.*"]
except = ["level.window"]
[[clause]]
id = "north.loss_drop"
where = "page 2"
quantity = "insertion loss of the drop"
value = 0.8
unit = "dB"
bound = "max"
confidence = "seen"
"""


@pytest.mark.parametrize(
    ("name", "value", "unit"),
    [
        ("loss.drop", 1.0, "dB"),
        ("loss.slope", 0.3, "dB"),
        ("level.expected", 1.0, "dB"),
        ("level.expected.factor", 2.0, "1"),
        ("level.reported", 3.0, "dB"),
        ("splice.estimate", 0.1, "dB"),
        ("splice.loss", 0.2, "dB"),
        ("splice.with_connector", 0.5, "dB"),
        ("splice.shrink", 0.05, "dB"),
        ("cleave.angle", 1.0, "°"),
        ("feed.loop", 10.0, "%"),
        ("record.online_stable", 600.0, "s"),
        ("guard.factor", 1.645, "1"),
    ],
)
def test_the_default_profile_holds_the_agreed_number(
    name: str, value: float, unit: str
) -> None:
    limit = load_profile().limit(name)
    assert (limit.value, limit.unit) == (value, unit)
    assert limit.provisional


@pytest.mark.parametrize(
    ("kind", "u"),
    [
        ("level", 0.19),
        ("level_reported", 1.73),
        ("loss", 0.05),
        ("splice_estimate", 0.02),
        ("splice_loss", 0.03),
        ("splice_shrink", 0.01),
        ("cleave_angle", 0.1),
        ("volts", 0.03),
        ("temperature", 1.0),
    ],
)
def test_each_tool_class_has_its_uncertainty(kind: str, u: float) -> None:
    assert load_profile().default_u(kind) == u


def test_a_loop_reading_adds_one_percent_to_a_hundredth_of_an_ohm() -> None:
    assert load_profile().default_u("loop_resistance", value=2.15) == pytest.approx(
        0.0315
    )


def test_the_feed_is_required_only_where_it_is_planned() -> None:
    profile = load_profile()
    asked = {"purpose": "turn-up"}
    assert profile.is_required("feed.loaded", has=["feed"], **asked)
    assert not profile.is_required("feed.loaded", has=[], **asked)
    assert not profile.is_required("feed.cutoff", has=["feed"], **asked)
    assert profile.is_required("feed.cutoff", has=["feed", "feed.battery"], **asked)


def test_an_audit_requires_nothing_of_itself() -> None:
    assert not load_profile().is_required("loss.drop", purpose="audit", has=[])


def test_an_unknown_purpose_names_the_nearest() -> None:
    with pytest.raises(ValueError, match="turn-up"):
        load_profile().is_required("loss.drop", purpose="turnup", has=[])


@pytest.mark.parametrize(
    ("requirement", "advisory"),
    [
        ("level.reported", True),
        ("evidence.repeated_values", True),
        ("evidence.duplicate", False),
        ("evidence.order", False),
        ("loss.drop", False),
    ],
)
def test_advice_is_told_from_blame(requirement: str, advisory: bool) -> None:
    assert load_profile().is_advisory(requirement) is advisory


def test_an_own_profile_changes_only_what_it_names() -> None:
    own = parse_profile(OWN, file="north.toml")
    assert own.number("loss.drop") == 0.8
    assert not own.limit("loss.drop").provisional
    assert own.number("loss.slope") == load_profile().number("loss.slope")
    assert own.is_advisory("level.expected")
    assert not own.is_advisory("evidence.order")
    assert own.sha256 != load_profile().sha256


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('= "north.loss_drop"\n[adv', '= "north.los_drop"\n[adv', r"north\.loss_drop"),
        ('= "north.loss_drop"\n[adv', "= 0.8\n[adv", "name a clause"),
        ('extends = "default"\n', "", "a key 'required'"),
        ('"default"', '"other"', "extends"),
        ("[advisory]", "[advise]", "did you mean 'advisory'"),
        ('north.loss_drop"\nwhere', 'g984_2.orl"\nwhere', "used once"),
    ],
)
def test_a_wrong_profile_is_refused_with_advice(old: str, new: str, said: str) -> None:
    with pytest.raises(EvidenceError, match=said):
        parse_profile(OWN.replace(old, new), file="north.toml")


def test_an_unknown_name_names_the_nearest() -> None:
    with pytest.raises(ValueError, match=r"splice\.estimate"):
        load_profile().limit("splice.estimat")


def test_plant_defaults_reach_the_light_path() -> None:
    profile = load_profile()
    assert profile.part_number("splice.mean") == profile.part_defaults().splice_mean


def test_readings_without_a_tool_class_are_known_as_such() -> None:
    assert load_profile().knows_u("level")
    assert not load_profile().knows_u("note")


def test_the_only_built_in_profile_is_the_default() -> None:
    with pytest.raises(ValueError, match="'default'"):
        load_profile("north")


def test_a_requirement_of_no_purpose_is_not_required() -> None:
    assert not load_profile().is_required("housing.hot", purpose="turn-up", has=[])


def test_a_profile_of_its_own_says_which_plant_default_it_lacks() -> None:
    text = OWN.replace('extends = "default"\n', "") + "[required]\nturn-up = []\n"
    profile = parse_profile(text, file="north.toml")
    with pytest.raises(ValueError, match=r"splice\.mean"):
        profile.part_defaults()
