"""A visit folder in: every key of the contract, every mistake told at once."""

from pathlib import Path

import pytest

from eavelight.app.names import known_names
from eavelight.app.visit_folder import read_visit_folder
from eavelight.errors import FolderError


def mistakes(folder: Path) -> str:
    with pytest.raises(FolderError) as caught:
        read_visit_folder(folder, known_names())
    return str(caught.value)


def reading(table, what, at=None):
    return next(
        item
        for item in table["reading"]
        if item["what"] == what and at in (None, item["at"])
    )


def test_clean_folder_is_read_whole(clean, save):
    visit = read_visit_folder(save(clean), known_names()).visit
    assert visit.head.id == "D-101"
    assert len(visit.readings) == len(clean["reading"])
    assert [part.name for part in visit.plan.plant.part][-1] == "terminal"
    assert visit.plan.entry[0].from_ == "below"
    assert visit.plan.plant.part[2].loss_db[1550] == 16.7


def test_the_toml_file_itself_may_be_named(clean, save):
    folder = save(clean)
    opened = read_visit_folder(folder / "visit.toml", known_names())
    assert opened.path == folder


def test_all_mistakes_are_told_together(clean, save):
    clean["feed"]["terminal_pek_w"] = clean["feed"].pop("terminal_peak_w")
    clean["plant"]["part"][4]["length_m"] = -3
    reading(clean, "level")["at"] = "prot"
    clean["visit"]["purpose"] = "turnup"
    text = mistakes(save(clean))
    assert "feed.terminal_pek_w" in text
    assert "nearest known name: terminal_peak_w" in text
    assert "plant.part[5] 'drop cable'.length_m" in text
    assert "nearest known name: port" in text
    assert "nearest known name: turn-up" in text
    assert all("visit.toml:" in line for line in text.splitlines())


@pytest.mark.parametrize(
    ("section", "key", "near"),
    [
        ("visit", "tehcnician", "technician"),
        ("site", "lattitude", "latitude"),
        ("assignment", "tubes", "tube"),
        ("tray", "sleave_mm", "sleeve_mm"),
        ("housing", "color", "colour"),
    ],
)
def test_unknown_key_names_the_nearest(clean, save, section, key, near):
    clean[section][key] = 1
    text = mistakes(save(clean))
    assert f"{section}.{key}" in text
    assert near in text


def test_unknown_section_names_the_nearest(clean, save):
    clean["houssing"] = {}
    assert "nearest known name: housing" in mistakes(save(clean))


@pytest.mark.parametrize(
    ("what", "value", "expected"),
    [
        ("level", 40.0, "-80 to 30 dBm"),
        ("loss", 300.0, "-20 to 80 dB"),
        ("volts", 9000.0, "-400 to 400 V"),
        ("cleave_angle", -1.0, "0 to 90 deg"),
        ("loop_resistance", -2.0, "0 to 1e+06 ohm"),
    ],
)
def test_number_out_of_physical_sense_is_refused(clean, save, what, value, expected):
    reading(clean, what)["value"] = value
    assert expected in mistakes(save(clean))


def test_quoted_number_is_not_a_number(clean, save):
    reading(clean, "level")["value"] = "-16.1"
    clean["feed"]["length_m"] = "24"
    text = mistakes(save(clean))
    assert "expected a number, found '-16.1'" in text
    assert "feed.length_m: expected a number, without quotes, found '24'" in text


def test_wrong_unit_is_told(clean, save):
    reading(clean, "volts")["unit"] = "mV"
    assert "expected V, found 'mV'" in mistakes(save(clean))


def test_key_of_another_kind_is_refused(clean, save):
    reading(clean, "level")["attempt"] = 1
    assert "a key of a reading of level" in mistakes(save(clean))


def test_missing_wavelength_is_told(clean, save):
    del reading(clean, "loss")["wavelength_nm"]
    assert "a reading of loss needs it" in mistakes(save(clean))


def test_time_without_offset_is_refused(clean, save):
    item = reading(clean, "level")
    item["time"] = item["time"].replace(tzinfo=None)
    assert "a time with its offset" in mistakes(save(clean))


@pytest.mark.parametrize("name", ["../outside.sor", "/etc/hostname", "a/../../b.png"])
def test_path_that_leaves_the_folder_is_refused(clean, save, name):
    clean["evidence"][0]["file"] = "evidence/house.jpg"
    folder = save(clean)
    text = (folder / "visit.toml").read_text().replace("evidence/house.jpg", name)
    (folder / "visit.toml").write_text(text)
    assert "a path inside the visit folder" in mistakes(folder)


def test_link_that_leaves_the_folder_is_refused(clean, save, tmp_path):
    folder = save(clean)
    (tmp_path / "elsewhere").write_bytes(b"x")
    (folder / "evidence/house.jpg").unlink()
    (folder / "evidence/house.jpg").symlink_to(tmp_path / "elsewhere")
    assert "a path inside the visit folder" in mistakes(folder)


def test_absent_evidence_is_told(clean, save):
    folder = save(clean)
    (folder / "evidence/open.jpg").unlink()
    assert "evidence/open.jpg" in mistakes(folder)


def test_reading_id_used_twice_is_told(clean, save):
    clean["reading"][1]["id"] = clean["reading"][0]["id"]
    assert "an id used once" in mistakes(save(clean))


def test_terminal_must_be_last(clean, save):
    parts = clean["plant"]["part"]
    parts[-1], parts[-2] = parts[-2], parts[-1]
    assert "terminal as the last part" in mistakes(save(clean))


def test_reserved_place_is_no_part_name(clean, save):
    clean["plant"]["part"][0]["name"] = "hub"
    assert "it is a reserved place" in mistakes(save(clean))


def test_cleaning_and_cleaned_must_agree(clean, save):
    clean["evidence"].append(
        {
            "file": "evidence/face.png",
            "what": "endface",
            "at": "terminal",
            "cleaning": ["dry"],
            "cleaned": False,
        }
    )
    assert "cleaned is true exactly when" in mistakes(save(clean))


def test_baseline_is_an_id_never_a_path(clean, save):
    clean["visit"]["baseline"] = "../D-090"
    assert "an id, never a path" in mistakes(save(clean))


def test_own_colour_list_is_a_scheme(clean, save):
    clean["assignment"]["colour_scheme"] = ["blue", "yellow", "red"]
    visit = read_visit_folder(save(clean), known_names()).visit
    assert visit.plan.assignment.colour_scheme == ("blue", "yellow", "red")


def test_syntax_error_names_line_and_column(tmp_path):
    (tmp_path / "visit.toml").write_text("[visit\nid = 3")
    assert "line 1" in mistakes(tmp_path)


def test_bytes_that_are_no_text_are_told(tmp_path):
    (tmp_path / "visit.toml").write_bytes(b"\xff\xfe\x00")
    assert "UTF-8" in mistakes(tmp_path)


def test_empty_folder_is_told(tmp_path):
    assert "a visit folder with a visit.toml" in mistakes(tmp_path)


@pytest.mark.parametrize("value", ["nan", "inf"])
def test_number_that_is_none_is_refused(clean, save, value):
    folder = save(clean)
    text = (folder / "visit.toml").read_text()
    (folder / "visit.toml").write_text(
        text.replace("launch_dbm = 3.2", f"launch_dbm = {value}")
    )
    assert "plant.launch_dbm" in mistakes(folder)


def test_one_word_of_state_is_a_list_of_one(clean, save):
    reading(clean, "level", "terminal")["state"] = "lid closed"
    visit = read_visit_folder(save(clean), known_names()).visit
    states = [r.state for r in visit.readings if r.what == "level"]
    assert ("lid closed",) in states
