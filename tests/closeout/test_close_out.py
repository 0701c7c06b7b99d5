"""The use case and the command: where a document is written, and where it is not."""

import os

import pytest
from click.testing import CliRunner

from eavelight.app.close_out import OutputError, close_out, write_whole
from eavelight.cli.closeout import closeout
from eavelight.cli.entry import run


def test_the_suffix_chooses_the_form(visit, tmp_path):
    folder = visit("incomplete")
    pdf = close_out(str(folder), tmp_path / "a.PDF", alone=True)
    page = close_out(str(folder), tmp_path / "a.html", alone=True)
    assert pdf.path.read_bytes().startswith(b"%PDF-")
    assert page.path.read_bytes().startswith(b"<!doctype html>")
    assert pdf.state == page.state == "undecided"


@pytest.mark.parametrize("name", ["a.docx", "a", "a.pdf.txt"])
def test_another_suffix_is_refused_and_the_known_ones_named(visit, tmp_path, name):
    with pytest.raises(OutputError, match=r"\.pdf or \.html"):
        close_out(str(visit("incomplete")), tmp_path / name)


def test_a_folder_that_is_not_there_is_named(visit, tmp_path):
    with pytest.raises(OutputError, match="nowhere"):
        close_out(str(visit("incomplete")), tmp_path / "nowhere" / "a.pdf")


def test_a_folder_in_the_place_of_the_file_is_refused(visit, tmp_path):
    (tmp_path / "a.pdf").mkdir()
    with pytest.raises(OutputError, match="a folder"):
        close_out(str(visit("incomplete")), tmp_path / "a.pdf")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_leave_to_write_is_refused(visit, tmp_path):
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    with pytest.raises(OutputError, match="write"):
        close_out(str(visit("incomplete")), closed / "a.pdf")


def test_a_failed_write_leaves_the_old_file_and_no_half_one(tmp_path, monkeypatch):
    target = tmp_path / "a.html"
    target.write_bytes(b"old")

    def full(self, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("eavelight.app.close_out.Path.write_bytes", full)
    with pytest.raises(OutputError, match="No space"):
        write_whole(target, b"new")
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("suffix", [".pdf", ".html"])
def test_the_customer_sheet_is_another_document(visit, tmp_path, suffix):
    place = str(visit("incomplete"))
    sheet = close_out(place, tmp_path / f"a{suffix}", customer=True)
    closeout_size = close_out(place, tmp_path / f"b{suffix}").size_bytes
    assert 2_000 < sheet.size_bytes < closeout_size


def test_the_command_prints_path_and_state_and_exits_with_zero(visit, tmp_path):
    out = str(tmp_path / "a.html")
    arguments = [str(visit("bend")), "-o", out, "--alone"]
    result = CliRunner().invoke(closeout, arguments, standalone_mode=False)
    assert result.return_value == 0
    assert result.output == f"{out}  NOT READY\n"


def test_the_command_says_in_one_line_what_is_wrong(visit, tmp_path, capsys):
    code = run(["closeout", str(visit("incomplete")), "-o", str(tmp_path / "a.odt")])
    assert code >= 64
    assert capsys.readouterr().err.count("\n") == 1


def test_a_picture_that_is_too_large_takes_no_other_ones_place(visit, monkeypatch):
    from eavelight.app import close_out
    from eavelight.app.assess_visit import assess_visit

    assessed = assess_visit(str(visit("ready")), alone=True)
    every = close_out.material_of(assessed).pictures
    sizes = sorted(
        assessed.opened.evidence_path(item).stat().st_size
        for item in assessed.opened.visit.evidence
        if item.what != "trace"
    )
    monkeypatch.setattr(close_out, "LARGEST_PICTURE_BYTES", sizes[0])
    small = close_out.material_of(assessed).pictures
    assert 0 < len(small) < len(every)
    assert all(every[name] == data for name, data in small.items())
    monkeypatch.setattr(close_out, "LARGEST_PICTURE_BYTES", 0)
    assert not close_out.material_of(assessed).pictures
