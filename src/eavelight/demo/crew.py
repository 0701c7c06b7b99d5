"""The invented crew's visits: six houses, each visit with a lesson."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import tomli_w

from eavelight.demo.evidence import (
    LABEL,
    LEAD_M,
    face_bytes,
    photo_bytes,
    trace_bytes,
    write_file,
)
from eavelight.demo.plans import Table, visit_table
from eavelight.demo.readings import Log, full_log
from eavelight.demo.truth import CLIP_DB, PINCH_DB, House, Tools

VIEWS = {
    "house": "South wall, box at eye height, garage on the left.",
    "label-port": "Port label reads {port}.",
    "label-house": "House label reads {site}.",
    "open": "Tray open, slack in wide loops.",
    "closed": "Lid closed, both cables enter from below.",
    "supply": "Supply in the garage, battery dated 2026-02.",
}
TRACE_NM = (1310, 1550)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One visit: the truth of the house, and how the crew's record differs from it."""

    number: int
    title: str
    house: House
    bend_nm: dict[int, float] = field(default_factory=dict)
    change: Callable[[Log], None] | None = None
    drop: tuple[tuple[str, str], ...] = ()
    views: tuple[str, ...] = tuple(VIEWS)
    trace_nm: tuple[int, ...] = TRACE_NM
    oily: bool = False
    rehearsal: bool = False
    returns_to: int | None = None
    kink_m: float | None = None

    @property
    def site_number(self) -> int:
        """Number of the house; a return visit goes to an earlier one."""
        return self.returns_to or self.number


def _copper_in_drop(table: Table) -> None:
    """Feed through copper in the sheath of the drop instead of a cord."""
    drop = next(p for p in table["plant"]["part"] if p["name"] == "drop cable")
    table["feed"] |= {
        "length_m": drop["length_m"],
        "awg": 14,
        "shares_sheath_with": "drop cable",
        "construction": "power only",
        "status_lines": 0,
        "return_shared": False,
    }
    table["supply_place"] = []
    del table["feed"]["place"]
    table["entry"] = table["entry"][:1]


def _wrong_port(log: Log) -> None:
    """The drop sits on the neighbour's port, with a perfect level."""
    for entry in log.entries:
        if entry["what"] in {"port_label", "port_registered"}:
            entry["value"] = "4/15"


SCENARIOS = (
    Scenario(
        number=1, title="everything in order", house=House(drop_m=36.0), rehearsal=True
    ),
    Scenario(
        number=2,
        title="slack pinched under the lid; the level at 1490 nm alone would pass",
        house=House(drop_m=42.0, bend_db=PINCH_DB),
        bend_nm=PINCH_DB,
    ),
    Scenario(
        number=3,
        title="a bad crimp: holds on mains, resets on battery",
        house=House(drop_m=48.0, joint_ohm=2.4, rest_v=12.72, battery_v=12.5),
        rehearsal=True,
    ),
    Scenario(
        number=4,
        title="the neighbour's port, with a perfect level; copper in the drop",
        house=House(drop_m=54.0, cord_m=54.0, copper_ohm_per_km=8.285, joint_ohm=0.01),
        change=_wrong_port,
    ),
    Scenario(
        number=5,
        title="left in a hurry: half of the record is missing",
        house=House(drop_m=60.0),
        drop=(
            ("level", "port"),
            ("splice_estimate", "pigtail splice"),
            ("loop_resistance", "supply"),
            ("seconds_stable", "terminal"),
            ("port_registered", "hub"),
            ("backup_choice", "supply"),
        ),
        views=("house", "open"),
        trace_nm=(1310,),
    ),
    Scenario(
        number=6,
        title="called back: a new bend in the drop, found against the accepted visit",
        house=House(drop_m=36.0, bend_db=CLIP_DB),
        bend_nm=CLIP_DB,
        returns_to=1,
        kink_m=21.0,
    ),
    Scenario(
        number=7,
        title="oil on the plug: one dry pass took the dust and left the oil",
        house=House(drop_m=72.0, terminal_db=1.3),
        drop=(("endface_stated", "terminal"),),
        oily=True,
    ),
)


def build_crew(folder: Path) -> Iterator[tuple[Scenario, Path]]:
    """Write every visit folder of the invented crew, one after the other."""
    for scenario in SCENARIOS:
        yield scenario, build_visit(scenario, folder)


def build_visit(scenario: Scenario, folder: Path) -> Path:
    """Write one visit folder and return its path."""
    table = visit_table(scenario.site_number)
    if scenario.returns_to is not None:
        _return_visit(table, scenario)
    if scenario.number == 4:
        _copper_in_drop(table)
    rng = np.random.default_rng(1000 + scenario.number)
    start = table["visit"]["started"]
    log = full_log(
        start, scenario.house, Tools(rng), table, rehearsal=scenario.rehearsal
    )
    if scenario.change is not None:
        scenario.change(log)
    if not any(entry["name"] == "power cord" for entry in table["entry"]):
        log.entries = [e for e in log.entries if e.get("entry") != "power cord"]
    table["reading"] = _missing(scenario, log)
    target: Path = folder / table["visit"]["id"]
    table["evidence"] = _evidence(scenario, table, target, rng)
    target.mkdir(parents=True, exist_ok=True)
    text = f"# {LABEL}: {scenario.title}\n" + tomli_w.dumps(table)
    (target / "visit.toml").write_text(text, encoding="utf-8")
    return target


def _return_visit(table: Table, scenario: Scenario) -> None:
    """The same house eight months later, with the accepted visit as baseline."""
    first = table["visit"]["id"]
    start = table["visit"]["started"] + timedelta(days=240)
    table["visit"] |= {
        "id": f"D-{100 + scenario.number}",
        "purpose": "repair",
        "started": start,
        "ended": start + timedelta(hours=2, minutes=20),
        "baseline": first,
    }


def _missing(scenario: Scenario, log: Log) -> list[Table]:
    entries = log.without(*scenario.drop)
    if scenario.number == 5:
        # the second wavelength and the loaded reading were skipped too
        entries = [
            entry
            for entry in entries
            if not (entry["what"] == "loss" and entry["wavelength_nm"] == 1550)
            and not (entry["what"] == "volts" and entry.get("state") == "loaded")
        ]
    return entries


def _evidence(
    scenario: Scenario, table: Table, target: Path, rng: np.random.Generator
) -> list[Table]:
    start = table["visit"]["started"]
    visit = table["visit"]["id"]
    found = []
    for index, wavelength in enumerate(scenario.trace_nm):
        time = start + timedelta(minutes=70 + 3 * index)
        data = trace_bytes(
            scenario.house,
            wavelength,
            visit=visit,
            time=time,
            rng=rng,
            bend_db=0.0 if scenario.kink_m else scenario.bend_nm.get(wavelength, 0.0),
            kink=(
                (scenario.kink_m, scenario.bend_nm.get(wavelength, 0.0))
                if scenario.kink_m
                else None
            ),
            seed=10 * scenario.site_number,
        )
        found.append(
            {
                "file": write_file(target, f"drop_{wavelength}.sor", data),
                "what": "trace",
                "at": "terminal",
                "toward": "port",
                "lead_m": LEAD_M,
                "lead_fibre": "g652d",
                "time": time,
            }
        )
    found.extend(_faces(scenario, target, start + timedelta(minutes=44)))
    assignment = table["assignment"]
    words = {
        "port": f"{assignment['splitter']}/{assignment['port']}",
        "site": table["site"]["key"],
    }
    for index, view in enumerate(scenario.views):
        text = VIEWS[view].format(**words)
        data = photo_bytes(view, visit=visit, text=text)
        found.append(
            {
                "file": write_file(target, f"photo_{view}.png", data),
                "what": "photo",
                "view": view,
                "time": start + timedelta(minutes=100 + index),
            }
        )
    return found


def _faces(scenario: Scenario, target: Path, time: datetime) -> list[Table]:
    """The plug after cleaning; where it was oily, also before."""
    rounds = [("terminal_plug.png", scenario.oily, time)]
    if scenario.oily:
        earlier = time - timedelta(minutes=4)
        rounds.insert(0, ("terminal_plug_before.png", False, earlier))
    found = []
    for name, cleaned_once, when in rounds:
        before = name.endswith("before.png")
        data = face_bytes(
            scenario.number, dirty=before, cleaned_once=cleaned_once and not before
        )
        item: Table = {
            "file": write_file(target, name, data),
            "what": "endface",
            "at": "terminal",
            "side": "plug",
            "polish": "apc",
            "um_per_px": 0.5,
            "time": when,
        }
        if not before:
            item |= {"cleaning": ["dry"], "cleaned": True}
        found.append(item)
    return found
