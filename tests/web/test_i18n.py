"""No text is missed: every marked text has its Spanish, every shown text is marked."""

import re
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path
from string import Formatter

import pytest
from test_security import VISIT, client, order, token  # noqa: F401
from texts import WEB, all_texts

from eavelight.model.message import Message
from eavelight.web.i18n import LANGUAGES, Catalogue, parse_po, preferred, speaker, tell
from eavelight.wording import catalogue

PO = {
    item.msgid: item.texts
    for item in parse_po((WEB / "locale" / "es.po").read_text(encoding="utf-8"))
}
LETTERS = re.compile(r"[^\W\d_]{2,}")
# what no language translates: names, units, keys
PLAIN = re.compile(r"Eavelight|English|Español|SHA|dBm?|nm|UTC|Ω|°C|AWG")


def test_every_marked_text_has_its_spanish():
    missing = sorted(text for text in all_texts() if not all(PO.get(text, ("",))))
    assert not missing


def test_no_translation_is_left_over():
    assert not set(PO) - all_texts()


@pytest.mark.parametrize("msgid", sorted(PO))
def test_fields_survive_translation(msgid):
    wanted = {name for _, name, _, _ in Formatter().parse(msgid) if name}
    for text in PO[msgid]:
        assert {name for _, name, _, _ in Formatter().parse(text) if name} == wanted


class Shown(HTMLParser):
    """Texts and spoken attributes of a template that no expression made."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str) -> None:
        self.found.append(data)

    def handle_starttag(self, tag, attrs) -> None:
        self.found += [
            value or ""
            for name, value in attrs
            if name in {"alt", "aria-label", "placeholder", "title"}
        ]


@pytest.mark.parametrize(
    "path", sorted((WEB / "templates").glob("*.j2")), ids=lambda p: p.name
)
def test_no_template_says_anything_that_is_not_marked(path: Path):
    text = path.read_text(encoding="utf-8")
    text = re.sub(r"\{% block body_class %\}.*?\{% endblock %\}", "", text)
    bare = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", " ", text, flags=re.S)
    parser = Shown()
    parser.feed(bare)
    said = [t for t in parser.found if LETTERS.search(PLAIN.sub(" ", t))]
    assert not said


def test_scripts_say_nothing_of_their_own():
    for name in ("keep.js", "trace.js"):
        text = (WEB / "static" / name).read_text(encoding="utf-8")
        told = re.findall(r"textContent = (.+);", text)
        assert not [t for t in told if re.search(r"[\"'][A-Za-z]{3,}", t)]


def test_a_sentence_that_a_language_lacks_is_marked_as_english(monkeypatch):
    told = Message("state.ready")
    assert "lang" not in tell(told, "es")
    monkeypatch.setattr("eavelight.web.i18n.catalogue", lambda _: {})
    assert tell(told, "es") == '<span lang="en">READY</span>'


def test_a_sentence_inside_another_falls_back_with_it(monkeypatch):
    inner = Message("verify.invented")
    told = Message("record.complete.decide_by", {"missing": (inner,)})
    english = {**catalogue("en"), inner.id: "something invented"}
    books = {"en": english, "es": catalogue("es")}
    # the room names its function like the module that holds it
    module = import_module("eavelight.wording.catalogue")
    monkeypatch.setattr(module, "catalogue", lambda name: books[name])
    assert tell(told, "es") == '<span lang="en">Add: something invented.</span>'


def test_a_chosen_language_goes_before_an_accepted_one():
    assert preferred("es-MX,es;q=0.9,en;q=0.8", "") == "es"
    assert preferred("es-MX", "en") == "en"
    assert preferred("xx", "../../etc") == "en"
    assert set(LANGUAGES) == {"en", "es"}


def test_number_forms():
    spanish = Catalogue("es")
    one = "{n} visit is still being looked at."
    many = "{n} visits are still being looked at."
    assert "visitas" in spanish.ngettext(one, many, 2)
    assert "visitas" not in spanish.ngettext(one, many, 1)


def test_pages_of_a_visit_are_spanish_throughout(client):  # noqa: F811
    order(client)
    client.cookies.set("eavelight_language", "es")
    for page in ("", "?all=yes", "/plan", "/ladder", "/ladder/work-order", "/handover"):
        text = client.get(f"{VISIT}{page}").text
        assert '<html lang="es">' in text
        assert '<span lang="en">' not in text, page
        for english in (" the ", "Measure ", "planned", "expected", "Nobody"):
            assert english not in text, (page, english)


def test_words_among_the_values_are_told_in_the_language():
    message = Message("identity.polish.fail", {"subject": "port", "seen": "blue"})
    message = Message(message.id, {**message.values, "expected": "apc"})
    assert "puerto" in tell(message, "es")
    assert "azul" in tell(message, "es")
    assert "angular" in tell(message, "es")
    assert "port" in tell(message, "en")


def test_a_closeout_speaks_the_language_of_the_page_and_english_on_demand(client):  # noqa: F811
    order(client)
    sent = {"token": token(client), "value": "pass"}
    client.post(f"{VISIT}/ladder/terminal-face-plug", data=sent)
    here = f"{VISIT}/document/closeout.html"
    spanish = client.get(here, headers={"accept-language": "es"}).text
    assert 'lang="es"' in spanish
    assert "clavija: pasa" in spanish
    assert "plug: pass" not in spanish
    english = client.get(f"{here}?language=en", headers={"accept-language": "es"}).text
    assert 'lang="en"' in english
    assert "plug: pass" in english


def test_words_that_are_joined_in_one_value_are_told_one_by_one():
    message = Message("x", {"seen": ("drop: good, power cord: good",)})
    told = speaker("es")(message).values["seen"]
    assert told == ["acometida: bien, cordón de alimentación: bien"]
    assert speaker("en")(message) is message


def test_the_desk_signs_in_the_language_of_the_document(client):  # noqa: F811
    order(client)
    sent = {"token": token(client), "answer": "hold", "reason": "x"}
    client.post(f"{VISIT}/decision", data=sent)
    here = f"{VISIT}/document/closeout.html"
    spanish = client.get(here, headers={"accept-language": "es"}).text
    assert "Mesa de calidad" in spanish
    assert "Quality desk" not in spanish
    assert "Quality desk" in client.get(here).text
