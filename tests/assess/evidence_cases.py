"""Contexts of traces and readings alone, for the findings on evidence."""

from types import SimpleNamespace

import numpy as np

from eavelight.app.names import known_names
from eavelight.assess import Context, context_of
from eavelight.model.observation import (
    Evidence,
    FileObservation,
    Observations,
    OtherVisit,
)
from eavelight.model.plan import Part, Plan, Plant, Site
from eavelight.standards.profiles import load_profile

PLAN = Plan(
    purpose="turn-up",
    site=Site(key="S-1"),
    plant=Plant(
        pon_class=known_names().pon_classes[0],
        part=(
            Part(name="port", kind="connector"),
            Part(name="terminal", kind="connector"),
        ),
    ),
)


def trace_file(name: str, levels) -> FileObservation:
    """A trace file as a decoder gives it, of nothing but levels."""
    curve = SimpleNamespace(
        samples_db=np.asarray(levels), spacing_m=0.16, first_m=0.0, pulse_ns=10.0
    )
    return FileObservation(
        evidence=Evidence(file=name, what="trace", at="terminal"),
        sha256=name,
        size_bytes=1,
        content=SimpleNamespace(curves=(curve,), supplier=None),
    )


def other(visit, started, files=(), readings=(), *, crew="c") -> OtherVisit:
    return OtherVisit(
        visit=visit,
        site="S-9",
        started=started,
        files=tuple(files),
        readings=tuple(readings),
        crew=crew,
    )


def context(started, files=(), others=(), readings=(), *, crew="c") -> Context:
    observations = Observations(
        started=started, files=tuple(files), readings=tuple(readings), crew=crew
    )
    return context_of("V-1", PLAN, observations, load_profile(), others)
