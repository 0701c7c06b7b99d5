"""Two visits beside each other: both sides alike, from every note about them."""

from datetime import timedelta

import pytest
import tomli_w
from test_security import client, token  # noqa: F401

from eavelight.demo.evidence import photo_bytes
from eavelight.demo.plans import start_of
from eavelight.web.demo_shelf import fresh_table


@pytest.fixture
def two(client):  # noqa: F811
    """The same photo sent for two houses, and one level read alike in both."""
    photo = photo_bytes("supply", visit="C-1", text="invented")
    for number, name in enumerate(("C-1", "C-2")):
        table = fresh_table(start_of(9) + timedelta(days=number))
        table["visit"] |= {"id": name}
        table["site"] |= {"key": f"S-{number}"}
        sent = {"token": token(client), "text": tomli_w.dumps(table)}
        assert client.post("/own/new", data=sent).status_code == 200
        here = f"/own/visits/{name}/ladder"
        files = {"file": ("x.png", photo, "image/png")}
        client.post(f"{here}/photo-supply", data={"token": token(client)}, files=files)
        loop = {"token": token(client), "value": str(1.02 + number)}
        client.post(f"{here}/loop", data=loop)
        level = {"token": token(client), "value": "-15.9"}
        client.post(f"{here}/port-level", data=level)
    return client


def test_a_note_about_another_visit_leads_to_both_sides(two):
    text = two.get("/own/visits/C-2").text
    assert 'href="/own/visits/C-2/compare/C-1"' in text
    assert "1 other visit to compare:" in text


def test_both_sides_are_shown_alike(two):
    for one, other in (("C-2", "C-1"), ("C-1", "C-2")):
        text = two.get(f"/own/visits/{one}/compare/{other}").text
        for name in (one, other):
            assert f'<img class="piece" src="/own/visits/{name}/small/' in text
        assert "1 of 2 are equal." in text
        assert "1.02 Ω" in text
        assert "2.02 Ω" in text


def test_words_accuse_nobody(two):
    for page in ("/own/visits/C-2", "/own/visits/C-2/compare/C-1"):
        text = two.get(page).text.lower()
        for word in ("copied", "fraud", "fake", "cheat"):
            assert word not in text


def test_a_visit_is_not_compared_with_itself_or_with_nothing(two):
    for other in ("C-2", "none"):
        assert two.get(f"/own/visits/C-2/compare/{other}").status_code == 404
