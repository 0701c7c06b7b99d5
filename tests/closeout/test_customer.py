"""The customer sheet: true hours, plain words, one page, only rules in force."""

import re
from datetime import datetime

import pytest
import tomli_w

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import material_of
from eavelight.closeout.customer import customer_sheet
from eavelight.closeout.customer_page import customer_html, customer_pdf
from eavelight.demo.crew import SCENARIOS, build_visit
from eavelight.demo.plans import visit_table

# ids of the visit and the site are names that were given, not abbreviations
ABBREVIATION = re.compile(
    r"\b[A-Z]{2,}\b|\b\d+(\.\d+)? ?(h|V|W|A|Ah|Wh|min|s|m|mm|C|°C)\b|°"
    r"|\b(e\.g|i\.e|etc)\b"
)


def demo_sheet(tmp_path, number):
    scenario = next(item for item in SCENARIOS if item.number == number)
    folder = build_visit(scenario, tmp_path)
    return customer_sheet(material_of(assess_visit(str(folder), alone=True)))


def sheet_of(
    tmp_path, *, choice="accepted", site=None, started=None, places=None, **feed
):
    """The sheet of a visit with hardly more than a plan."""
    table = visit_table(1)
    table["site"] |= site or {}
    if started is not None:
        table["visit"]["started"] = started
        del table["visit"]["ended"]
    table["feed"] |= feed
    table["supply_place"] = places or table["supply_place"]
    for name in [key for key, value in table["feed"].items() if value is None]:
        del table["feed"][name]
    when = table["visit"]["started"]
    table["reading"] = [
        {"id": "a", "what": "loop_resistance", "at": "supply", "value": 1.0,
         "unit": "ohm", "time": when},
        {"id": "b", "what": "backup_choice", "at": "supply", "value": choice,
         "time": when},
    ]  # fmt: skip
    folder = tmp_path / "T-1"
    folder.mkdir(parents=True)
    (folder / "visit.toml").write_text(tomli_w.dumps(table), encoding="utf-8")
    return customer_sheet(material_of(assess_visit(str(folder), alone=True)))


def texts(sheet):
    found = [sheet.title, sheet.unfinished, sheet.hours_title, sheet.hours]
    found += [*sheet.hours_notes, sheet.footer]
    for bar in sheet.bars:
        found += [bar.label, bar.text]
    for part in sheet.parts:
        found += [part.title, part.lead, *part.lines]
    return [text for text in found if text]


def part(sheet, word):
    return next(item for item in sheet.parts if word in item.title)


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5])
def test_no_abbreviation_anywhere(tmp_path, number):
    for text in texts(demo_sheet(tmp_path, number)):
        assert not ABBREVIATION.search(text), text


def test_hours_shrink_with_cold_and_age(tmp_path):
    bars = demo_sheet(tmp_path, 1).bars
    today, cold, old, worst = bars
    assert cold.low_h < today.low_h
    assert old.low_h < today.low_h
    assert worst.low_h < min(cold.low_h, old.low_h)
    assert all(bar.low_h <= bar.high_h for bar in bars)


def test_house_that_does_not_hold_on_battery_promises_no_hours(tmp_path):
    sheet = demo_sheet(tmp_path, 3)
    assert sheet.hours == "Not yet"
    assert sheet.bars == ()
    assert sheet.unfinished


def test_ready_house_is_not_called_unfinished(tmp_path):
    assert demo_sheet(tmp_path, 1).unfinished == ""


def test_hot_place_brings_the_replacement_forward(tmp_path):
    year = re.compile(r"\d{4}")
    hot = [{"name": "attic", "length_m": 24, "low_c": 20, "high_c": 48}]
    mild = sheet_of(tmp_path / "a", place="hall cupboard")
    warm = sheet_of(tmp_path / "b", places=hot, place="attic")
    late, early = (
        int(year.search(part(sheet, "replace").lead)[0]) for sheet in (mild, warm)
    )
    assert early < late


def test_declined_battery_is_said_and_promises_nothing(tmp_path):
    sheet = sheet_of(tmp_path, choice="declined")
    assert sheet.hours == "Not at all"
    assert "no battery backup" in part(sheet, "choice").lines[0]


def test_feed_without_battery_stops_at_once(tmp_path):
    sheet = sheet_of(tmp_path, battery=None)
    assert sheet.hours == "Not at all"
    assert not [item for item in sheet.parts if "replace" in item.title]


def test_lithium_battery_is_named_in_words(tmp_path):
    battery = {"chemistry": "lfp", "capacity_ah": 6.0, "target_hours": 8}
    sheet = sheet_of(tmp_path, battery=battery, place="hall cupboard")
    assert "lithium" in " ".join(part(sheet, "replace").lines)
    for text in texts(sheet):
        assert not ABBREVIATION.search(text), text


def test_battery_that_freezes_at_its_place_is_told(tmp_path):
    sheet = sheet_of(tmp_path, battery={"chemistry": "lfp", "capacity_ah": 6.0})
    assert any("too cold" in note for note in sheet.hours_notes)


OHIO = {"latitude": 41.2, "longitude": -81.4}
LEEDS = {"latitude": 53.8, "longitude": -1.5}
RULES = [
    (OHIO, "2026-04-15T09:00:00-05:00", 0),
    (OHIO, "2018-04-15T09:00:00-05:00", 1),
    (OHIO, "2020-04-15T09:00:00-05:00", 2),
    (LEEDS, "2026-04-15T09:00:00+01:00", 1),
    (LEEDS, "2017-04-15T09:00:00+01:00", 0),
]


@pytest.mark.parametrize(("site", "started", "count"), RULES)
def test_rule_is_told_only_inside_its_dates_and_its_place(
    tmp_path, site, started, count
):
    sheet = sheet_of(tmp_path, site=site, started=datetime.fromisoformat(started))
    rules = [item for item in sheet.parts if "rule" in item.title]
    assert sum(len(item.lines) for item in rules) == count
    for line in [line for item in rules for line in item.lines]:
        assert line.startswith("If your home is in the United ")


def test_rule_whose_dates_are_only_recalled_asks_to_check(tmp_path):
    when = datetime.fromisoformat("2020-04-15T09:00:00-05:00")
    sheet = sheet_of(tmp_path, site=OHIO, started=when)
    assert "Check its current text" in part(sheet, "rule").lines[0]


@pytest.mark.parametrize("number", [1, 3])
def test_paper_has_one_page_and_the_same_bytes_twice(tmp_path, number):
    sheet = demo_sheet(tmp_path, number)
    data = customer_pdf(sheet)
    assert data == customer_pdf(sheet)
    assert re.findall(rb"/Count (\d+)", data)[:1] in ([b"1"], [])
    assert len(re.findall(rb"/Type\s*/Page\b", data)) <= 1


def test_screen_holds_every_sentence_and_fetches_nothing(tmp_path):
    sheet = demo_sheet(tmp_path, 1)
    page = customer_html(sheet).decode("utf-8")
    for text in texts(sheet):
        assert text.replace("'", "&#39;") in page
    assert not re.search(r"<script|https?://|src=|url\(", page)
