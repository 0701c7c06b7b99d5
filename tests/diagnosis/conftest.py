"""Small cases for the diagnosis: a plain street, readings that a test changes."""

from datetime import UTC, datetime, timedelta

import pytest

from eavelight.diagnosis.case import Case, FeedCase, Mark, Resistance, Seen
from eavelight.light.path import PartPlan, build_path
from eavelight.model.observation import Reading
from eavelight.model.plan import (
    Assignment,
    Battery,
    Feed,
    Part,
    Plan,
    Plant,
    Site,
    Tray,
)
from eavelight.standards.fibre_types import attenuation_default
from eavelight.standards.profiles import load_profile

START = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
NM = (1310, 1490, 1550, 1625)
# what a sound visit of this street reads: levels, losses by wavelength
SOUND_PORT, SOUND_TERMINAL = -15.9, -16.2
SOUND_LOSS = {1310: 0.53, 1490: 0.52, 1550: 0.51, 1625: 0.52}


def street(**changes):
    """A plan with every part that the diagnosis knows."""
    parts = (
        Part(name="feeder", kind="fibre", fibre="g652d", length_m=5800),
        Part(name="splitter", kind="splitter", ratio=32, loss_db=17.0),
        Part(name="port", kind="connector", polish="apc", loss_db=0.25),
        Part(name="drop cable", kind="fibre", fibre="g657a1", length_m=60),
        Part(name="pigtail splice", kind="splice"),
        Part(name="pigtail", kind="fibre", fibre="g652d", length_m=1.5),
        Part(name="terminal", kind="connector", polish="apc", loss_db=0.2),
    )
    feed = Feed(
        supply_float_v=13.6, supply_cutoff_v=11.0, awg=18, length_m=25,
        terminal_idle_w=4.5, terminal_peak_w=8.0, terminal_min_v=10.0,
        terminal_max_v=15.0, battery=Battery(chemistry="vrla", capacity_ah=7.2),
    )  # fmt: skip
    given = {
        "purpose": "turn-up",
        "site": Site(key="S-1"),
        "plant": Plant(pon_class="gpon-b+", part=parts, launch_dbm=3.0),
        "assignment": Assignment(splitter="4", port="12", tube=1, fibre=1),
        "feed": feed,
        "tray": Tray(
            length_mm=150, width_mm=90, winding_radius_mm=35, holder_offset_mm=40,
            sleeve_mm=60, spare_attempts=3,
        ),
    }  # fmt: skip
    return Plan(**(given | changes))


def path_of(plan):
    parts = [
        PartPlan(
            name=p.name,
            kind=p.kind,
            count=p.count,
            loss_db=p.loss_db,
            length_m=p.length_m or 0.0,
            ratio=p.ratio,
            attenuation_db_per_km=(
                {nm: attenuation_default(p.fibre, float(nm))[0] for nm in NM}
                if p.fibre
                else {}
            ),
        )
        for p in plan.plant.part
    ]
    return build_path(parts, NM, defaults=load_profile().part_defaults())


class Bench:
    """Collects what was seen, then makes the case."""

    def __init__(self):
        self.plan = street()
        self.seen, self.marks, self.baseline = [], [], []
        self.resistances = []
        self.circumstances, self.done = set(), set()

    def read(self, what, at, value, *, u=0.05, lid=3, **more):
        minute = len(self.seen)
        reading = Reading(
            id=f"r{minute}", what=what, at=at, value=value,
            time=START + timedelta(minutes=minute), **more,
        )  # fmt: skip
        self.seen.append(Seen(reading=reading, u=u, lid=lid))

    def levels(self, *, port=SOUND_PORT, terminal=SOUND_TERMINAL):
        self.read("level", "port", port, u=0.19, wavelength_nm=1490)
        self.read("level", "terminal", terminal, u=0.19, wavelength_nm=1490)

    def losses(self, excess=None, bands=(1310, 1550), **more):
        for nm in bands:
            value = SOUND_LOSS[nm] + (excess or {}).get(nm, 0.0)
            self.read("loss", "drop", value, wavelength_nm=nm, **more)

    def mark(self, kind, at, *, bad, side=None):
        self.marks.append(Mark(kind=kind, at=at, bad=bad, side=side))

    def ohm(self, kind, value, u=0.03):
        self.resistances.append(Resistance(kind=kind, ohm=value, u_ohm=u, ids=("v",)))

    def case(self):
        feed = FeedCase(
            loop_ohm=1.05, loop_u_ohm=0.02, float_v=13.6, cutoff_v=11.0,
            estimates=tuple(self.resistances),
        )  # fmt: skip
        return Case(
            visit="V-1", plan=self.plan, path=path_of(self.plan), launch=(3.0, 0.3),
            terminal_launch=(2.0, 0.4), down_nm=1490, up_nm=1310,
            seen=tuple(self.seen), marks=tuple(self.marks),
            baseline=tuple(self.baseline), feed=feed if self.plan.feed else None,
            circumstances=frozenset(self.circumstances), done=frozenset(self.done),
        )  # fmt: skip


@pytest.fixture
def bench():
    return Bench()
