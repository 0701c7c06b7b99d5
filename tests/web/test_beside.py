"""The queue beside a visit: order, filters kept, the next one after a decision."""

import re
from datetime import timedelta

import pytest
import tomli_w
from test_security import client, token  # noqa: F401

from eavelight.demo.plans import start_of
from eavelight.web.demo_shelf import fresh_table
from eavelight.web.pages.beside import filters_of, query_of

NAMES = ("Q-1", "Q-2", "Q-3")


@pytest.fixture
def three(client):  # noqa: F811
    for number, name in enumerate(NAMES):
        table = fresh_table(start_of(9) - timedelta(days=number))
        table["visit"] |= {"id": name, "crew": "a" if name != "Q-2" else "b"}
        sent = {"token": token(client), "text": tomli_w.dumps(table)}
        assert client.post("/own/new", data=sent).status_code == 200
    return client


def rows(text: str) -> list[str]:
    return re.findall(r'<a href="/own/visits/(Q-\d)[^"]*"(?: aria-current)?', text)


def test_rows_stand_in_the_order_of_the_queue_and_name_the_next(three):
    page = three.get("/own/visits/Q-2").text
    beside = page[page.index("<aside") : page.index("</aside>")]
    assert rows(beside) == list(NAMES)
    turn = page[page.index('<nav class="turn"') :]
    assert "‹ Q-1" in turn
    assert "Q-3 ›" in turn


def test_filters_go_along(three):
    page = three.get("/own/visits/Q-1?crew=a").text
    beside = page[page.index("<aside") : page.index("</aside>")]
    assert rows(beside) == ["Q-1", "Q-3"]
    assert 'href="/own/visits/Q-3?crew=a"' in beside
    assert 'action="/own/visits/Q-1/decision?crew=a"' in page
    assert 'href="/own/visits/Q-1?crew=a"' in three.get("/own/?crew=a").text


def test_a_decision_goes_to_the_next_and_is_told_there(three):
    sent = {"token": token(three), "answer": "hold", "reason": "waits for the port"}
    answer = three.post("/own/visits/Q-1/decision?crew=a", data=sent)
    assert answer.url.path == "/own/visits/Q-3"
    told = answer.text[answer.text.index('class="just"') :][:400]
    assert "Q-1" in told
    assert "held" in told
    assert "waits for the port" in told
    # what is decided goes to the end, and its row says so
    queue = three.get("/own/").text
    order = re.findall(r'class="big" href="/own/visits/(Q-\d)', queue)
    assert order[-1] == "Q-1"
    assert "decided" not in str(answer.url.query.decode()).replace("decided=Q-1", "")


def test_the_last_decision_stays_where_it_was_made(three):
    sent = {"token": token(three), "answer": "hold", "reason": "x"}
    answer = three.post("/own/visits/Q-2/decision?crew=b", data=sent)
    assert answer.url.path == "/own/visits/Q-2"
    assert "held" in answer.text


def test_a_visit_outside_the_filter_still_has_a_page(three):
    page = three.get("/own/visits/Q-2?crew=a&from=99999999999")
    assert page.status_code == 200
    assert "Q-1 ›" in page.text


def test_an_address_is_read_as_far_as_it_makes_sense():
    found = filters_of({"from": "²", "crew": "x" * 300, "flags": "maybe"})
    assert (found.offset, len(found.crew), found.flags) == (0, 80, False)
    assert query_of({"crew": "a b", "strange": "1", "from": "50"}, **{"from": ""}) == (
        "?crew=a+b"
    )
