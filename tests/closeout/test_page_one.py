"""Page one must do for somebody with twenty seconds."""

import hashlib
import io

import pytest
from pypdf import PdfReader


def first_page(made, kind):
    return PdfReader(io.BytesIO(made(kind).pdf)).pages[0].extract_text()


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("ready", "READY"),
        ("bend", "NOT READY"),
        ("joint", "NOT READY"),
        ("incomplete", "CANNOT TELL YET"),
    ],
)
def test_state_stands_on_the_first_page_with_shape_and_word(made, kind, word):
    one = made(kind).document.page_one
    assert one.state_word == word
    assert f"{one.state_mark} {word}" in first_page(made, kind).replace("\xa0", " ")


def test_a_bend_is_the_reason_and_not_the_level_that_it_causes(made):
    one = made("bend").document.page_one
    assert "a bend" in one.reason
    assert "4.02" in one.reason


def test_a_joint_that_shows_only_under_load_is_the_reason(made):
    assert "a joint" in made("joint").document.page_one.reason


def test_the_first_thing_to_do_stands_on_page_one_of_an_open_visit(made):
    assert "lift the slack" in made("bend").document.page_one.next_step
    assert made("ready").document.page_one.next_step == ""


def test_an_open_answer_names_what_is_missing(made):
    one = made("incomplete").document.page_one
    assert "open" in one.reason
    assert one.open_findings is not None


def test_an_exception_stands_on_page_one_with_who_accepted_it(made):
    text = first_page(made, "bend")
    assert "vent ordered" in text
    assert "desk-2" in text
    assert "2026-05-01" in text


def test_no_exception_is_said_and_not_left_out(made):
    assert made("ready").document.page_one.no_exceptions in made("ready").html


@pytest.mark.parametrize("kind", ["ready", "bend", "incomplete"])
def test_nobody_has_signed_until_there_is_a_seal(made, kind):
    signatures = made(kind).document.page_one.signatures
    assert {row.cells[2] for row in signatures.rows} == {"not signed"}
    assert "not signed" in first_page(made, kind)


def test_hash_on_page_one_is_that_of_the_file_on_disk(made):
    record = (made("bend").folder / "visit.toml").read_bytes()
    digest = hashlib.sha256(record).hexdigest()
    assert made("bend").document.page_one.record_sha256 == digest
    assert digest in first_page(made, "bend")


def test_level_line_is_on_page_one_with_what_was_read(made):
    figure = made("bend").document.page_one.level_line
    assert figure is not None
    assert "−17.6 dBm" in figure.alt.replace("\xa0", " ")
    assert [point.verdict for point in figure.drawing.points] == ["pass", "fail"]
    assert "below expected" in figure.drawing.points[-1].gap_label
