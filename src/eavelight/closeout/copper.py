"""Along the copper: volts on mains and at battery cut-off, and where it collapses."""

import math

from eavelight.assess.feed_resistance import loaded, on_battery, planned_loop
from eavelight.assess.selection import Placed
from eavelight.closeout.document import Block, Figure, Paragraph, Row, Section, Table
from eavelight.closeout.figures import VoltsCurve, VoltsLine, VoltsPoint
from eavelight.closeout.level_story import worst
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import column, finding_blocks
from eavelight.model.plan import Feed
from eavelight.power.feed import (
    collapse_voltage_v,
    feed_current_a,
    terminal_voltage_v,
)
from eavelight.wording import quantity


def copper_section(material: Material) -> Section | None:
    """The feed; None where none is planned."""
    feed = material.visit.plan.feed
    if feed is None:
        return None
    ohm = resistance_ohm(material, feed)
    about = material.findings_about("feed.", "evidence.length_agrees")
    blocks: list[Block] = [
        Paragraph(text=_intro(material, feed, ohm)),
        _volts_figure(material, feed, ohm),
        _volts_table(material, feed, ohm),
    ]
    blocks += finding_blocks(material, about)
    return Section(title=material.say("closeout.section.copper"), blocks=tuple(blocks))


def resistance_ohm(material: Material, feed: Feed) -> float:
    """The resistance that counts: shown by readings, else the plan's."""
    shown = material.resistance
    return shown.ohm if shown is not None else planned_loop(feed)[0]


def _intro(material: Material, feed: Feed, ohm: float) -> str:
    plan, _ = planned_loop(feed)
    load = feed.terminal_peak_w
    shown = material.resistance
    name = "planned"
    if shown is not None:
        name = "shown_joint" if shown.disagree else "shown"
    kind = "" if shown is None else material.word(shown.kind)
    return " ".join(
        (
            material.say("closeout.copper.intro", length=feed.length_m, plan=plan),
            material.say(f"closeout.copper.{name}", ohm=ohm, kind=kind),
            material.say(
                "closeout.copper.collapse",
                volts=float(collapse_voltage_v(ohm, load)),
                load=load,
            ),
        )
    )


def _supplies(feed: Feed) -> tuple[tuple[str, float], ...]:
    return (("mains", feed.supply_float_v), ("cutoff", feed.supply_cutoff_v))


def _volts(supply_v: float, ohm: float, load_w: float) -> float | None:
    volts = float(terminal_voltage_v(supply_v, ohm, load_w))
    return volts if math.isfinite(volts) else None


def _volts_table(material: Material, feed: Feed, ohm: float) -> Table:
    rows = []
    loads = (("idle", feed.terminal_idle_w), ("peak", feed.terminal_peak_w))
    for state, supply in _supplies(feed):
        for size, load in loads:
            case = (supply, ohm, load)
            rows.append(_volts_row(material, feed, f"{state}_{size}", case))
    return Table(
        title=material.say("closeout.copper.table"),
        columns=(
            column(material, "state", weight=2.2),
            column(material, "supply", right=True),
            column(material, "load", right=True),
            column(material, "current", right=True),
            column(material, "terminal", right=True),
            column(material, "needs", weight=1.6, right=True),
        ),
        rows=tuple(rows),
    )


def _volts_row(
    material: Material, feed: Feed, name: str, case: tuple[float, float, float]
) -> Row:
    supply, ohm, load = case
    volts = _volts(supply, ohm, load)
    enough = volts is not None and volts >= feed.terminal_min_v
    current = float(feed_current_a(supply, ohm, load)) if volts is not None else None
    collapses = material.say("closeout.copper.collapses")
    return Row(
        cells=(
            material.say(f"closeout.copper.{name}"),
            quantity(supply, "V"),
            quantity(load, "W"),
            "" if current is None else quantity(current, "A"),
            collapses if volts is None else quantity(volts, "V"),
            material.say("bound.low", low=quantity(feed.terminal_min_v, "V")),
        ),
        mark="" if enough else "fail",
    )


def _volts_figure(material: Material, feed: Feed, ohm: float) -> Figure:
    line = volts_data(material, feed, ohm)
    return Figure(
        name="volts-line",
        drawing=line,
        alt=_alt(material, feed, line),
        caption=material.say("closeout.volts_line.caption", load=feed.terminal_peak_w),
    )


def volts_data(material: Material, feed: Feed, ohm: float) -> VoltsLine:
    """The data of the volts line."""
    say, load = material.say, feed.terminal_peak_w
    collapse = float(collapse_voltage_v(ohm, load))
    curves = []
    for name, supply in _supplies(feed):
        volts = _volts(supply, ohm, load)
        end = say("closeout.volts_line.collapses")
        if volts is not None:
            end = say("closeout.volts_line.end", volts=volts)
        curves.append(
            VoltsCurve(
                label=say(f"closeout.volts_line.{name}"),
                end_label=end,
                supply_v=supply,
                terminal_v=volts,
                below_min=volts is not None and volts < feed.terminal_min_v,
            )
        )
    return VoltsLine(
        length_m=feed.length_m,
        curves=tuple(curves),
        points=_points(material, feed),
        minimum_v=feed.terminal_min_v,
        minimum_label=say("closeout.volts_line.minimum", value=feed.terminal_min_v),
        collapse_v=collapse,
        collapse_label=say("closeout.volts_line.collapse", value=collapse),
        x_label=say("closeout.volts_line.x"),
        y_label=say("closeout.volts_line.y"),
    )


def _points(material: Material, feed: Feed) -> tuple[VoltsPoint, ...]:
    """Volts that count, read on the feed as it works; lifted leads are not of it."""
    found = []
    for place, at in (("supply", 0.0), ("terminal", feed.length_m)):
        for item in material.context.current("volts", place):
            if {"disconnected", "battery lead off"} & set(item.reading.state):
                continue
            if item.reading.number > 0:
                found.append(_point(material, item, at))
    return tuple(found)


def _point(material: Material, item: Placed, at_m: float) -> VoltsPoint:
    reading = item.reading
    about = [
        finding
        for finding in material.findings_about("feed.loaded", "feed.supply")
        if reading.id in finding.observations
    ]
    states = [str(word) for word in reading.state if word in {"no load", "loaded"}]
    if on_battery(item):
        states.append("on battery")
    text = material.say("closeout.volts_line.point", value=reading.number)
    return VoltsPoint(
        at_m=at_m,
        value_v=reading.number,
        u_v=material.u_of(reading) or 0.0,
        label=", ".join([text, *states]),
        verdict=worst(about) if about else "",
        told=at_m > 0 and loaded(item),
    )


def _alt(material: Material, feed: Feed, line: VoltsLine) -> str:
    say = material.say
    curves = []
    for name, curve in zip(("mains", "cutoff"), line.curves, strict=True):
        kind = "alt_collapse" if curve.terminal_v is None else "alt_curve"
        curves.append(
            say(
                f"closeout.volts_line.{kind}",
                name=say(f"closeout.volts_line.name_{name}"),
                supply=curve.supply_v,
                end=curve.terminal_v,
            )
        )
    points = [
        say(
            "closeout.volts_line.alt_point",
            place=material.place("supply" if point.at_m == 0 else "terminal"),
            value=point.value_v,
        )
        for point in line.points
    ]
    return say(
        "closeout.volts_line.alt",
        length=feed.length_m,
        load=feed.terminal_peak_w,
        curves=" ".join(curves),
        minimum=line.minimum_v,
        collapse=line.collapse_v,
        points=" ".join(points) or say("closeout.volts_line.alt_none"),
    )
