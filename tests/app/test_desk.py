"""The record kept open: entries, undo, decisions, the queue, the limited process."""

import io
from pathlib import Path

import pytest

from eavelight.app.desk import LiveRecord, QueueFilters, Summaries, decide, decision_of
from eavelight.app.desk.decide import DecisionError, accept_exception
from eavelight.app.desk.summaries import summary_of
from eavelight.app.import_export import import_place
from eavelight.app.intake import LimitedDecoder, TooMuchError, content_of
from eavelight.app.ladder import Sent, answer, questions_of
from eavelight.app.record_verify import verify_stored


@pytest.fixture
def live(save, clean, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    clean["evidence"] = []
    folder = save(clean)
    made = LiveRecord(str(tmp_path / "record.db"))
    import_place(made.record, folder)
    yield made
    made.close()


VISIT = "D-101"


def enter(live, question, **values):
    visit = live.visit(VISIT)
    plan = visit.stored.visit.plan
    asked = next(q for q in questions_of(plan) if q.id == question)
    nonce = values.pop("nonce", "abcdef01")
    sent = Sent(nonce=nonce, at=live.moment(visit), values=values)
    entry = answer(asked, sent, plan)
    return entry, live.add(VISIT, entry)


def losses(live):
    return [r for r in live.visit(VISIT).stored.visit.readings if r.what == "loss"]


def test_an_entry_is_there_at_once_and_only_once(live):
    before = len(losses(live))
    assert enter(live, "loss-1550", value="0.6")[1]
    assert not enter(live, "loss-1550", value="0.6")[1]
    assert len(losses(live)) == before + 1


def test_an_undo_stays_in_the_record_and_counts_no_more(live):
    before = losses(live)
    entry, _ = enter(live, "loss-1550", value="0.6")
    assert live.withdraw(VISIT, "reading", entry.item["id"], reason="undone")
    assert losses(live) == before
    assert len(live.visit(VISIT).stored.view.superseded) == 1
    assert not verify_stored(live.record.store, VISIT).problems


def test_an_entry_that_was_taken_back_does_not_return_when_it_is_sent_again(live):
    entry, _ = enter(live, "loss-1550", value="0.6")
    live.withdraw(VISIT, "reading", entry.item["id"], reason="undone")
    assert not enter(live, "loss-1550", value="0.6")[1]
    assert enter(live, "loss-1550", value="0.6", nonce="99999999")[1]


def test_holding_needs_a_reason_and_the_last_decision_counts(live):
    visit = live.visit(VISIT)
    with pytest.raises(DecisionError):
        decide(live, visit, answer="hold", reason=" ", by="cy")
    with pytest.raises(DecisionError):
        decide(live, visit, answer="maybe", reason="x", by="cy")
    decide(live, visit, answer="hold", reason="trace", by="cy")
    decide(live, visit, answer="send back", reason="photo", by="cy")
    found = decision_of(live.record.store, VISIT)
    assert (found.answer, found.reason, found.by) == ("send back", "photo", "cy")


def test_an_accepted_exception_names_who_accepted_it(live):
    enter(live, "before-cut", why_not="no helper")
    visit = live.visit(VISIT)
    note = visit.stored.view.of("exception")[0]
    assert accept_exception(live, visit, recorded=note.recorded.id, by="cy")
    notes = live.visit(VISIT).stored.visit.exceptions
    assert [n.accepted_by for n in notes] == ["cy"]
    assert not accept_exception(live, visit, recorded="0" * 64, by="cy")


def test_the_queue_has_exceptions_first_and_forgets_what_grew(live, tmp_path):
    lines = Summaries(tmp_path / "queue.db")
    assert lines.put_new(live.lines()) == 1
    assert lines.waiting(5) == [VISIT]
    lines.put([summary_of(live, live.visit(VISIT))])
    assert not lines.waiting(5)
    calm = lines.queue(QueueFilters())[0].rank
    enter(live, "before-cut", why_not="no helper")
    assert lines.put_new(live.lines()) == 1
    lines.put([summary_of(live, live.visit(VISIT))])
    assert lines.queue(QueueFilters())[0].rank < calm
    assert not lines.queue(QueueFilters(search="D%"))
    assert lines.queue(QueueFilters(search="D-"))
    lines.close()


def test_a_visit_nobody_knows_is_none(live):
    assert live.visit("none") is None


def test_the_limited_process_says_why_and_outlives_a_bad_file():
    decoder = LimitedDecoder()
    try:
        bad = decoder.look(b"\x89PNG\r\n\x1a\nxxxx", {"what": "photo"})
        assert bad.error is not None
        worse = decoder.look(b"Map\0" + b"\xff" * 200, {"what": "trace", "at": "port"})
        assert worse.error is not None
    finally:
        decoder.close()


def test_a_file_that_takes_too_long_is_stopped(monkeypatch):
    decoder = LimitedDecoder(seconds=0.001)
    try:
        with pytest.raises(TooMuchError):
            decoder.look(b"\x89PNG\r\n\x1a\n" + b"\0" * 5_000_000, {"what": "photo"})
    finally:
        decoder.close()


@pytest.mark.parametrize(
    ("data", "ending"),
    [
        (b"\xff\xd8\xff\xe0", "jpg"),
        (b"RIFF\0\0\0\0WEBP", "webp"),
        (b"RIFF\0\0\0\0WAVE", None),
        (b"Map\0\xc8\0", "sor"),
        (b"<svg", None),
        (b"", None),
    ],
)
def test_content_is_told_by_its_first_bytes(data, ending):
    found = content_of(data)
    assert (found.ending if found else None) == ending


def photo(size, *, orientation=None):
    from PIL import Image

    image = Image.effect_noise(size, 60).convert("RGB")
    exif = Image.Exif()
    if orientation:
        exif[0x0112] = orientation
    stream = io.BytesIO()
    image.save(stream, "JPEG", exif=exif)
    return stream.getvalue()


def test_a_photo_is_made_small_in_the_limited_process():
    Image = pytest.importorskip("PIL.Image")  # noqa: N806
    decoder = LimitedDecoder()
    try:
        data = photo((2400, 1800))
        small = decoder.small(data)
        assert Image.open(io.BytesIO(small)).size == (480, 360)
        assert len(small) < len(data) / 10
        # EXIF 2.3, tag Orientation: 6 is turned a quarter
        turned = decoder.small(photo((2400, 1800), orientation=6))
        assert Image.open(io.BytesIO(turned)).size == (270, 360)
        assert decoder.small(b"\xff\xd8\xff no picture") == b""
        assert decoder.small(b"") == b""
    finally:
        decoder.close()
