"""After page one: everything that was seen, with where it came from."""

import dataclasses
import re

import pytest

from eavelight.closeout import FoundEvent, Signature, closeout_document
from eavelight.closeout.document import Figure, Table
from eavelight.model.kinds import KINDS as READING_KINDS
from eavelight.model.requirements import REQUIREMENTS
from eavelight.wording import catalogue


def blocks(document, kind):
    return [b for s in document.sections for b in s.blocks if isinstance(b, kind)]


def section(document, title):
    return next(s for s in document.sections if s.title == title)


def plain(text):
    return text.replace("\xa0", " ")


def test_every_reading_is_listed_with_unit_and_uncertainty(made):
    table = section(made("bend").document, "All readings").blocks[1]
    values = [plain(row.cells[3]) for row in table.rows]
    assert len(table.rows) == 24
    assert "−17.6 ± 0.4 dBm" in values
    assert "0.14 ± 0.04 dB" in values


def test_a_superseded_reading_is_kept_and_names_what_replaced_it(made):
    table = section(made("ready").document, "All readings").blocks[1]
    marked = {row.cells[6]: row.cells[7] for row in table.rows if row.mark}
    assert marked["splice_estimate-25"] == "superseded by splice_estimate-31"
    assert marked["loss-44"] == "superseded by loss-51"
    assert len(marked) == 2


def test_parts_stand_in_the_order_of_the_path(made):
    titles = [s.title for s in made("bend").document.sections if s.level == 3]
    order = ["port", "drop cable", "pigtail splice", "terminal", "drop"]
    assert [t for t in titles if t in order] == order


def test_stored_events_are_labelled_as_stored(made, material):
    base = material(made("bend").folder)
    document = closeout_document(dataclasses.replace(base, found_events={}))
    figure = next(f for f in blocks(document, Figure) if f.name.startswith("trace"))
    assert "as the instrument stored them" in figure.caption
    assert [mark.number for mark in figure.drawing.marks] == ["1", "2"]
    titles = [table.title for table in blocks(document, Table)]
    assert "Events as stored" in titles


def test_events_of_an_analysis_stand_beside_the_stored_ones(made, material):
    own = FoundEvent(position_m=0.2, drawn_m=150.2, kind="connector", loss_db=0.31)
    base = material(made("bend").folder)
    document = closeout_document(
        dataclasses.replace(base, found_events={"evidence/drop.sor": (own,)})
    )
    titles = [table.title for table in blocks(document, Table)]
    found = "Events found here, counted from the end of the lead"
    assert titles.index(found) < titles.index("Events as stored")
    figure = next(f for f in blocks(document, Figure) if f.name.startswith("trace"))
    assert [mark.position_m for mark in figure.drawing.marks] == [150.2]


def test_seals_replace_the_words_not_signed(made, material):
    seal = Signature(role="Technician", who="t44", state="signed 2026-04-02")
    base = material(made("bend").folder)
    document = closeout_document(dataclasses.replace(base, signatures=(seal,)))
    rows = document.page_one.signatures.rows
    assert [row.cells[2] for row in rows] == ["signed 2026-04-02"]


def test_copper_tells_volts_on_mains_and_at_cutoff_and_the_collapse(made):
    document = made("joint").document
    figure = next(f for f in blocks(document, Figure) if f.name == "volts-line")
    mains, cutoff = figure.drawing.curves
    assert mains.terminal_v == pytest.approx(10.37, abs=0.05)
    assert cutoff.terminal_v is None
    assert "collapses" in figure.alt
    text = section(document, "Along the copper").blocks[0].text
    assert re.search(r"joint", text)


def test_no_copper_and_no_wall_where_none_is_planned_or_found(visit, material):
    folder = visit("incomplete")
    file = folder / "visit.toml"
    text = file.read_text(encoding="utf-8")
    start, end = text.index("[feed]"), text.index("[[reading]]")
    file.write_text(text[:start] + text[end:], encoding="utf-8")
    titles = [s.title for s in closeout_document(material(folder)).sections]
    assert "Along the copper" not in titles


def test_clauses_carry_document_edition_and_how_well_they_are_known(made):
    table = section(made("bend").document, "Clauses used").blocks[1]
    row = next(r for r in table.rows if r.cells[4] == "eavelight_default.loss_drop")
    assert "2026.1" in row.cells[2]
    assert "provisional" in row.cells[3]
    ids = [r.cells[4] for r in table.rows]
    assert "pon.gpon-b+.down.floor" in ids


def test_every_evidence_file_is_listed_with_its_hash(made):
    import hashlib

    folder = made("bend").folder
    table = section(made("bend").document, "Evidence files").blocks[0]
    listed = {row.cells[0]: row.cells[3] for row in table.rows}
    for file in (folder / "evidence").iterdir():
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        assert listed[f"evidence/{file.name}"] == digest


def test_cautions_close_the_document_and_nothing_claims_compliance(made):
    last = made("bend").document.sections[-1]
    assert last.title == "Cautions"
    assert "nothing here states compliance" in last.blocks[0].items[-1]


def test_a_trace_that_cannot_be_read_says_why(visit, material):
    folder = visit("incomplete")
    (folder / "evidence/drop.sor").write_bytes(b"no trace")
    document = closeout_document(material(folder))
    texts = [getattr(b, "text", "") for s in document.sections for b in s.blocks]
    assert any("drop.sor could not be shown" in text for text in texts)
    assert "Notes" in [s.title for s in document.sections]


def test_every_requirement_and_kind_of_reading_has_a_name():
    names = catalogue()
    for id in REQUIREMENTS:
        assert f"requirement_name.{id.replace('.', '_')}" in names
    for kind in READING_KINDS:
        assert f"reading_name.{kind}" in names
