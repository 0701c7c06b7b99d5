"""Entries put right: the same file again, a number with its unit, taken back."""

import re

import numpy as np
from test_security import VISIT, client, order, readings, token  # noqa: F401

from eavelight.demo.evidence import face_bytes, photo_bytes, trace_bytes
from eavelight.demo.plans import start_of
from eavelight.demo.truth import House


def test_the_same_trace_with_another_lead_corrects_the_first(client):  # noqa: F811
    order(client)
    rng = np.random.default_rng(1)
    data = trace_bytes(House(), 1550, visit="x", time=start_of(9), rng=rng)
    for lead in ("", "150"):
        answer = client.post(
            f"{VISIT}/ladder/trace-1550",
            data={"token": token(client), "lead_m": lead},
            files={"file": ("t.sor", data, "application/octet-stream")},
        )
        assert answer.status_code == 200
    assert readings(client).count("trace-1550") == 1
    assert "lead_m = 150" in readings(client)
    assert "same file" not in client.get(VISIT).text


def test_a_number_may_carry_its_own_unit_and_no_other(client):  # noqa: F811
    order(client)
    sent = {"token": token(client), "value": "−15,9 dBm"}
    assert client.post(f"{VISIT}/ladder/port-level", data=sent).status_code == 200
    assert "-15.9" in readings(client)
    sent = {"token": token(client), "value": "0.5 V"}
    assert client.post(f"{VISIT}/ladder/loss-1550", data=sent).status_code == 422


def test_any_entry_can_be_taken_back_from_its_question(client):  # noqa: F811
    order(client)
    for value in ("-22.7", "-15.9"):
        sent = {"token": token(client), "value": value}
        client.post(f"{VISIT}/ladder/port-level", data=sent)
    page = client.get(f"{VISIT}/ladder/port-level").text
    names = re.findall(r'name="name" value="(port-level\.\w+)"', page)
    assert len(names) == 2
    for name in names:
        sent = {"token": token(client), "kind": "reading", "name": name}
        client.post(f"{VISIT}/ladder/port-level/undo", data=sent)
    assert "port-level" not in readings(client)


def test_the_last_entry_has_its_echo_too(client):  # noqa: F811
    order(client)
    client.post(f"{VISIT}/begin", data={"token": token(client)})
    sent = {"token": token(client), "value": "all collected"}
    answer = client.post(f"{VISIT}/ladder/clean-up", data=sent)
    assert 'class="told"' in answer.text


def test_a_file_that_is_sent_twice_by_a_bad_network_is_kept_once(client):  # noqa: F811
    order(client)
    rng = np.random.default_rng(2)
    data = trace_bytes(House(), 1310, visit="x", time=start_of(9), rng=rng)
    for lead in ("150", "150", "140", "150"):
        client.post(
            f"{VISIT}/ladder/trace-1310",
            data={"token": token(client), "lead_m": lead},
            files={"file": ("t.sor", data, "application/octet-stream")},
        )
        assert readings(client).count("trace-1310") == 1


def test_an_entry_that_cannot_be_is_told_by_its_question(client):  # noqa: F811
    order(client)
    sent = {"token": token(client), "value": "2099-01-01T10:00:00+00:00"}
    client.post(f"{VISIT}/ladder/online-at", data=sent)
    text = client.get(VISIT).text
    assert "“When did the terminal come online?” reports at" in text
    assert not re.search(r"online-at\.\w+ reports", text)


def sent_file(client, question, data, **more):  # noqa: F811
    return client.post(
        f"{VISIT}/ladder/{question}",
        data={"token": token(client), **more},
        files={"file": ("x", data, "application/octet-stream")},
    )


def test_a_trace_of_another_wavelength_or_of_none_is_told_at_once(client):  # noqa: F811
    order(client)
    rng = np.random.default_rng(3)
    data = trace_bytes(House(), 1310, visit="x", time=start_of(9), rng=rng)
    answer = sent_file(client, "trace-1550", data, lead_m="150")
    assert answer.status_code == 422
    assert "taken at 1310 nm; another is asked for" in answer.text
    answer = sent_file(client, "trace-1310", b"Map\0" + b"\x01" * 300)
    assert answer.status_code == 422
    assert "could not be read" in answer.text
    assert "trace-" not in readings(client)


def test_a_picture_without_a_face_says_so_and_answers_nothing(client):  # noqa: F811
    order(client)
    house = photo_bytes("house", visit="x", text="invented")
    answer = sent_file(client, "terminal-face-plug", house)
    told = answer.text[answer.text.index('class="told"') :]
    assert "No fibre end face found" in told[: told.index("</section>")]
    steps = client.get(f"{VISIT}/ladder").text
    missing = steps[steps.index("Missing") : steps.index('id="all"')]
    assert "End face of the pigtail plug" in missing
    sent_file(client, "terminal-face-plug", face_bytes(9), cleaning="wet dry")
    steps = client.get(f"{VISIT}/ladder").text
    missing = steps[steps.index("Missing") : steps.index('id="all"')]
    assert "End face of the pigtail plug" not in missing


def test_what_fails_says_what_mends_it(client):  # noqa: F811
    order(client)
    sent = {"token": token(client), "value": "yes"}
    answer = client.post(f"{VISIT}/ladder/port-in-use", data=sent)
    told = answer.text[answer.text.index('class="told"') :]
    told = told[: told.index("</section>")]
    assert "light was on this port" in told
    assert '<p class="now">' in told
    sent = {"token": token(client), "value": "no"}
    answer = client.post(f"{VISIT}/ladder/port-in-use", data=sent)
    assert "take the first one back if it was a slip" in answer.text


def test_a_reason_stands_at_its_question_and_can_be_taken_back(client):  # noqa: F811
    order(client)
    for question, reason in (("loop", "meter broken"), ("before-cut", "no helper")):
        sent = {"token": token(client), "why_not": reason}
        client.post(f"{VISIT}/ladder/{question}", data=sent)
        page = client.get(f"{VISIT}/ladder/{question}").text
        assert reason in page
        assert f"{question}: {reason}" not in page
        kind = '<input type="hidden" name="kind" value="exception">'
        name = re.search(
            kind + r'<input type="hidden" name="name" value="([^"]+)"', page
        )
        assert name
        sent = {"token": token(client), "kind": "exception", "name": name[1]}
        client.post(f"{VISIT}/ladder/{question}/undo", data=sent)
        assert reason not in client.get(f"{VISIT}/ladder/{question}").text


def test_the_work_begins_with_its_order(client):  # noqa: F811
    order(client)
    answer = client.post(f"{VISIT}/begin", data={"token": token(client)})
    assert answer.url.path == f"{VISIT}/ladder/work-order"


def test_the_echo_shows_the_number_that_was_entered(client):  # noqa: F811
    order(client)
    for question, value in (
        ("volts-terminal-no-load", "-13.5"),
        ("foreign-ac", "60"),
    ):
        sent = {"token": token(client), "value": value}
        answer = client.post(f"{VISIT}/ladder/{question}", data=sent)
    told = answer.text[answer.text.index('class="told"') :]
    told = told[: told.index("</section>")]
    assert "60 V" in told
    assert "<dd>−13.5" not in told


def test_a_reason_for_what_nobody_asked_is_no_exception_to_decide_on(client):  # noqa: F811
    order(client)
    optional, step = "line-battery-low-mains-pulled", "before-cut"
    for question in (optional, step):
        sent = {"token": token(client), "why_not": f"reason of {question}"}
        assert client.post(f"{VISIT}/ladder/{question}", data=sent).status_code == 200
    page = client.get(VISIT).text
    decided = page[page.index('id="exceptions"') : page.index("1 reason for what was")]
    assert f"reason of {step}" in decided
    assert f"reason of {optional}" not in decided
    assert f"{optional}: " not in page
    assert "1 exception" in client.get("/own/").text
