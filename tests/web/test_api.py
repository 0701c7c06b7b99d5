"""The interface for devices: what its description promises, under random requests."""

import os

import numpy as np
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import checks
from test_security import VISIT, client, order  # noqa: F401

from eavelight.demo.evidence import trace_bytes
from eavelight.demo.plans import start_of
from eavelight.demo.truth import House
from eavelight.web.demo_shelf import FRESH_ID

FRESH_API = "/api/1" + VISIT
# every address gets this many; the long run of `make torture` asks for more
EXAMPLES = int(os.environ.get("EAVELIGHT_EXAMPLES", "40"))


def test_an_answer_is_taken_once(client):  # noqa: F811
    order(client)
    sent = {"question": "loss-1550", "value": 0.48, "nonce": "aaaaaaaa"}
    first = client.post(f"{FRESH_API}/answers", json=sent)
    assert first.status_code == 201
    again = client.post(f"{FRESH_API}/answers", json=sent)
    assert (again.status_code, again.json()["new"]) == (200, False)
    found = client.get(FRESH_API).json()
    assert found["schema"] == "eavelight.assessment/1"
    loss = [f for f in found["findings"] if f["requirement"] == "loss.drop"]
    assert 0.48 in [f["measured"]["value"] for f in loss if f["measured"]]


def test_a_trace_is_taken_and_read(client):  # noqa: F811
    order(client)
    data = trace_bytes(
        House(),
        1550,
        visit="x",
        time=start_of(9),
        rng=np.random.default_rng(1),
    )
    answer = client.post(
        f"{FRESH_API}/evidence?question=trace-1550&lead_m=150",
        content=data,
        headers={"content-type": "application/octet-stream"},
    )
    assert answer.status_code == 201
    rows = client.get(f"{FRESH_API}/questions").json()["questions"]
    state = next(row["state"] for row in rows if row["id"] == "trace-1550")
    assert state in {"done", "failing"}


def test_random_requests_get_what_the_description_promises(client):  # noqa: F811
    order(client)
    schema = schemathesis.openapi.from_asgi(
        "/api/1/openapi.json", client.app, headers={"host": "testserver"}
    )
    for found in schema.get_all_operations():
        ask(found.ok())


def ask(operation):
    """Random requests to one address: half of them for the visit that is there."""

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(), known=st.booleans())
    def sent(case, known):
        if known:
            case.path_parameters = {"shelf": "own"}
            if "{visit}" in operation.path:
                case.path_parameters["visit"] = FRESH_ID
        case.call_and_validate(
            headers={"host": "testserver"},
            checks=[
                checks.not_a_server_error,
                checks.status_code_conformance,
                checks.content_type_conformance,
                checks.response_schema_conformance,
            ],
        )

    sent()
