"""Questions of the ladder: from the plan, answered by readings, excused by reasons."""

from datetime import UTC, datetime, timedelta

import pytest

from eavelight.app.ladder import AnswerError, Sent, answer, progress_of, questions_of
from eavelight.app.ladder.answers import number, upload
from eavelight.app.names import known_names
from eavelight.app.visit_folder.read import visit_from_table
from eavelight.assess import assess
from eavelight.model.observation import Observations, Reading
from eavelight.standards.profiles import load_profile

NOW = datetime(2026, 4, 15, 10, 0, tzinfo=UTC)


def visit_of(table):
    bare = {k: v for k, v in table.items() if k not in {"evidence"}}
    return visit_from_table(bare, known_names(), shown="test")


@pytest.fixture
def plan(clean):
    return visit_of(clean).plan


def asked(plan, id):
    return next(q for q in questions_of(plan) if q.id == id)


def sent(**values):
    return Sent(nonce="abcdef01", at=NOW, values=values)


def test_ids_are_unique_and_points_of_no_return_stand_before_their_act(plan):
    ids = [question.id for question in questions_of(plan)]
    assert len(ids) == len(set(ids))
    assert ids.index("fibre-light") < ids.index("before-cut") < ids.index("sleeve-on")
    assert ids.index("before-arc") < ids.index("estimate-before")
    assert ids.index("foreign-ac") < ids.index("before-plug-in")
    assert ids.index("before-close") < ids.index("loss-1310")


def test_without_a_feed_nothing_is_asked_of_it(clean):
    del clean["feed"]
    clean["supply_place"] = []
    clean["reading"] = []
    plan = visit_of(clean).plan
    stages = {question.stage for question in questions_of(plan)}
    assert not stages & {"copper", "power", "outage", "customer"}
    assert "photo-supply" not in {question.id for question in questions_of(plan)}


def test_a_complete_visit_answers_every_wanted_question_but_files(clean):
    visit = visit_of(clean)
    seen = Observations(started=visit.head.started, readings=visit.readings)
    progress = progress_of(visit.plan, seen)
    open_ones = {i.question.form for i in progress.wanted if not i.given}
    assert open_ones == {"photo"}


@pytest.mark.parametrize(
    ("text", "value"),
    [("-18.7", -18.7), ("−18,7", -18.7), (" 0,05 ", 0.05), ("1 200", 1200.0)],
)
def test_numbers_are_read_as_people_type_them(text, value):
    assert number(text) == value


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "1e999", "1.2.3", "--1"])
def test_what_is_no_number_is_refused(plan, text):
    with pytest.raises(AnswerError) as told:
        answer(asked(plan, "loss-1310"), sent(value=text), plan)
    assert told.value.field == "value"


def test_a_value_that_no_instrument_shows_is_refused_with_the_range(plan):
    with pytest.raises(AnswerError) as told:
        answer(asked(plan, "port-level"), sent(value="1590"), plan)
    assert told.value.problem == "range"
    assert "dBm" in told.value.detail


def test_an_answer_is_a_reading_with_everything_its_question_fixes(plan):
    item = answer(asked(plan, "loss-1550"), sent(value="0.5", tool="m1"), plan).item
    wanted = {
        "what": "loss", "at": "drop", "value": 0.5, "unit": "dB",
        "wavelength_nm": 1550, "state": ["lid closed"], "tool": "m1",
    }  # fmt: skip
    assert wanted.items() <= item.items()


def test_the_same_content_has_the_same_id_and_other_content_another(plan):
    question = asked(plan, "loss-1550")
    ids = [
        answer(question, sent(value=v, token=t), plan).item["id"]
        for v, t in (("0.5", "a"), ("0.5", "b"), ("0.6", "a"))
    ]
    assert ids[0] == ids[1] != ids[2]


def test_a_reason_becomes_an_exception_of_its_question_only(plan):
    entry = answer(asked(plan, "loss-1310"), sent(why_not="source broken"), plan)
    visit = Observations(
        started=NOW,
        exceptions=(exception(entry.item),),
    )
    states = {i.question.id: i.state for i in progress_of(plan, visit).answers}
    assert states["loss-1310"] == "excused"
    assert states["loss-1550"] == "missing"


def exception(item):
    from eavelight.model.observation import ExceptionNote

    return ExceptionNote(**item)


def test_a_point_of_no_return_needs_a_reason_to_go_on(plan):
    with pytest.raises(AnswerError):
        answer(asked(plan, "before-cut"), sent(), plan)
    item = answer(asked(plan, "before-cut"), sent(why_not="no helper"), plan).item
    assert (item["what"], item["reason"]) == ("cut", "no helper")


def test_a_file_is_named_by_question_and_digest(plan):
    entry = upload(
        asked(plan, "terminal-face-plug"),
        sent(cleaning="wet dry"),
        plan,
        sha256="ab" * 32,
        ending="png",
    )
    assert entry.item["file"] == "evidence/terminal-face-plug-abababababab.png"
    assert entry.item["cleaning"] == ["wet", "dry"]
    assert entry.item["cleaned"] is True


def test_a_length_that_is_none_names_its_field(plan):
    question = asked(plan, "trace-1310")
    with pytest.raises(AnswerError) as told:
        upload(question, sent(lead_m="x"), plan, sha256="a" * 64, ending="sor")
    assert told.value.field == "lead_m"


@pytest.mark.parametrize("text", ["nine", "1/", "1/2/3", "blue", "-1"])
def test_a_strand_is_told_by_number(plan, text):
    with pytest.raises(AnswerError) as told:
        answer(asked(plan, "fibre-seen"), sent(value=text), plan)
    assert told.value.problem == "strand"


@pytest.mark.parametrize("text", ["9", "1/9", "1 / 12"])
def test_a_strand_by_number_is_taken_as_it_was_read(plan, text):
    item = answer(asked(plan, "fibre-seen"), sent(value=text), plan).item
    assert item["value"] == text


def test_only_the_answer_that_breaks_a_finding_is_marked(clean):
    # the loss at 1310 nm is good; the slope between both fails because of 1550 nm
    for item in clean["reading"]:
        if item["what"] == "loss" and item.get("wavelength_nm") == 1550:
            item["value"] = 2.4
    visit = visit_of(clean)
    seen = Observations(started=visit.head.started, readings=visit.readings)
    judged = assess("T-1", visit.plan, seen, load_profile())
    slope = next(f for f in judged.findings if f.requirement == "loss.slope")
    assert slope.verdict == "fail"
    assert len(slope.breaking) == 1 < len(slope.observations)
    states = {
        item.question.id: item.state
        for item in progress_of(visit.plan, seen, judged).answers
    }
    assert states["loss-1550"] == "failing"
    assert states["loss-1310"] == "done"


def made(plan, *given):
    """Progress after entries of (question, attempt), a minute each."""
    entries = []
    for count, (id, attempt) in enumerate(given):
        at = NOW + timedelta(minutes=count)
        values = {"value": "0.02", "attempt": str(attempt)}
        told = Sent(nonce=f"abcdef{count:02d}", at=at, values=values)
        entries.append(answer(asked(plan, id), told, plan).item)
    readings = tuple(Reading(**{**item, "time": NOW}) for item in entries)
    return progress_of(plan, Observations(started=NOW, readings=readings))


@pytest.mark.parametrize(
    ("given", "id", "attempt"),
    [
        ([], "estimate-before", 1),
        ([("estimate-before", 1)], "estimate-before", 1),
        ([("estimate-before", 1)], "estimate-after", 1),
        # a slip after shrinking is put right within its attempt
        ([("estimate-before", 1), ("estimate-after", 1)], "estimate-after", 1),
        # after the last look the same splice is made again
        ([("estimate-before", 1), ("estimate-after", 1)], "estimate-before", 2),
        ([("estimate-before", 1), ("estimate-after", 1)], "cleave-cable", 1),
        ([("cleave-cable", 1), ("estimate-before", 1)], "cleave-cable", 2),
        (
            [("estimate-before", 1), ("estimate-after", 1), ("estimate-before", 2)],
            "estimate-after",
            2,
        ),
    ],
)
def test_an_entry_belongs_to_the_attempt_at_work(plan, given, id, attempt):
    assert made(plan, *given).attempt_for(id) == attempt
