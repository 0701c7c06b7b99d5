"""Danger on the pages: told on every one until it is settled, in every language."""

from test_security import VISIT, client, order, token  # noqa: F401


def post(client, question, **sent):  # noqa: F811
    data = {"token": token(client), **sent}
    return client.post(f"{VISIT}/ladder/{question}", data=data)


def test_foreign_voltage_is_told_at_once_and_on_every_page(client):  # noqa: F811
    order(client)
    answer = post(client, "foreign-ac", value="40")
    assert answer.status_code == 200
    for page in (answer.text, client.get(f"{VISIT}/ladder/loss-1550").text):
        assert "Danger first" in page
        assert "Do not plug in. Find where the voltage comes from." in page
        assert "Mains: no extension leads" in page
    ladder = client.get(f"{VISIT}/ladder").text
    assert "Danger first" in ladder
    assert "Do now" not in ladder
    assert "Danger · Do not plug in." in client.get(VISIT).text


def test_what_was_settled_is_danger_no_more(client):  # noqa: F811
    order(client)
    post(client, "foreign-ac", value="40")
    # within the same second: of two answers the later one counts
    post(client, "foreign-ac", value="0.1")
    assert "Danger first" not in client.get(f"{VISIT}/ladder").text


def test_danger_is_told_in_spanish_too(client):  # noqa: F811
    order(client)
    post(client, "foreign-ac", value="40")
    page = client.get(f"{VISIT}/ladder", headers={"accept-language": "es"}).text
    assert "Primero el peligro" in page
    assert "No enchufe." in page
