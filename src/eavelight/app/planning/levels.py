"""Levels, losses, class window, slack, hazard: everything about the light path."""

from dataclasses import dataclass

from eavelight.app.planning.numbers import BAND_PROBABILITY, Span
from eavelight.assess.context import Context
from eavelight.assess.expectation import Expectation, expectation_of
from eavelight.light.levels import Launch, Levels
from eavelight.light.path import Path
from eavelight.light.statistical import loss_quantile_db
from eavelight.model.observation import Observations
from eavelight.model.visit import Visit
from eavelight.standards.pon_classes import Direction, PonClass
from eavelight.standards.profiles import Profile

ByWavelength = dict[int, Span]
PROVISIONAL = {"seen", "stated", "computed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassWindow:
    """What the class allows in one direction; levels None where it has no limits."""

    id: str
    name: str
    document: str
    edition: str
    confidence: str
    wavelength_nm: int
    odn_min_db: float
    odn_max_db: float
    floor_dbm: float | None
    ceiling_dbm: float | None

    @property
    def provisional(self) -> bool:
        """Whether the numbers were only recalled."""
        return self.confidence not in PROVISIONAL


@dataclass(frozen=True, slots=True, kw_only=True)
class LightPlan:
    """The light path as planned.

    `levels` are those of the plan alone, by place and wavelength; `given` those that
    follow from levels already read nearer the line terminal, where there are any.
    """

    wavelengths_nm: tuple[int, ...]
    down_nm: int
    up_nm: int
    launch: Launch | None
    terminal_launch: Launch | None
    levels: dict[str, ByWavelength]
    given: dict[str, ByWavelength]
    losses: dict[str, ByWavelength]
    upstream: Span | None
    window: ClassWindow
    up_window: ClassWindow
    expectation: Expectation


def plan_light(
    visit: Visit, profile: Profile, further_nm: tuple[int, ...]
) -> LightPlan:
    """Levels and losses at every part, at test and service wavelengths."""
    found = Expectation(plan=visit.plan, profile=profile, further_nm=further_nm)
    pon = found.pon
    return LightPlan(
        wavelengths_nm=found.wavelengths_nm,
        down_nm=found.down_nm,
        up_nm=found.up_nm,
        launch=found.launch,
        terminal_launch=found.terminal_launch,
        levels={} if found.levels is None else level_spans(found.levels),
        given=_given(visit, profile),
        losses={
            "drop": loss_spans(found.path.drop()),
            "path": loss_spans(found.path),
        },
        upstream=_upstream(found),
        window=class_window(pon, pon.down),
        up_window=class_window(pon, pon.up),
        expectation=found,
    )


def _given(visit: Visit, profile: Profile) -> dict[str, ByWavelength]:
    """Levels that follow from readings nearer the line terminal, at their light."""
    context = Context(
        visit=visit.head.id,
        plan=visit.plan,
        observations=Observations(
            started=visit.head.started, readings=visit.readings, files=()
        ),
        profile=profile,
    )
    found = expectation_of(context)
    upstream = [item for item in found.readings if item.at != "terminal"]
    if found.levels is None or not upstream:
        return {}
    return {
        place: {found.down_nm: spans[found.down_nm]}
        for place, spans in level_spans(found.levels).items()
    }


def level_spans(levels: Levels) -> dict[str, ByWavelength]:
    """Every place and wavelength; no band reaches beyond the worst cases."""
    low, high = levels.band_dbm(BAND_PROBABILITY)
    return {
        place: {
            round(float(nm)): Span(
                value=float(levels.expected_dbm[row, column]),
                u=float(levels.expected_u_db[row, column]),
                low=float(max(low[row, column], levels.lowest_dbm[row, column])),
                high=float(min(high[row, column], levels.highest_dbm[row, column])),
                worst_low=float(levels.lowest_dbm[row, column]),
                worst_high=float(levels.highest_dbm[row, column]),
            )
            for column, nm in enumerate(levels.wavelengths_nm)
        }
        for row, place in enumerate(levels.places)
    }


def loss_spans(path: Path) -> ByWavelength:
    """Loss of a stretch at each wavelength, statistical beside worst case."""
    tail = (1.0 - BAND_PROBABILITY) / 2.0
    shape = {
        "mean_db": path.total_db,
        "sigma_db": path.total_u_db,
        "third": path.total_third,
    }
    low, high = loss_quantile_db(tail, **shape), loss_quantile_db(1.0 - tail, **shape)
    return {
        round(float(nm)): Span(
            value=float(path.total_db[column]),
            u=float(path.total_u_db[column]),
            low=float(max(low[column], path.total_least_db[column])),
            high=float(min(high[column], path.total_worst_db[column])),
            worst_low=float(path.total_least_db[column]),
            worst_high=float(path.total_worst_db[column]),
        )
        for column, nm in enumerate(path.wavelengths_nm)
    }


def class_window(pon: PonClass, side: Direction) -> ClassWindow:
    """One direction of a class."""
    return ClassWindow(
        id=pon.id,
        name=pon.name,
        document=pon.document,
        edition=pon.edition,
        confidence=side.confidence,
        wavelength_nm=round(side.wavelength_nm),
        odn_min_db=side.odn_min_db,
        odn_max_db=side.odn_max_db,
        floor_dbm=side.rx_floor_dbm,
        ceiling_dbm=side.rx_ceiling_dbm,
    )


def _upstream(found: Expectation) -> Span | None:
    """The terminal's light as it arrives at the line terminal."""
    if found.upstream is None:
        return None
    last = found.upstream.places[-1]
    return level_spans(found.upstream)[last][found.up_nm]
