"""Entries put right: the same file again, a number with its unit, taken back."""

import re

import numpy as np
from test_security import VISIT, client, order, readings, token  # noqa: F401

from eavelight.demo.evidence import trace_bytes
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
