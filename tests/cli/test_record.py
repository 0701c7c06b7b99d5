"""import, export and verify at the command line, in the user's own store."""

import json
import os
from pathlib import Path

import pytest
from tests.app.conftest import clean_table, write

from eavelight.cli.entry import run


@pytest.fixture
def folder(tmp_path):
    return write(clean_table(), tmp_path / "visits" / "D-101")


def told(capsys, *arguments):
    code = run([str(item) for item in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_import_assess_closeout_verify_by_id(folder, tmp_path, capsys):
    code, out, _ = told(capsys, "import", folder)
    assert (code, "new observations" in out) == (0, True)
    assert told(capsys, "assess", "D-101")[0] == 0
    assert told(capsys, "plan", "D-101")[0] == 0
    code, out, _ = told(capsys, "verify", "D-101")
    assert (code, "nothing here is sealed" in out) == (0, True)
    pytest.importorskip("jinja2")
    pytest.importorskip("matplotlib")
    assert told(capsys, "closeout", "D-101", "-o", tmp_path / "c.html")[0] == 0
    code, out, _ = told(capsys, "verify")
    assert code == 0
    assert "1 seal" in out
    assert "not under a seal" not in out


def test_store_and_key_lie_in_the_users_data_folder(folder, capsys):
    told(capsys, "import", folder)
    data = Path(os.environ["XDG_DATA_HOME"]) / "eavelight"
    (key,) = (data / "keys").iterdir()
    assert (data / "record.db").is_file()
    if os.name == "posix":
        assert key.stat().st_mode & 0o777 == 0o600
        assert data.stat().st_mode & 0o077 == 0


def test_export_and_verify_against_it_show_a_record_cut_short(folder, tmp_path, capsys):
    import sqlite3

    store, bundle = tmp_path / "r.db", tmp_path / "b.eave"
    told(capsys, "import", folder, "--store", store)
    code, out, _ = told(capsys, "export", "D-101", "-o", bundle, "--store", store)
    head = next(word for word in out.split() if len(word) == 64)
    assert code == 0
    with sqlite3.connect(store) as connection:
        connection.execute("DROP TRIGGER observation_no_delete")
        connection.execute(
            "DELETE FROM observation WHERE seq = (SELECT max(seq) FROM observation)"
        )
    connection.close()
    code, out, _ = told(capsys, "verify", "--store", store, "--against", bundle)
    assert code == 1
    assert "which b.eave names, is missing here" in out
    assert "lacks guards" in out
    code, out, _ = told(capsys, "verify", "D-101", "--store", store, "--head", head)
    assert (code, head[:8] in out) == (1, True)


def test_json_of_all_three(folder, tmp_path, capsys):
    _, out, _ = told(capsys, "import", folder, "--json")
    assert json.loads(out)["visits"][0]["visit"] == "D-101"
    _, out, _ = told(capsys, "export", "--every", "-o", tmp_path / "o.eave", "--json")
    assert list(json.loads(out)["heads"]) == ["D-101"]
    _, out, _ = told(capsys, "verify", tmp_path / "o.eave", "--json")
    assert json.loads(out)["places"][0]["clean"] is True


def test_store_is_read_from_the_environment(folder, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("EAVELIGHT_STORE", f"sqlite:///{tmp_path}/env.db")
    told(capsys, "import", folder)
    assert (tmp_path / "env.db").is_file()
    assert told(capsys, "assess", "D-101", "--alone")[0] == 0


def test_visits_of_the_store_are_compared(folder, tmp_path, capsys):
    told(capsys, "import", folder)
    table = clean_table()
    table["visit"] |= {"id": "D-999"}
    for name in ("started", "ended"):
        table["visit"][name] = table["visit"][name].replace(year=2027)
    table["reading"], table["evidence"] = [], table["evidence"][:1]
    later = write(table, tmp_path / "elsewhere" / "D-999")
    copied = table["evidence"][0]["file"]
    (later / copied).write_bytes((folder / copied).read_bytes())
    _, out, _ = told(capsys, "assess", later, "--json")
    (found,) = (
        item
        for item in json.loads(out)["findings"]
        if item["requirement"] == "evidence.duplicate"
    )
    assert found["verdict"] == "fail"
    assert "D-101" in found["because"]


@pytest.mark.parametrize(
    ("arguments", "code", "text"),
    [
        (["verify"], 65, "import a visit first"),
        (["export", "-o", "x.eave"], 64, "--every"),
        (["import", "nowhere"], 65, "nothing there"),
        (["import", "nowhere", "--store", "mysql://x/y"], 65, "sqlite:///FILE"),
    ],
)
def test_what_cannot_be_done_is_one_line(arguments, code, text, capsys):
    result, _, err = told(capsys, *arguments)
    assert (result, text in err, err.count("\n")) == (code, True, 1)


def test_unknown_id_says_where_it_was_looked_for(folder, capsys):
    told(capsys, "import", folder)
    code, _, err = told(capsys, "assess", "D-404")
    assert code == 65
    assert "D-404" in err
    assert "record.db" in err
