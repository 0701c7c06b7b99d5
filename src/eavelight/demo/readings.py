"""A visit's readings in the order of the work, from the truth of the house."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from eavelight.demo.plans import Table
from eavelight.demo.truth import House, Tools

# TIA-598, fibre 1 to 12
COLOURS = (
    "blue", "orange", "green", "brown", "slate", "white", "red", "black", "yellow",
    "violet", "rose", "aqua",
)  # fmt: skip


@dataclass(slots=True)
class Log:
    """Entries as a technician makes them: each a few minutes after the last."""

    start: datetime
    entries: list[Table] = field(default_factory=list)
    minutes: float = 5.0

    def add(
        self, what: str, at: str, value: Any, *, after: float = 2.0, **extra: Any
    ) -> None:
        """One reading, some minutes after the one before it."""
        self.minutes += after
        self.entries.append(
            {
                "id": f"r{len(self.entries) + 1}",
                "what": what,
                "at": at,
                "value": value,
                **extra,
                "time": self.start + timedelta(minutes=self.minutes),
            }
        )

    def without(self, *dropped: tuple[str, str]) -> list[Table]:
        """The entries, less those of the given kinds and places."""
        return [
            entry
            for entry in self.entries
            if (entry["what"], entry["at"]) not in dropped
        ]


LINES = ("on battery", "battery missing", "battery low", "replace battery")
SAYS = {"mains pulled": "on battery", "battery lead off": "battery missing"}


def full_log(
    start: datetime, house: House, tools: Tools, plan: Table, *, rehearsal: bool = False
) -> Log:
    """Every reading of a complete turn-up, with two minutes without mains if asked."""
    log = Log(start)
    _port(log, house, tools, plan)
    _splice(log, tools)
    _faces(log)
    _feed(log, house, tools)
    _light(log, house, tools)
    _online(log, house, plan)
    if rehearsal:
        _rehearsal(log, house, tools)
    return log


def _rehearsal(log: Log, house: House, tools: Tools) -> None:
    """Rest volts, then mains off with the customer watching, then all back."""
    rest = tools.volts(house.rest_v)
    log.add("volts", "battery", rest, unit="V", state="disconnected", after=0.5)
    _lines(log, "")
    for load in (4.4, 8.0):
        _on_battery(log, house, tools, load)
    for state in ("mains pulled", "battery lead off", "restored"):
        _lines(log, state)


def _on_battery(log: Log, house: House, tools: Tools, load_w: float) -> None:
    state = ["mains pulled", "loaded"] if load_w > 5.0 else ["mains pulled"]
    source = house.battery_v - (load_w - 4.4) / 40.0
    values = {"supply": source, "terminal": house.terminal_v(source, load_w)}
    for place, volts in values.items():
        value = tools.volts(volts)
        log.add("volts", place, value, after=0.5, unit="V", state=state, load_w=load_w)


def _lines(log: Log, state: str) -> None:
    """What the terminal shows on each line, sound lines throughout."""
    for line in LINES:
        said = "alarm" if SAYS.get(state) == line else "normal"
        extra = {"state": state} if state else {}
        log.add("status_line", "terminal", said, line=line, after=0.3, **extra)


def _port(log: Log, house: House, tools: Tools, plan: Table) -> None:
    assignment = plan["assignment"]
    port = f"{assignment['splitter']}/{assignment['port']}"
    log.add("temperature", "outside", 9.0, unit="°C")
    log.add("port_label", "port", port)
    log.add("port_in_use", "port", value=False)
    level = tools.level(house.port_dbm(1490))
    log.add("level", "port", level, unit="dBm", wavelength_nm=1490, tool="meter-2")
    for side in ("plug", "adapter"):
        log.add("polish_seen", "port", "apc", side=side, after=0.5)
    for side in ("plug", "adapter"):
        state = "after cleaning both sides"
        log.add("endface_stated", "port", "pass", side=side, state=state, after=0.5)
    seen = f"{assignment['tube']}/{assignment['fibre']}"
    log.add(
        "fibre_seen",
        "drop cable",
        seen,
        colour=COLOURS[assignment["fibre"] - 1],
        strands=plan["tray"]["strands"],
        after=8,
    )
    log.add("fibre_light", "drop cable", "follows")


def _splice(log: Log, tools: Tools) -> None:
    place = "pigtail splice"
    log.add(
        "endface_stated",
        "terminal",
        "pass",
        side="plug",
        state="after cleaning both sides",
        after=3,
    )
    for end in ("cable", "pigtail"):
        angle = tools.degrees(0.35)
        log.add("cleave_angle", place, angle, unit="deg", end=end, attempt=1)
    estimate = round(0.02 + abs(float(tools.rng.normal(0.0, 0.006))), 2)
    log.add(
        "splice_estimate", place, estimate, unit="dB", attempt=1, state="before shrink"
    )
    log.add(
        "splice_estimate", place, estimate, unit="dB", attempt=1, state="after shrink"
    )
    log.add("sleeve_seen", place, "clear", attempt=1, after=0.5)
    log.add("radius", "tray", 35.0, unit="mm")


def _faces(log: Log) -> None:
    for side in ("plug", "adapter"):
        log.add("polish_seen", "terminal", "apc", side=side, after=0.5)
    for side in ("adapter", "equipment plug"):
        state = "after cleaning both sides"
        log.add("endface_stated", "terminal", "pass", side=side, state=state, after=1)


def _feed(log: Log, house: House, tools: Tools) -> None:
    for kind in ("ac", "dc"):
        value = 0.0 if kind == "ac" else 0.1
        log.add("foreign_volts", "box", value, unit="V", kind=kind, after=1)
    log.add("insulation", "supply", 200.0, unit="Mohm", after=1)
    log.add("loop_resistance", "supply", tools.ohm(house.loop_ohm), unit="ohm")
    source = tools.volts(house.float_v)
    log.add("volts", "supply", source, unit="V", state="no load")
    log.add("volts", "terminal", tools.volts(house.float_v), unit="V", state="no load")
    loaded = tools.volts(house.terminal_v(house.float_v, 8.0))
    log.add("volts", "terminal", loaded, unit="V", state="loaded", load_w=8.0)
    log.add("temperature", "battery", 14.0, unit="°C", after=1)


def _light(log: Log, house: House, tools: Tools) -> None:
    state = "lid closed"
    for wavelength in (1310, 1550):
        loss = tools.loss(house.drop_db(wavelength))
        log.add("loss", "drop", loss, unit="dB", wavelength_nm=wavelength, state=state)
    level = tools.level(house.terminal_dbm(1490))
    log.add(
        "level",
        "terminal",
        level,
        unit="dBm",
        wavelength_nm=1490,
        tool="meter-2",
        state=state,
    )
    log.add("entry_seen", "box", "good", entry="drop", after=1)
    log.add("entry_seen", "box", "good", entry="power cord", after=1)


def _online(log: Log, house: House, plan: Table) -> None:
    assignment = plan["assignment"]
    online = log.start + timedelta(minutes=log.minutes + 4)
    log.add("terminal_online_at", "terminal", online, after=5)
    port = f"{assignment['splitter']}/{assignment['port']}"
    log.add("port_registered", "hub", port)
    reported = round(house.terminal_dbm(1490) - 0.6, 1)
    log.add("level_reported", "terminal", reported, unit="dBm")
    up = round(
        2.5 - house.before_port_db(1310) - house.drop_db(1310) + house.port_db, 1
    )
    log.add("level_upstream", "hub", up, unit="dBm")
    log.add("neighbours_affected", "hub", value=False)
    log.add("seconds_stable", "terminal", 840.0, unit="s", after=12)
    log.add("backup_choice", "supply", "accepted")
