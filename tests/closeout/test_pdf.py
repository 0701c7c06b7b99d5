"""The PDF: one for decades, the record inside it, the same bytes every time."""

import hashlib
import io
import re

import pytest
from pypdf import PdfReader

from eavelight.closeout import closeout_pdf
from eavelight.closeout.document import Figure, Pictures

KINDS = ["ready", "bend", "joint", "incomplete"]


def reader(made, kind):
    return PdfReader(io.BytesIO(made(kind).pdf))


@pytest.mark.parametrize("kind", KINDS)
def test_attached_record_is_the_file_byte_for_byte(made, kind):
    files = reader(made, kind).attachments
    assert list(files) == ["visit.toml"]
    assert files["visit.toml"] == [(made(kind).folder / "visit.toml").read_bytes()]


def test_metadata_claims_the_archive_form_and_tags(made):
    xmp = reader(made, "bend").xmp_metadata.stream.get_data().decode("utf-8")
    assert re.search(r"pdfaid:part>3<", xmp)
    assert re.search(r"pdfaid:conformance>B<", xmp)
    assert re.search(r"pdfuaid:part>1<", xmp)
    assert reader(made, "bend").trailer["/Root"]["/Lang"] == "en"


def test_document_date_is_the_end_of_the_visit_and_not_today(made):
    created = reader(made, "bend").metadata.creation_date
    assert created.isoformat().startswith("2026-04-02T09:20:00")


def test_same_record_gives_the_same_bytes(made, rendered):
    again = rendered(made("bend").folder)
    assert again.pdf == made("bend").pdf
    assert again.html == made("bend").html


def test_record_hash_stands_at_the_foot_of_every_page_and_none_is_empty(made):
    digest = hashlib.sha256(made("joint").document.record).hexdigest()
    texts = [page.extract_text() for page in reader(made, "joint").pages]
    assert len(texts) > 3
    assert all(digest in text for text in texts)
    assert all(len(text) > 200 for text in texts)


@pytest.mark.parametrize("kind", KINDS)
def test_every_picture_in_the_tags_has_a_text_alternative(made, kind):
    figures = list(tagged(reader(made, kind).trailer["/Root"]["/StructTreeRoot"]))
    document = made(kind).document
    wanted = sum(
        len(block.items) if isinstance(block, Pictures) else isinstance(block, Figure)
        for section in document.sections
        for block in section.blocks
    )
    assert len(figures) >= wanted + 1
    assert all(str(item.get("/Alt", "")).strip() for item in figures)


def tagged(node):
    """Figure elements of the structure tree."""
    node = node.get_object()
    if isinstance(node, list):
        for child in node:
            yield from tagged(child)
    elif hasattr(node, "get"):
        if node.get("/S") == "/Figure":
            yield node
        if "/K" in node:
            yield from tagged(node["/K"])


def test_page_and_pdf_hold_the_same_sentences(made):
    """Cells, sentences and captions of the document, compared without spaces."""
    text = bare("".join(page.extract_text() for page in reader(made, "joint").pages))
    document = made("joint").document
    for section in document.sections:
        assert bare(section.title) in text
        for block in section.blocks:
            for row in getattr(block, "rows", ()):
                for note in row.notes:
                    assert bare(note)[:40] in text


def bare(text):
    return re.sub(r"[\s\u200b]", "", text)


def test_pdf_needs_no_network_and_no_other_font(made):
    fonts = {
        str(font.get_object()["/BaseFont"])
        for page in reader(made, "bend").pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert fonts
    assert all("DejaVuSans" in name for name in fonts)


def test_a_document_of_another_title_gives_other_bytes(made):
    import dataclasses

    other = dataclasses.replace(made("incomplete").document, title="another")
    assert closeout_pdf(other) != made("incomplete").pdf
