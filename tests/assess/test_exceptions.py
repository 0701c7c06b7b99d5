"""Exceptions by weight: points of no return, what is asked, what nobody asked."""

import pytest

from eavelight.assess.exceptions import ASKED, STEP, UNASKED, weight
from eavelight.model.finding import Finding, Verdict
from eavelight.model.message import Message


def finding(requirement, verdict=Verdict.NOT_MEASURED, *, required=False):
    return Finding(
        requirement=requirement,
        subject="drop",
        verdict=verdict,
        because=Message("x"),
        required=required,
    )


@pytest.mark.parametrize(
    ("what", "found", "wanted"),
    [
        ("close", [], STEP),
        ("plug in", [finding("feed.loop")], STEP),
        ("loss.drop", [finding("loss.drop", required=True)], ASKED),
        ("feed.status", [finding("feed.status")], UNASKED),
        ("feed.status", [finding("feed.status", Verdict.FAIL)], ASKED),
        ("feed.status", [finding("loss.drop", required=True)], UNASKED),
    ],
)
def test_weight_follows_from_what_is_asked(what, found, wanted):
    assert weight(what, found) == wanted
