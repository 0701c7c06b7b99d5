"""Guards: hosts, origins, tokens, sizes, headers, uploads, people."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from starlette.testclient import TestClient

from eavelight.demo.evidence import photo_bytes
from eavelight.demo.plans import start_of
from eavelight.web.demo_shelf import FRESH_ID, fresh_table
from eavelight.web.server import create_app, make_site
from eavelight.web.site import Settings

VISIT = f"/own/visits/{FRESH_ID}"


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    with made(tmp_path, monkeypatch) as found:
        yield found


def made(folder: Path, monkeypatch: Any, *, shared: bool = False) -> TestClient:
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    settings = Settings(
        store=str(folder / "record.db"),
        hosts=("testserver",),
        folder=folder / "web",
        shared=shared,
    )
    return TestClient(create_app(make_site(settings)))


def token(client: TestClient, page: str = "/") -> str:
    found = re.search(r'name="token" value="(\w+)"', client.get(page).text)
    assert found
    return found[1]


def order(client: TestClient) -> None:
    text = tomli_w.dumps(fresh_table(start_of(9)))
    answer = client.post("/own/new", data={"token": token(client), "text": text})
    assert answer.status_code == 200


def readings(client: TestClient) -> str:
    return client.get(f"{VISIT}/visit.toml").text


def test_every_answer_carries_the_strict_headers(client):
    order(client)
    for page in ("/", "/own/", VISIT, f"{VISIT}/ladder", "/own/visits/none", "/ping"):
        headers = client.get(page).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers


def test_pages_hold_no_inline_script_or_style(client):
    order(client)
    for page in ("/", "/own/", VISIT, f"{VISIT}/ladder", f"{VISIT}/plan"):
        text = client.get(page).text
        assert " style=" not in text
        assert "<style" not in text
        assert not re.search(r"<script(?! src=)", text)
        assert not re.search(r"\son\w+=", text)
        assert not re.search(r'(?:src|href|action)="(?:https?:)?//', text)


@pytest.mark.parametrize("host", ["evil.example", "testserver.evil.example", ""])
def test_other_hosts_are_refused(client, host):
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_posts_from_other_pages_are_refused(client, headers):
    form = {"token": token(client)}
    assert client.post("/demo/open", data=form, headers=headers).status_code == 403


@pytest.mark.parametrize("wrong", ["", "0" * 64, None])
def test_a_form_without_its_token_changes_nothing(client, wrong):
    order(client)
    form = {"value": "9", "nonce": "aaaaaaaa"}
    if wrong is not None:
        form["token"] = wrong
    answer = client.post(f"{VISIT}/ladder/outside-temperature", data=form)
    assert answer.status_code == 403
    assert "reading" not in readings(client)


def test_a_token_of_another_session_is_refused(client):
    mine = token(client)
    client.cookies.clear()
    assert client.post("/demo/open", data={"token": mine}).status_code == 403


def test_too_many_bytes_are_refused(client):
    form = {"token": token(client), "text": "x" * 300_000}
    assert client.post("/own/new", data=form).status_code == 413


def test_more_bytes_than_announced_are_refused(client):
    def stream():
        for _ in range(60):
            yield b"x" * 10_000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/own/new", content=stream(), headers=headers)
    assert answer.status_code in {403, 413}


def test_the_same_entry_twice_is_one(client):
    order(client)
    form = {"token": token(client), "value": "9", "nonce": "aaaaaaaa"}
    for _ in range(2):
        client.post(f"{VISIT}/ladder/outside-temperature", data=form)
    assert readings(client).count("[[reading]]") == 1
    # another value is another entry, even from a form that was kept
    client.post(f"{VISIT}/ladder/outside-temperature", data=form | {"value": "8"})
    assert readings(client).count("[[reading]]") == 2


def upload(client: TestClient, data: bytes, name: str = "a.png") -> Any:
    return client.post(
        f"{VISIT}/ladder/photo-house",
        data={"token": token(client), "nonce": "bbbbbbbb"},
        files={"file": (name, data, "text/html")},
    )


@pytest.mark.parametrize(
    "data",
    [b"<html><script>alert(1)</script>", b"MZ\x90", b"%PDF-1.7", b"GIF89a", b"\0" * 99],
)
def test_a_file_is_told_by_its_content(client, data):
    order(client)
    assert upload(client, data, "house.png").status_code == 422
    assert "evidence" not in readings(client)


def test_a_broken_picture_is_refused_with_the_reason(client):
    order(client)
    answer = upload(client, b"\x89PNG\r\n\x1a\n" + b"\0" * 500)
    assert answer.status_code == 422
    assert "could not be read" in answer.text


def test_the_name_of_a_file_plays_no_part(client):
    order(client)
    data = photo_bytes("house", visit="x", text="x")
    assert upload(client, data, "../../../etc/passwd").status_code == 200
    text = readings(client)
    assert "passwd" not in text
    assert re.search(r'file = "evidence/photo-house-[0-9a-f]{12}\.png"', text)


def test_evidence_is_served_so_that_it_cannot_act(client):
    order(client)
    data = photo_bytes("house", visit="x", text="x")
    upload(client, data)
    page = client.get(VISIT).text
    link = re.search(r'href="(/own/visits/[^"]+/file/[0-9a-f]{16})"', page)
    answer = client.get(link[1])
    assert answer.content == data
    assert answer.headers["content-type"] == "image/png"
    assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("path", ["/static/../server.py", "/static/%2e%2e/server.py"])
def test_nothing_beside_the_assets_is_served(client, path):
    assert client.get(path).status_code == 404


def test_text_of_people_is_never_markup(client):
    order(client)
    form = {"token": token(client), "why_not": "<b onclick=x>\"'&", "nonce": "cccccccc"}
    client.post(f"{VISIT}/ladder/loss-1310", data=form)
    text = client.get(VISIT).text
    assert "<b onclick" not in text
    assert "&lt;b onclick" in text


def test_a_fault_of_the_program_tells_nothing(client, monkeypatch):
    from eavelight.web.pages import queue

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(queue, "page", broken)
    quiet = TestClient(client.app, raise_server_exceptions=False)
    answer = quiet.get("/own/")
    assert answer.status_code == 500
    assert "secret" not in answer.text


def test_others_must_sign_in_and_roles_hold(tmp_path, monkeypatch):
    from eavelight.app.access import Access

    with made(tmp_path, monkeypatch, shared=True) as client:
        site = client.app.state.site
        access = Access(site.own.live.record.store)
        for name, role in (("ann", "reader"), ("bo", "technician"), ("cy", "desk")):
            access.add_person(name, role, f"long enough {name}")
        assert client.get("/own/").url.path == "/who"
        assert client.get("/api/1/own/visits").status_code == 401
        wrong = {"token": token(client, "/who"), "name": "bo", "key": "no"}
        assert client.post("/who", data=wrong).status_code == 401

        def sign_in(name: str) -> None:
            client.cookies.clear()
            form = {"token": token(client, "/who"), "name": name}
            client.post("/who", data=form | {"key": f"long enough {name}"})

        sign_in("ann")
        assert client.get("/own/").status_code == 200
        assert client.get("/own/new").status_code == 403
        sign_in("bo")
        order(client)
        reason = {"token": token(client), "answer": "hold", "reason": "x"}
        assert client.post(f"{VISIT}/decision", data=reason).status_code == 403
        chosen = {"token": token(client), "visit": ["D-109"]}
        assert client.post("/own/accept", data=chosen).status_code == 403
        assert "formaction" not in client.get("/own/").text
        sign_in("cy")
        reason["token"] = token(client)
        assert client.post(f"{VISIT}/decision", data=reason).status_code == 200


def test_on_loopback_nobody_is_asked_to_sign_out(client):
    order(client)
    for page in ("/", VISIT, f"{VISIT}/ladder", f"{VISIT}/plan"):
        assert "/leave" not in client.get(page).text


def test_work_goes_on_after_an_end(client):
    order(client)
    for act in ("begin", "finish"):
        client.post(f"{VISIT}/{act}", data={"token": token(client)})
    assert "ended" in readings(client)
    client.post(f"{VISIT}/go-on", data={"token": token(client)})
    assert "ended" not in readings(client)
