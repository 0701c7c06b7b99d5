"""The page: one file, nothing fetched, no script, everything the document says."""

import base64
import re
from html.parser import HTMLParser

import pytest

from eavelight.closeout.readable import each_text

KINDS = ["ready", "bend", "joint", "incomplete"]
VOID = {"meta", "img", "br", "source"}


class Page(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.text, self.open = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@pytest.mark.parametrize("kind", KINDS)
def test_every_picture_has_a_text_alternative(made, kind):
    images = [attrs for tag, attrs in Page(made(kind).html).tags if tag == "img"]
    assert images
    assert all(item["alt"].strip() for item in images)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_fetched_and_nothing_runs(made, kind):
    page = Page(made(kind).html)
    assert page.open == []
    for tag, attrs in page.tags:
        assert tag not in {"script", "link", "iframe", "object", "form"}
        for name in ("src", "srcset", "href"):
            assert attrs.get(name, "data:").startswith("data:")
        assert not any(name.startswith("on") for name in attrs)
    assert "url(" not in made(kind).html


@pytest.mark.parametrize("kind", KINDS)
def test_page_holds_every_text_of_the_document(made, kind):
    page = Page(made(kind).html)
    attributes = [value or "" for _, attrs in page.tags for value in attrs.values()]
    seen = squeezed(" ".join(page.text + attributes))
    document = made(kind).document
    texts = []
    each_text((document.page_one, document.sections), lambda t: texts.append(t) or t)
    drawn = {"image/png", "image/jpeg", "left", "right"}
    missing = [t for t in set(texts) - drawn if squeezed(t) not in seen]
    labels = figure_labels(document)
    assert [t for t in missing if t not in labels] == []


def squeezed(text):
    return re.sub(r"\s+", " ", text).strip()


def figure_labels(document):
    """Texts that stand inside the drawings, and names that are not shown."""
    blocks = [block for section in document.sections for block in section.blocks]
    blocks.append(document.page_one.level_line)
    labels = []
    for block in blocks:
        if hasattr(block, "drawing"):
            each_text(block.drawing, lambda t: labels.append(t) or t)
            labels.append(block.name)
    one = document.page_one
    return {*labels, one.no_exceptions, one.no_level_line, one.state}


def test_record_can_be_taken_out_of_the_page(made):
    page = Page(made("bend").html)
    link = next(attrs for tag, attrs in page.tags if "download" in attrs)
    data = base64.b64decode(link["href"].partition(",")[2])
    assert data == (made("bend").folder / "visit.toml").read_bytes()


def test_page_names_its_language_and_fits_a_telephone(made):
    assert '<html lang="en">' in made("ready").html
    assert 'content="width=device-width, initial-scale=1"' in made("ready").html
    assert "max-width: 640px" in made("ready").html


def test_verdicts_are_told_by_word_and_shape_not_by_colour_alone(made):
    text = " ".join(Page(made("joint").html).text)
    assert "✕ fail" in text
    assert "✓ pass" in text
