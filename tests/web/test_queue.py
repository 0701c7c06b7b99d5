"""The queue: several visits accepted at once, and only those that need no look."""

import io
import re
import zipfile

import pytest
from test_security import client, token  # noqa: F401


@pytest.fixture
def crew(client):  # noqa: F811
    client.post("/demo/open", data={"token": token(client)})
    return client


def accepted(crew, *visits):
    sent = {"token": token(crew), "visit": list(visits)}
    return crew.post("/demo/accept", data=sent)


def decisions(crew, visit):
    return re.findall(
        r"Desk: <strong>(\w+)", crew.get(f"/demo/visits/{visit}/handover").text
    )


def test_what_is_plainly_ready_is_accepted_and_the_rest_is_left(crew):
    answer = accepted(crew, "D-101", "D-102")
    # the page after it is the queue itself, safe to load again
    assert (answer.url.path, answer.request.method) == ("/demo/", "GET")
    told = answer.text[answer.text.index('class="just"') :][:900]
    assert "1 visit accepted" in told
    done, _, left = told.partition("Left as they were")
    assert "D-101" in done
    assert "D-102" in left
    assert decisions(crew, "D-101") == ["accepted"]
    assert not decisions(crew, "D-102")


def test_accepting_twice_is_one_decision(crew):
    accepted(crew, "D-101")
    record = crew.get("/demo/visits/D-101/visit.toml").text
    assert "1 visit accepted" in accepted(crew, "D-101").text
    assert crew.get("/demo/visits/D-101/visit.toml").text == record


@pytest.mark.parametrize("number", [0, 26])
def test_none_or_too_many_are_refused_in_words(crew, number):
    answer = accepted(crew, *(f"X-{n}" for n in range(number)))
    assert answer.url.path == "/demo/"
    assert 'role="alert"' in answer.text
    assert "at most 25" in answer.text


def test_a_visit_that_is_not_there_is_no_decision(crew):
    assert accepted(crew, "D-999").status_code == 404


def test_closeouts_of_several_come_in_one_file_bit_by_bit(crew):
    sent = {"token": token(crew), "visit": ["D-101", "D-102"]}
    with crew.stream("POST", "/demo/closeouts", data=sent) as answer:
        parts = list(answer.iter_raw())
    assert len(parts) >= 3
    packed = zipfile.ZipFile(io.BytesIO(b"".join(parts)))
    assert packed.namelist() == ["01-D-101.pdf", "02-D-102.pdf"]
    assert packed.testzip() is None
    assert packed.read("01-D-101.pdf").startswith(b"%PDF-")


def test_closeouts_of_a_visit_that_is_not_there_are_none(crew):
    sent = {"token": token(crew), "visit": ["D-101", "D-999"]}
    assert crew.post("/demo/closeouts", data=sent).status_code == 404


def test_an_address_cannot_claim_what_the_record_does_not_bear_out(crew):
    page = crew.get("/demo/?done=D-102,D-999&left=D-999").text
    assert 'class="just"' not in page
