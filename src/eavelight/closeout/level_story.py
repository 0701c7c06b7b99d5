"""The level line of one visit: what was expected, what was read, and the gap."""

import numpy as np
from numpy.typing import NDArray

from eavelight.assess.selection import Placed
from eavelight.closeout.document import Figure
from eavelight.closeout.figures import LevelLine, LevelPoint
from eavelight.closeout.material import Material
from eavelight.light.levels import Levels
from eavelight.model.finding import Finding
from eavelight.wording import shown

GAP_TOLD_DB = 0.5


def level_figure(material: Material) -> Figure | None:
    """The level line with its text alternative; None where nothing can be expected."""
    line = level_data(material)
    if line is None:
        return None
    wavelength = material.expectation.down_nm
    return Figure(
        name="level-line",
        drawing=line,
        alt=_alt(material, line, wavelength),
        caption=material.say("closeout.level_line.caption", wavelength=wavelength),
    )


def level_data(material: Material) -> LevelLine | None:
    """The data of the level line."""
    expectation = material.expectation
    levels = expectation.levels
    if levels is None:
        return None
    column = levels.wavelengths_nm.tolist().index(expectation.down_nm)
    loss = expectation.path.loss_db[:, expectation.path.column(expectation.down_nm)]
    expected = levels.expected_dbm[:, column]
    low, high = levels.band_dbm()
    starts = np.concatenate([expected[:1], expected[1:] + loss])
    floor, ceiling = expectation.pon.floor(), expectation.pon.ceiling()
    say = material.say
    return LevelLine(
        places=(material.place("hub"), *levels.places[1:]),
        expected_dbm=_floats(expected),
        starts_dbm=_floats(starts),
        low_dbm=_floats(low[:, column]),
        high_dbm=_floats(high[:, column]),
        points=_points(material, levels),
        y_label=say("closeout.level_line.y"),
        x_label=say("closeout.level_line.x"),
        line_label=say("closeout.level_line.line"),
        floor_dbm=floor.value if floor else None,
        floor_label=say("closeout.level_line.floor", value=floor.value)
        if floor
        else "",
        ceiling_dbm=ceiling.value if ceiling else None,
        ceiling_label=(
            say("closeout.level_line.ceiling", value=ceiling.value) if ceiling else ""
        ),
    )


def _floats(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _points(material: Material, levels: Levels) -> tuple[LevelPoint, ...]:
    selection = material.context.selection
    current = {id(item) for item in selection.current}
    down = material.expectation.down_nm
    return tuple(
        _point(material, levels, item, superseded=id(item) not in current)
        for item in selection.all_of("level")
        if item.reading.wavelength_nm == down
    )


def _point(
    material: Material, levels: Levels, item: Placed, *, superseded: bool
) -> LevelPoint:
    reading = item.reading
    row = 0 if reading.at == "hub" else levels.row(reading.at)
    place = levels.places[row]
    expected, _ = levels.at(place, material.expectation.down_nm)
    gap = reading.number - expected
    verdict = _verdict(material, reading.id)
    name = "below" if reading.below else "point"
    told = not reading.below and (abs(gap) >= GAP_TOLD_DB or verdict == "fail")
    return LevelPoint(
        place=row,
        value_dbm=reading.number,
        u_db=material.u_of(reading) or 0.0,
        label=material.say(f"closeout.level_line.{name}", value=reading.number),
        verdict=verdict,
        expected_dbm=expected,
        gap_label=_gap(material, gap) if told else "",
        below=reading.below,
        superseded=superseded,
    )


def _gap(material: Material, gap: float) -> str:
    name = "gap_below" if gap < 0 else "gap_above"
    return material.say(f"closeout.level_line.{name}", gap=shown(abs(gap), 1))


def _verdict(material: Material, reading_id: str) -> str:
    """The worst answer that rests on a level reading; undecided where none does."""
    about = [
        item
        for item in material.findings_about("level.expected", "level.window")
        if reading_id in item.observations
    ]
    return worst(about)


def worst(findings: list[Finding]) -> str:
    """The worst verdict of some findings, `undecided` where there are none."""
    verdicts = {item.verdict.value for item in findings}
    for verdict in ("fail", "undecided", "pass"):
        if verdict in verdicts:
            return verdict
    return "undecided"


def _alt(material: Material, line: LevelLine, wavelength: int) -> str:
    current = [point for point in line.points if not point.superseded]
    points = " ".join(_point_alt(material, line, point) for point in current)
    return material.say(
        "closeout.level_line.alt",
        wavelength=wavelength,
        start=line.expected_dbm[0],
        end=line.expected_dbm[-1],
        limits=line.floor_dbm is not None and line.ceiling_dbm is not None,
        floor=line.floor_dbm,
        ceiling=line.ceiling_dbm,
        points=points or material.say("closeout.level_line.alt_none"),
    )


def _point_alt(material: Material, line: LevelLine, point: LevelPoint) -> str:
    return material.say(
        f"closeout.level_line.alt_{'below' if point.below else 'point'}",
        place=line.places[point.place],
        value=point.label,
        gap=point.value_dbm - point.expected_dbm,
        expected=point.expected_dbm,
    )
