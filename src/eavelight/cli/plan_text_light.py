"""The lines of the plan about light: levels, losses, slack, other light, hazard."""

from collections.abc import Iterator, Sequence

from eavelight.app.plan_visit import PlannedVisit
from eavelight.app.planning.numbers import Span
from eavelight.model.message import Message
from eavelight.wording import quantity, say, shown, with_uncertainty

TO = " to "
LOSS_NM = (1310, 1550)
"""Wavelengths of the loss test; the rest is shown on request."""


def row(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Cells in columns; the tab says that the line is a row."""
    return "\t" + "".join(
        f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)
    )


def _said(name: str) -> str:
    return say(Message(name))


def spread(value: float, u: float, decimals: int) -> str:
    """A number with two standard uncertainties, for columns."""
    return f"{shown(value, decimals)} ± {shown(2.0 * u, decimals)}"


def span(low: float, high: float, decimals: int) -> str:
    """Two numbers as a range."""
    return f"{shown(low, decimals)}{TO}{shown(high, decimals)}"


def level_lines(planned: PlannedVisit, *, everything: bool) -> Iterator[str]:
    """Expected levels where the technician reads them, with the class window."""
    light = planned.light
    if not light.levels:
        yield _said("plan.level.no_launch")
    else:
        widths = (16, 7, 22, 18, 18)
        words = ("place", "", "expected", "band", "worst")
        heads = [
            _said(f"plan.level.columns_{word}") if word else "nm" for word in words
        ]
        yield row(heads, widths)
        for place in _places(planned, everything=everything):
            yield row(_level_row(place, light.down_nm, light.levels[place]), widths)
        if light.upstream is not None:
            up = {light.up_nm: light.upstream}
            yield row(_level_row(_said("plan.level.up"), light.up_nm, up), widths)
    yield " ".join([*_window(planned), *_given(planned)])


def _places(planned: PlannedVisit, *, everything: bool) -> list[str]:
    levels = planned.light.levels
    return list(levels) if everything else ["port", "terminal"]


def _level_row(place: str, nm: int, spans: dict[int, Span]) -> list[str]:
    level = spans[nm]
    return [
        place,
        str(nm),
        spread(level.value, level.u, 1),
        span(level.low, level.high, 1),
        span(level.worst_low, level.worst_high, 1),
    ]


def _window(planned: PlannedVisit) -> Iterator[str]:
    light, window = planned.light, planned.light.window
    if window.floor_dbm is None or window.ceiling_dbm is None:
        yield say(Message("plan.level.window_none", {"name": window.name}))
        return
    yield say(
        Message(
            "plan.level.window",
            {
                "name": window.name,
                "low": window.floor_dbm,
                "high": window.ceiling_dbm,
                "least": window.odn_min_db,
                "most": window.odn_max_db,
                "provisional": window.provisional,
            },
        )
    )
    if planned.opened.visit.plan.plant.launch_dbm is None and light.levels:
        yield _said("plan.level.unstated")
    if light.levels:
        level = light.levels["terminal"][light.down_nm].value
        if not window.floor_dbm <= level <= window.ceiling_dbm:
            yield _said("plan.level.outside")


def _given(planned: PlannedVisit) -> Iterator[str]:
    light = planned.light
    if not light.given:
        return
    level = light.given["terminal"][light.down_nm]
    readings = planned.opened.visit.readings
    places = dict.fromkeys(
        item.at
        for item in readings
        if item.what == "level"
        and item.at != "terminal"
        and item.wavelength_nm == light.down_nm
    )
    text = with_uncertainty(level.value, level.u, "dBm")
    yield say(Message("plan.level.given", {"places": tuple(places), "level": text}))


def loss_lines(planned: PlannedVisit, *, everything: bool) -> Iterator[str]:
    """Loss of drop and path at the test wavelengths, worst case beside."""
    light = planned.light
    losses = light.losses
    widths = (9, 26, 12, 26, 12)
    worst = _said("plan.loss.worst")
    yield row(
        [
            "nm",
            _said("plan.loss.columns_drop"),
            worst,
            _said("plan.loss.columns_path"),
            worst,
        ],
        widths,
    )
    shown_nm = {*LOSS_NM, light.down_nm}
    for nm in light.wavelengths_nm:
        if not everything and nm not in shown_nm:
            continue
        drop, path = losses["drop"][nm], losses["path"][nm]
        yield row(
            [
                str(nm),
                spread(drop.value, drop.u, 2),
                shown(drop.worst_high, 2),
                spread(path.value, path.u, 1),
                shown(path.worst_high, 1),
            ],
            widths,
        )


def slack_lines(planned: PlannedVisit) -> Iterator[str]:
    """Stored loops: what they lose and how long they last."""
    for item in planned.slack:
        report = item.report
        column = report.wavelength_nm.index(1550.0)
        loop = say(
            Message(
                "plan.slack.loop",
                {
                    "at": item.loop.at,
                    "turns": item.loop.turns,
                    "radius": item.loop.radius_mm,
                    "fibre": item.loop.fibre,
                    "low": shown(float(report.loss.low_db[column]), 2),
                    "high": float(report.loss.high_db[column]),
                    "decade": -report.risk_30_years.decade,
                },
            )
        )
        words = [loop]
        if item.loop.radius_mm < report.keep.radius_mm:
            keep = {"radius": report.keep.radius_mm}
            words.append(say(Message("plan.slack.keep", keep)))
        if "loss proves nothing" in report.warnings:
            words.append(_said("plan.slack.proves_nothing"))
        yield " ".join(words)


def service_lines(planned: PlannedVisit) -> Iterator[str]:
    """Other light on the fibre: what a meter shows and what suits all."""
    found = planned.services
    if found is None:
        return
    for item in found.services:
        level = item.levels["terminal"]
        yield say(
            Message(
                "plan.services.one",
                {
                    "name": item.name,
                    "wavelength": item.wavelength_nm,
                    "level": with_uncertainty(level.value, level.u, "dBm"),
                },
            )
        )
    yield say(
        Message("plan.services.broadband", {"level": found.broadband_dbm["terminal"]})
    )
    own = found.services[0]
    worst = max(own.isolation_db.items(), key=lambda pair: pair[1], default=None)
    if worst is not None:
        yield say(
            Message(
                "plan.services.filter",
                {"name": own.name, "other": worst[0], "isolation": worst[1]},
            )
        )
    if found.shared_db is not None:
        low, high = found.shared_db
        name = "shared" if low <= high else "none_shared"
        yield say(
            Message(
                f"plan.services.{name}",
                {
                    "low": low,
                    "high": high,
                    "loss": own.loss_db,
                    "suits": found.suits_all,
                },
            )
        )


def hazard_lines(planned: PlannedVisit) -> Iterator[str]:
    """Hazard level of ends that this job opens."""
    ends = {
        place: planned.hazard[place].level
        for place in ("port", "terminal")
        if place in planned.hazard
    }
    for level in sorted(set(ends.values())):
        places = tuple(place for place, found in ends.items() if found == level)
        yield say(Message("plan.light.hazard", {"level": level, "places": places}))
    if "1M" in ends.values():
        yield _said("plan.light.hazard_1m")
    if "3B" in ends.values():
        yield _said("plan.light.hazard_3b")


def volts(value: float | None) -> str:
    """Volts, or the word for a feed that collapses."""
    return _said("plan.feed.collapses") if value is None else quantity(value, "V")
