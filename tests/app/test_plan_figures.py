"""Figures of a plan: one page, each with its caption, the same bytes twice."""

import re
import xml.etree.ElementTree as ElementTree

import pytest

from eavelight.app.plan_figures import Look, figure_of, plan_figures
from eavelight.app.plan_visit import plan_visit
from eavelight.closeout.figures import NARROW_MM

pytest.importorskip("matplotlib")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def planned(clean, save):
    del clean["housing"]
    return plan_visit(str(save(clean)))


def drawn(data):
    return ElementTree.fromstring(data).findall(f"{SVG}svg")


def test_page_holds_a_caption_and_a_figure_for_each_section(planned):
    # level line, volts, discharge, places, tray, a loop for each of two entries
    assert len(drawn(plan_figures(planned, suffix=".svg"))) == 14


def test_figures_of_what_is_not_planned_are_left_out(clean, save):
    for key in ("housing", "feed", "supply_place", "tray", "entry"):
        del clean[key]
    page = plan_figures(plan_visit(str(save(clean))), suffix=".svg")
    assert len(drawn(page)) == 2


def test_same_plan_same_bytes(planned):
    first = plan_figures(planned, suffix=".svg")
    assert plan_figures(planned, suffix=".svg") == first


@pytest.mark.parametrize(("suffix", "start"), [(".pdf", b"%PDF"), (".png", b"\x89PNG")])
def test_page_as_pdf_and_png(planned, suffix, start):
    pytest.importorskip("typst")
    assert plan_figures(planned, suffix=suffix).startswith(start)


def test_tray_keeps_its_real_size_on_the_page(planned):
    tray = drawn(plan_figures(planned, suffix=".svg"))[9]
    points = float(tray.attrib["width"])
    edge = 6.0
    assert points / 72.0 * 25.4 == pytest.approx(150.0 + 2 * edge, abs=0.1)


def test_the_sun_adds_the_walls(clean, save):
    pytest.importorskip("pvlib")
    page = plan_figures(plan_visit(str(save(clean))), suffix=".svg")
    assert len(drawn(page)) == 16


def test_a_narrow_figure_fits_a_telephone(clean, save):
    planned = plan_visit(str(save(clean)))
    for name in ("level", "volts", "discharge", "places", "walls"):
        wide = width_mm(figure_of(planned, name))
        narrow = width_mm(figure_of(planned, name, Look(width_mm=NARROW_MM)))
        assert (round(wide), round(narrow)) == (150, 88)


def width_mm(svg):
    found = re.search(rb'<svg[^>]* width="([\d.]+)pt"', svg)
    return float(found[1]) / 72 * 25.4


def test_labels_speak_the_language_that_was_asked_for():
    assert Look(language="es").say("state.ready") == "LISTO"
    assert Look(language="xx").say("state.ready") == "READY"


def test_letters_of_the_tray_grow_where_it_is_shown_smaller(planned):
    def letters_pt(look):
        text = figure_of(planned, "tray", look).decode()
        return max(float(size) for size in re.findall(r"scale\(([\d.]+) -", text))

    wide, narrow = letters_pt(Look()), letters_pt(Look(width_mm=NARROW_MM))
    # shown at 88 mm instead of its real size, a letter is as large as on paper
    natural = width_mm(figure_of(planned, "tray"))
    assert narrow / wide == pytest.approx(natural / NARROW_MM, rel=0.01)
