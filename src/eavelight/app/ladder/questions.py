"""Which questions a plan asks, in the order of the work."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from eavelight.model.kinds import KINDS, STATUS_LINES
from eavelight.model.plan import Part, Plan
from eavelight.standards.pon_classes import pon_class

STAGES = (
    "order", "port", "entry", "fibre", "tray marks", "pigtail", "splice", "slack",
    "faces", "copper", "power", "closed", "outage", "online", "photos", "customer",
    "clean up",
)  # fmt: skip
NUMBER, CHOICE, FLAG, TEXT, TIME = "number", "choice", "flag", "text", "time"
FACE, TRACE, PHOTO, POINT, READ = "face", "trace", "photo", "point", "read"
LOSS_NM = (1310, 1550)
NEAR_NM = 20.0
EVIDENCE_FORMS = (FACE, TRACE, PHOTO)
AFTER_BOTH = "after cleaning both sides"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to find out, with the reading or evidence that answers it.

    `low` and `high` are what such a reading usually is; what lies outside is taken, and
    asked about. `wanted` questions are those that the record cannot do without.
    """

    id: str
    stage: str
    form: str
    what: str = ""
    at: str = ""
    requirement: str = ""
    fixed: Mapping[str, Any] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    wanted: bool = False
    honest: bool = False

    @property
    def unit(self) -> str:
        """The unit of the value, empty where it has none."""
        return (KINDS[self.what].unit or "") if self.what in KINDS else ""

    @property
    def is_evidence(self) -> bool:
        """Whether a file answers it."""
        return self.form in EVIDENCE_FORMS

    @property
    def is_step(self) -> bool:
        """Whether it is a point of no return."""
        return self.form == POINT

    def is_near(self, wavelength_nm: float) -> bool:
        """Whether a trace at this wavelength answers it [nm]."""
        asked = self.fixed.get("wavelength_nm")
        return asked is None or abs(wavelength_nm - float(asked)) < NEAR_NM


def questions_of(plan: Plan) -> tuple[Question, ...]:
    """Every question of a plan, in the order of the work."""
    asks = (
        _order, _port, _entry, _fibre, _marks, _pigtail, _splice, _slack, _faces,
        _copper, _power, _closed, _outage, _online, _photos, _customer, _clean_up,
    )  # fmt: skip
    return tuple(question for ask in asks for question in ask(plan))


def _number(
    id: str,
    stage: str,
    *,
    of: tuple[str, str],
    requirement: str,
    usual: tuple[float, float],
    wanted: bool = False,
    honest: bool = False,
    **fixed: Any,
) -> Question:
    return Question(
        id=id,
        stage=stage,
        form=NUMBER,
        what=of[0],
        at=of[1],
        requirement=requirement,
        low=usual[0],
        high=usual[1],
        wanted=wanted,
        honest=honest,
        fixed=fixed,
    )


def _choice(
    id: str,
    stage: str,
    *,
    of: tuple[str, str],
    requirement: str,
    wanted: bool = False,
    **fixed: Any,
) -> Question:
    what = of[0]
    return Question(
        id=id,
        stage=stage,
        form=CHOICE,
        what=what,
        at=of[1],
        requirement=requirement,
        words=KINDS[what].words,
        wanted=wanted,
        fixed=fixed,
    )


def _face(
    id: str, stage: str, side: str, *, at: str = "terminal", wanted: bool = False
) -> Question:
    return Question(
        id=id,
        stage=stage,
        form=FACE,
        what="endface",
        at=at,
        requirement="endface.grade",
        words=("pass", "fail"),
        wanted=wanted,
        fixed={"side": side},
    )


def _point(step: str, stage: str, at: str) -> Question:
    return Question(
        id=f"before-{step.replace(' ', '-')}",
        stage=stage,
        form=POINT,
        what=step,
        at=at,
        requirement=step,
    )


def _splices(plan: Plan) -> tuple[Part, ...]:
    return tuple(part for part in plan.plant.drop if part.kind == "splice")


def _drop_fibre(plan: Plan) -> str | None:
    return next((p.name for p in plan.plant.drop if p.kind == "fibre"), None)


def _order(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield Question(id="work-order", stage="order", form=READ)
    yield _number(
        "outside-temperature",
        "order",
        of=("temperature", "outside"),
        requirement="housing.cold",
        usual=(-30, 45),
    )


def _port(plan: Plan) -> Iterator[Question]:
    down = round(pon_class(plan.plant.pon_class).down.wavelength_nm)
    yield Question(
        id="port-label",
        stage="port",
        form=TEXT,
        what="port_label",
        at="port",
        requirement="identity.port",
        wanted=True,
        honest=True,
    )
    yield Question(
        id="port-in-use",
        stage="port",
        form=FLAG,
        what="port_in_use",
        at="port",
        requirement="identity.port_in_use",
    )
    yield _number(
        "port-level",
        "port",
        of=("level", "port"),
        requirement="level.expected",
        usual=(-30, -5),
        wanted=True,
        honest=True,
        wavelength_nm=down,
    )
    for side in ("plug", "adapter"):
        yield _choice(
            f"port-polish-{side}",
            "port",
            of=("polish_seen", "port"),
            requirement="identity.polish",
            side=side,
        )
    for side in ("plug", "adapter"):
        yield _face(f"port-face-{side}", "port", side, at="port")


def _entry(plan: Plan) -> Iterator[Question]:
    for number, entry in enumerate(plan.entry, start=1):
        yield Question(
            id=f"entry-{number}",
            stage="entry",
            form=TEXT,
            what="entry_seen",
            at="box",
            requirement="housing.entry",
            fixed={"entry": entry.name},
        )


def _fibre(plan: Plan) -> Iterator[Question]:
    part = _drop_fibre(plan)
    if part is not None:
        yield Question(
            id="fibre-seen",
            stage="fibre",
            form=TEXT,
            what="fibre_seen",
            at=part,
            requirement="identity.fibre",
            honest=True,
        )
        yield _choice(
            "fibre-light",
            "fibre",
            of=("fibre_light", part),
            requirement="identity.fibre",
        )
    yield _point("cut", "fibre", "drop")


def _marks(plan: Plan) -> Iterator[Question]:
    if plan.tray is not None:
        yield Question(id="cut-marks", stage="tray marks", form=READ)


def _pigtail(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield _choice(
        "terminal-polish-plug",
        "pigtail",
        of=("polish_seen", "terminal"),
        requirement="identity.polish",
        side="plug",
    )
    yield _face("terminal-face-plug", "pigtail", "plug", wanted=True)


def _splice(plan: Plan) -> Iterator[Question]:
    for number, part in enumerate(_splices(plan), start=1):
        yield from _one_splice(part.name, "" if number == 1 else f"-{number}")


def _one_splice(name: str, mark: str) -> Iterator[Question]:
    yield _choice(
        f"sleeve-on{mark}",
        "splice",
        of=("sleeve_seen", name),
        requirement="splice.estimate",
        state=("before shrink",),
    )
    for end in ("cable", "pigtail"):
        yield _number(
            f"cleave-{end}{mark}",
            "splice",
            of=("cleave_angle", name),
            requirement="cleave.angle",
            usual=(0, 2),
            end=end,
        )
    yield _point_at(f"before-arc{mark}", name)
    for word in ("before", "after"):
        yield _number(
            f"estimate-{word}{mark}",
            "splice",
            of=("splice_estimate", name),
            requirement="splice.estimate",
            usual=(0, 0.5),
            wanted=word == "after",
            honest=word == "before",
            state=(f"{word} shrink",),
        )
    yield _choice(
        f"sleeve-after{mark}",
        "splice",
        of=("sleeve_seen", name),
        requirement="splice.estimate",
        state=("after shrink",),
    )


def _point_at(id: str, at: str) -> Question:
    return Question(
        id=id, stage="splice", form=POINT, what="arc", at=at, requirement="arc"
    )


def _photo(view: str, stage: str, *, wanted: bool = False) -> Question:
    return Question(
        id=f"photo-{view}",
        stage=stage,
        form=PHOTO,
        what="photo",
        at="",
        requirement="record.complete",
        fixed={"view": view},
        wanted=wanted,
    )


def _slack(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield _number(
        "tray-radius",
        "slack",
        of=("radius", "tray"),
        requirement="bend.radius",
        usual=(5, 100),
    )
    yield _photo("open", "slack", wanted=True)


def _faces(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield _choice(
        "terminal-polish-adapter",
        "faces",
        of=("polish_seen", "terminal"),
        requirement="identity.polish",
        side="adapter",
    )
    yield _face("terminal-face-adapter", "faces", "adapter")
    yield _face("terminal-face-equipment", "faces", "equipment plug")
    yield _point("mate", "faces", "terminal")


def _copper(plan: Plan) -> Iterator[Question]:
    if plan.feed is None:
        return
    for kind in ("ac", "dc"):
        yield _number(
            f"foreign-{kind}",
            "copper",
            of=("foreign_volts", "box"),
            requirement="feed.polarity",
            usual=(-1, 1),
            kind=kind,
        )
    yield _number(
        "insulation",
        "copper",
        of=("insulation", "supply"),
        requirement="feed.polarity",
        usual=(1, 2000),
    )
    yield _number(
        "loop",
        "copper",
        of=("loop_resistance", "supply"),
        requirement="feed.loop",
        usual=(0.05, 50),
        honest=True,
    )


def _power(plan: Plan) -> Iterator[Question]:
    feed = plan.feed
    if feed is None:
        return
    top = 1.3 * max(feed.supply_float_v, feed.terminal_max_v)
    usual = (-top, top)
    for place, requirement in (
        ("supply", "feed.supply"),
        ("terminal", "feed.polarity"),
    ):
        yield _number(
            f"volts-{place}-no-load",
            "power",
            of=("volts", place),
            requirement=requirement,
            usual=usual,
            state=("no load",),
        )
    yield _point("plug in", "power", "supply")
    yield _number(
        "volts-terminal-loaded",
        "power",
        of=("volts", "terminal"),
        requirement="feed.loaded",
        usual=usual,
        wanted=True,
        honest=True,
        state=("loaded",),
        load_w=feed.terminal_peak_w,
    )
    if feed.battery is not None:
        yield _number(
            "battery-temperature",
            "power",
            of=("temperature", "battery"),
            requirement="feed.runtime",
            usual=(-30, 50),
        )


def _closed(plan: Plan) -> Iterator[Question]:
    down = round(pon_class(plan.plant.pon_class).down.wavelength_nm)
    for nm in LOSS_NM:
        yield _number(
            f"open-loss-{nm}",
            "closed",
            of=("loss", "drop"),
            requirement="loss.drop",
            usual=(0, 5),
            wavelength_nm=nm,
            state=("lid open",),
        )
    yield _point("close", "closed", "box")
    for nm in LOSS_NM:
        yield _number(
            f"loss-{nm}",
            "closed",
            of=("loss", "drop"),
            requirement="loss.drop",
            usual=(0, 5),
            wanted=True,
            honest=True,
            wavelength_nm=nm,
            state=("lid closed",),
        )
    yield _number(
        "terminal-level",
        "closed",
        of=("level", "terminal"),
        requirement="level.expected",
        usual=(-30, -5),
        wanted=True,
        honest=True,
        wavelength_nm=down,
        state=("lid closed",),
    )
    for nm in LOSS_NM:
        yield Question(
            id=f"trace-{nm}",
            stage="closed",
            form=TRACE,
            what="trace",
            at="terminal",
            requirement="trace.event",
            fixed={"toward": "port", "wavelength_nm": nm},
        )


def _outage(plan: Plan) -> Iterator[Question]:
    feed = plan.feed
    if feed is None or feed.battery is None:
        return
    top = 1.3 * feed.supply_float_v
    yield _number(
        "volts-battery-rest",
        "outage",
        of=("volts", "battery"),
        requirement="feed.runtime",
        usual=(0, top),
        state=("disconnected",),
    )
    for place in ("supply", "terminal"):
        yield _number(
            f"volts-{place}-battery",
            "outage",
            of=("volts", place),
            requirement="feed.cutoff",
            usual=(0, top),
            state=("mains pulled", "loaded"),
            load_w=feed.terminal_peak_w,
        )
    if not feed.status_lines:
        return
    for state in ("mains pulled", "restored"):
        for line in STATUS_LINES[: feed.status_lines]:
            name = f"line-{line}-{state}".replace(" ", "-")
            yield _choice(
                name,
                "outage",
                of=("status_line", "terminal"),
                requirement="feed.status",
                line=line,
                state=(state,),
            )


def _online(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield Question(
        id="online-at",
        stage="online",
        form=TIME,
        what="terminal_online_at",
        at="terminal",
        requirement="record.complete",
        wanted=True,
    )
    yield Question(
        id="port-registered",
        stage="online",
        form=TEXT,
        what="port_registered",
        at="hub",
        requirement="identity.registered",
        wanted=True,
        honest=True,
    )
    for name, of, requirement in (
        ("level-reported", ("level_reported", "terminal"), "level.reported"),
        ("level-upstream", ("level_upstream", "hub"), "level.upstream"),
    ):
        yield _number(
            name,
            "online",
            of=of,
            requirement=requirement,
            usual=(-35, -5),
            honest=True,
        )
    yield Question(
        id="neighbours",
        stage="online",
        form=FLAG,
        what="neighbours_affected",
        at="hub",
        requirement="identity.port_in_use",
    )
    yield _number(
        "stable",
        "online",
        of=("seconds_stable", "terminal"),
        requirement="record.complete",
        usual=(0, 86_400),
        wanted=True,
    )


def _photos(plan: Plan) -> Iterator[Question]:
    views = ["house", "label-port", "label-house", "closed"]
    if plan.feed is not None:
        views.append("supply")
    for view in views:
        yield _photo(view, "photos", wanted=True)


def _customer(plan: Plan) -> Iterator[Question]:
    if plan.feed is not None:
        yield _choice(
            "backup-choice",
            "customer",
            of=("backup_choice", "supply"),
            requirement="record.complete",
            wanted=True,
        )


def _clean_up(plan: Plan) -> Iterator[Question]:  # noqa: ARG001
    yield Question(
        id="clean-up",
        stage="clean up",
        form=TEXT,
        what="note",
        at="box",
        requirement="record.complete",
    )
