"""The figures of a plan: level line, volts along the copper, discharge, walls, tray."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from eavelight.app.close_out import check_writable, write_whole
from eavelight.app.plan_json import deciding_message
from eavelight.app.plan_visit import PlannedVisit
from eavelight.closeout.entry_figures import entry_loops
from eavelight.closeout.figures import (
    WIDE_MM,
    LevelLine,
    VoltsCurve,
    VoltsLine,
    level_line,
    volts_line,
)
from eavelight.closeout.figures.entry_loop import entry_loop
from eavelight.closeout.figures.page import Captioned, figure_page
from eavelight.closeout.figures.span_rows import SpanRow, SpanRows, span_rows
from eavelight.closeout.figures.time_curves import (
    TimeCurve,
    TimeCurves,
    TimeLimit,
    time_curves,
)
from eavelight.closeout.figures.tray_drawing import (
    TrayDrawing,
    drawn_width_mm,
    tray_drawing,
)
from eavelight.closeout.material import as_it_is
from eavelight.model.message import Message
from eavelight.wording import catalogue, languages, quantity, say

FIGURES = ("level", "volts", "discharge", "places", "walls", "tray")
WALL_COLOURS = ("light grey", "white", "dark brown")


def plan_figures(planned: PlannedVisit, *, suffix: str) -> bytes:
    """Every figure that this plan has, on one page."""
    return figure_page(list(_figures(planned)), suffix=suffix)


def write_figures(planned: PlannedVisit, path: Path) -> None:
    """Write the page of figures; the suffix of the path chooses the form."""
    check_writable(path)
    write_whole(path, plan_figures(planned, suffix=path.suffix.lower()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How figures are drawn: width, and the language of their labels.

    `spoken` gives a message with the words among its values in the language.
    """

    width_mm: float = WIDE_MM
    language: str = "en"
    spoken: Callable[[Message], Message] = as_it_is

    def say(self, sentence: str, /, **values: Any) -> str:
        """A label; in English where the language lacks it."""
        message = self.spoken(Message(sentence, values))
        known = self.language in languages()
        if known and sentence in catalogue(self.language):
            return say(message, self.language)
        return say(message)


PAGE = Look()


def _figures(planned: PlannedVisit) -> Iterator[Captioned]:
    head = planned.opened.visit.head.id
    for name in FIGURES:
        drawn = figure_of(planned, name)
        if drawn is not None:
            yield Captioned(
                svg=drawn, caption=f"{head} · {PAGE.say(f'plan.figure.{name}')}"
            )
    for loop in entry_loops(planned.opened.visit.plan).values():
        yield Captioned(svg=entry_loop(loop), caption=f"{head} · {loop.title}")


def figure_of(planned: PlannedVisit, name: str, look: Look = PAGE) -> bytes | None:
    """One figure by its name; None where the plan has none of it."""
    makers = {
        "level": _level,
        "volts": _volts,
        "discharge": _discharge,
        "places": _places,
        "walls": _walls,
        "tray": _tray,
    }
    return makers[name](planned, look) if name in makers else None


def _level(planned: PlannedVisit, look: Look) -> bytes | None:
    """The level line of the plan alone, with band, floor and ceiling."""
    light = planned.light
    if not light.levels:
        return None
    nm = light.down_nm
    spans = [levels[nm] for levels in light.levels.values()]
    values = tuple(span.value for span in spans)
    window = light.window
    return level_line(
        LevelLine(
            places=tuple(light.levels),
            expected_dbm=values,
            starts_dbm=(values[0], *values[:-1]),
            low_dbm=tuple(span.low for span in spans),
            high_dbm=tuple(span.high for span in spans),
            points=(),
            y_label=look.say("plan.figure.level_y"),
            x_label=look.say("plan.figure.level_x"),
            line_label=look.say("plan.figure.level_line", wavelength=nm),
            floor_dbm=window.floor_dbm,
            floor_label=look.say("plan.figure.floor", value=window.floor_dbm),
            ceiling_dbm=window.ceiling_dbm,
            ceiling_label=look.say("plan.figure.ceiling", value=window.ceiling_dbm),
        ),
        width_mm=look.width_mm,
    )


def _volts(planned: PlannedVisit, look: Look) -> bytes | None:
    found = planned.feed
    if found is None:
        return None
    feed = found.feed
    curves = []
    for state, supply in (
        ("float", feed.supply_float_v),
        ("cutoff", feed.supply_cutoff_v),
    ):
        volts = found.volts[state]["peak"]
        ends = "collapses" if volts is None else "end"
        curves.append(
            VoltsCurve(
                label=look.say(f"plan.feed.{state}", volts=supply),
                end_label=look.say(f"plan.figure.{ends}", volts=volts),
                supply_v=supply,
                terminal_v=volts,
                below_min=volts is not None and volts < feed.terminal_min_v,
            )
        )
    return volts_line(
        VoltsLine(
            length_m=feed.length_m,
            curves=tuple(curves),
            points=(),
            minimum_v=feed.terminal_min_v,
            minimum_label=look.say("plan.figure.minimum", value=feed.terminal_min_v),
            collapse_v=found.collapse_v,
            collapse_label=look.say("plan.figure.collapse", value=found.collapse_v),
            x_label=look.say("plan.figure.volts_x"),
            y_label=look.say("plan.figure.volts_y"),
        ),
        width_mm=look.width_mm,
    )


def _discharge(planned: PlannedVisit, look: Look) -> bytes | None:
    """Volts at the terminal as the battery empties, new and warm, new and cold."""
    found = planned.battery
    if found is None or planned.feed is None:
        return None
    feed = planned.feed.feed
    curves = []
    for name, run in found.curves.items():
        celsius = found.cases[name].temperature_c
        for place, volts, thin in (
            ("battery", run.battery_v, True),
            ("terminal", run.terminal_v, False),
        ):
            curves.append(
                TimeCurve(
                    label=look.say(f"plan.figure.at_{place}", temperature=celsius),
                    at_h=run.at_h,
                    value=volts,
                    thin=thin,
                )
            )
    minimum, cutoff = feed.terminal_min_v, feed.supply_cutoff_v
    return time_curves(
        TimeCurves(
            curves=tuple(curves),
            limits=(
                TimeLimit(
                    value=minimum, label=look.say("plan.figure.minimum", value=minimum)
                ),
                TimeLimit(
                    value=cutoff, label=look.say("plan.figure.cutoff", value=cutoff)
                ),
            ),
            x_label=look.say("plan.figure.hours_x"),
            y_label=look.say("plan.figure.volts_y"),
        ),
        width_mm=look.width_mm,
    )


def _places(planned: PlannedVisit, look: Look) -> bytes | None:
    """Hours at each place against the hours asked for, with what decides."""
    found = planned.places
    if found is None:
        return None
    rows = []
    for item in found.results:
        peak = item.cutoff_peak_v
        collapses = math.isnan(peak)
        label = look.say(
            "plan.figure.place",
            name=item.name,
            in_use=item.name == found.in_use,
            because=deciding_message(item.deciding),
            length=item.length_m,
            volts=look.say("plan.feed.collapses") if collapses else quantity(peak, "V"),
        )
        low, high = item.cold_old_h
        rows.append(
            SpanRow(label=label, low=low, high=high, fails=not item.meets_target)
        )
    return span_rows(
        SpanRows(
            rows=tuple(rows),
            mark=found.target_h,
            mark_label=look.say("plan.figure.asked", target=found.target_h),
            x_label=look.say("plan.figure.places_x"),
        ),
        width_mm=look.width_mm,
    )


def _walls(planned: PlannedVisit, look: Look) -> bytes | None:
    """Air in the box over the hot day for each wall, the rating dashed."""
    found = planned.housing
    if found is None or found.house is None:
        return None
    from eavelight.climate.mounting import wall_curves

    house, housing = found.house, found.housing
    colours = {row.colour for row in house.walls}
    colour = next(
        (name for name in (housing.colour, *WALL_COLOURS) if name in colours),
        house.walls[0].colour,
    )
    curves = [
        TimeCurve(
            label=look.say("plan.figure.wall", wall=line.wall, air=line.peak.air_c),
            at_h=tuple(map(float, line.time_h)),
            value=tuple(map(float, line.air_c)),
        )
        for line in wall_curves(house.walls, house.walls_run, colour=colour)
    ]
    run = house.walls_run
    outside = TimeCurve(
        label=look.say("plan.figure.outside"),
        at_h=tuple(map(float, run.time_h)),
        value=tuple(map(float, run.outside_c)),
        thin=True,
    )
    limits: tuple[TimeLimit, ...] = ()
    if housing.rated_high_c is not None and housing.rating_refers_to == "air in box":
        rated = housing.rated_high_c
        label = look.say("plan.figure.rated", value=rated)
        limits = (TimeLimit(value=rated, label=label),)
    return time_curves(
        TimeCurves(
            curves=(*curves, outside),
            limits=limits,
            x_label=look.say("plan.figure.day_x"),
            y_label=look.say("plan.figure.day_y"),
            note=look.say("plan.figure.day_note", colour=colour),
        ),
        width_mm=look.width_mm,
    )


def _tray(planned: PlannedVisit, look: Look) -> bytes | None:
    found = planned.tray
    if found is None or found.plan.drawing is None:
        return None
    plan = found.plan
    sides = {"fibre": plan.cable, "pigtail": plan.pigtail}
    lines = found.plan.drawing
    same = lines.entry == lines.pigtail_entry
    return tray_drawing(
        TrayDrawing(
            lines=lines,
            labels={
                name: look.say(
                    f"plan.figure.tray_{name}", laps=side.laps, length=side.length_mm
                )
                for name, side in sides.items()
                if side is not None
            },
            entry_label=look.say("plan.figure.entry"),
            pigtail_entry_label="" if same else look.say("plan.figure.pigtail_entry"),
            holder_label=look.say("plan.figure.holder", sleeve=lines.sleeve_mm),
            letters=_letters(drawn_width_mm(lines), look),
        )
    )


def _letters(natural_mm: float, look: Look) -> float:
    """How much larger letters are where a drawing to scale is shown smaller."""
    return max(natural_mm / look.width_mm, 1.0) if look.width_mm < WIDE_MM else 1.0
