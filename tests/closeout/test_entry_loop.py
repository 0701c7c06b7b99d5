"""The drip loop: to scale, the same bytes every time, one drawing per planned entry."""

import re
from dataclasses import replace

import pytest

from eavelight.closeout.entry_figures import entry_loops
from eavelight.closeout.figures.entry_loop import entry_loop, loop_scale
from eavelight.model.plan import Entry, Part, Plan, Plant, Site


def plan(*entries):
    return Plan(
        purpose="turn-up", site=Site(key="S-1"), entry=entries,
        plant=Plant(pon_class="gpon-b+", part=(Part(name="port", kind="connector"),)),
    )  # fmt: skip


CORD = Entry(name="cord", outside_diameter_mm=8.0, loop_width_mm=160)
CROSS = Entry(name="drop", outside_diameter_mm=5.0)


def test_every_planned_entry_has_a_drawing_with_its_own_numbers():
    loops = entry_loops(plan(CORD, CROSS))
    assert set(loops) == {"cord", "drop"}
    assert loops["cord"].needed_label == "needed 160 mm"
    assert loops["drop"].planned_mm is None


@pytest.mark.parametrize(("diameter", "scale"), [(4.0, 1), (8.0, 2), (20.0, 5)])
def test_a_larger_loop_is_drawn_at_a_smaller_scale(diameter, scale):
    loop = next(
        iter(entry_loops(plan(replace(CROSS, outside_diameter_mm=diameter))).values())
    )
    assert loop_scale(loop) == scale


def test_the_paper_is_wide_enough_for_the_loop_at_its_scale():
    pytest.importorskip("matplotlib")
    svg = entry_loop(entry_loops(plan(CORD))["cord"]).decode()
    width_pt = float(re.search(r'<svg[^>]* width="([\d.]+)pt"', svg)[1])
    assert width_pt * 25.4 / 72.0 > (160.0 + 8.0) / 2


def test_the_same_loop_gives_the_same_bytes():
    pytest.importorskip("matplotlib")
    loop = entry_loops(plan(replace(CORD, loop_width_mm=120)))["cord"]
    assert entry_loop(loop) == entry_loop(loop)
