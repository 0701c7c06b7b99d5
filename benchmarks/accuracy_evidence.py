"""How often honest crews are told that their evidence resembles other evidence.

Crews, houses and instruments are simulated: honest meters with the noise and display
of the demo's tools, traces of several instruments over shared and over own fibres.
EAVELIGHT_EVIDENCE_CREWS sets how many crews.
"""

import itertools
import os
from collections import Counter
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np

from eavelight.app.names import known_names
from eavelight.app.visit_folder.read import visit_from_table
from eavelight.assess.assessment import context_of
from eavelight.assess.context import Context
from eavelight.assess.evidence import assess_evidence
from eavelight.assess.evidence_noise import likeness_of, rest_of
from eavelight.assess.evidence_values import digits_chi_squared, last_digits
from eavelight.assess.length import assess_length
from eavelight.demo.plans import visit_table
from eavelight.demo.readings import full_log
from eavelight.demo.trace_simulator import Fibre, Instrument, Joint, simulate_trace
from eavelight.demo.truth import House, Tools
from eavelight.model.observation import (
    Evidence,
    FileObservation,
    Observations,
    OtherVisit,
)
from eavelight.standards.profiles import load_profile

CREWS = 20
VISITS = 41
SEED = 20_260_414
LEAST = 1000
INSTRUMENTS = {
    "10 ns, 0.16 m": Instrument(pulse_ns=10.0, spacing_m=0.16, range_m=900.0),
    "30 ns, 0.5 m": Instrument(pulse_ns=30.0, spacing_m=0.5, range_m=2500.0),
    "100 ns, 1.3 m, slow receiver": Instrument(
        pulse_ns=100.0, spacing_m=1.3, range_m=4000.0, receiver_ns=60.0
    ),
}


def trace(
    instrument: Instrument, rng: np.random.Generator, *, house: int, nm: int = 1550
) -> np.ndarray:
    """Levels of one honest taking; the street's fibres are the same ones each time."""
    plant = (
        Fibre(length_m=150.0, seed=1),
        Joint(kind="connector", loss_db=0.2, reflectance_db=-60.0),
        Fibre(length_m=30.0 + 6.0 * house, seed=100 + house),
        Joint(kind="connector", loss_db=0.2, reflectance_db=-60.0),
        Fibre(length_m=180.0, seed=4),
        Joint(kind="splitter", loss_db=16.8),
        Fibre(length_m=3800.0, seed=5),
        Joint(kind="end", loss_db=0.0),
    )
    return -np.asarray(simulate_trace(plant, instrument, nm, rng=rng).samples_db)


def noise_rates(count: int) -> list[tuple[str, str, str]]:
    """False alarms among honest pairs, and dressed copies found, per instrument."""
    rows, rng = [], np.random.default_rng(SEED)
    for name, instrument in INSTRUMENTS.items():
        taken = [trace(instrument, rng, house=n % 6) for n in range(count)]
        rests = [rest_of(levels) for levels in taken]
        pairs = [
            likeness_of(a, b, least=LEAST) for a, b in itertools.combinations(rests, 2)
        ]
        told = sum(_alike(pair) for pair in pairs)
        highest = max(pair.correlation for pair in pairs if pair)
        rows.append(
            (
                f"noise, {name}: honest pairs told alike",
                f"{told} of {len(pairs)} (highest {highest:.2f})",
                "none",
            )
        )
        found = tries = 0
        for levels, rest in zip(taken, rests, strict=True):
            for copy in _dressed(levels, rng):
                tries += 1
                found += _alike(likeness_of(rest, rest_of(copy), least=LEAST))
        rows.append((f"noise, {name}: dressed copies found", f"{found} of {tries}", ""))
    return rows


def _alike(pair: Any) -> bool:
    limit = load_profile().number("evidence.noise_copied")
    return pair is not None and pair.correlation > max(limit, 6.0 * pair.chance)


def _dressed(levels: np.ndarray, rng: np.random.Generator) -> list[np.ndarray]:
    steps = np.arange(levels.size)
    return [
        levels - rng.uniform(0.1, 2.0) - 1e-4 * steps,
        np.roll(levels, int(rng.integers(1, 20))),
        levels - 0.6 * (steps > rng.integers(200, 1200)),
        np.round(levels, 1),
        levels + rng.normal(0.0, 0.1, levels.size),
    ]


def crew_visits(rng: np.random.Generator, crew: int) -> list[Any]:
    """Honest visits of one crew, a house a day."""
    found = []
    for number in range(VISITS):
        table = visit_table(1 + number % 5)
        table["visit"] |= {"id": f"C{crew}-{number}", "crew": f"crew {crew}"}
        shift = timedelta(days=number)
        for name in ("started", "ended"):
            table["visit"][name] += shift
        house = House(
            drop_m=float(rng.uniform(25, 70)),
            feeder_splices_db=float(rng.uniform(0.15, 0.45)),
            port_db=float(rng.uniform(0.12, 0.35)),
            splice_db=float(rng.uniform(0.0, 0.06)),
            terminal_db=float(rng.uniform(0.12, 0.35)),
            launch_dbm=float(rng.normal(3.2, 0.15)),
            float_v=float(rng.normal(13.6, 0.03)),
            cord_m=24.0,
        )
        log = full_log(table["visit"]["started"], house, Tools(rng), table)
        table["reading"] = log.entries
        found.append(visit_from_table(table, known_names(), shown="simulated"))
    return found


def value_rates(crews: int) -> list[tuple[str, str, str]]:
    """Honest visits told by each finding that needs no file."""
    rng, told, total = np.random.default_rng(SEED), Counter[str](), 0
    crews_told = set()
    for crew in range(crews):
        visits = crew_visits(rng, crew)
        others = [_other(visit) for visit in visits]
        for visit in visits:
            total += 1
            context = _context(visit, others)
            for item in (*assess_evidence(context), *assess_length(context)):
                if str(item.verdict) == "fail":
                    told[item.because.id] += 1
                    if item.because.id.endswith("fail.digits"):
                        crews_told.add(crew)
    names = {
        "runs of equal values": ("evidence.repeated_values.fail.run", "< 1 in 1000"),
        "order of times": ("evidence.order.fail", "none"),
        "duplicates": ("evidence.duplicate.fail", "none"),
        "copper and glass of one length": ("evidence.length_agrees.fail", "none"),
    }
    rows = [
        (
            "honest crews told: last digits",
            f"{len(crews_told)} of {crews}",
            "about 1 in 100",
        ),
        digit_rate(),
    ]
    for name, (start, wanted) in names.items():
        count = sum(n for id, n in told.items() if id.startswith(start))
        share = f"{count} of {total} ({100 * count / total:.2f} %)"
        rows.append((f"honest visits told: {name}", share, wanted))
    return rows


def digit_rate(crews: int = 300) -> tuple[str, str, str]:
    """The digits alone, over more crews: every visit of a crew shares one answer."""
    rng, limit = np.random.default_rng(SEED + 1), load_profile()
    most = limit.number("evidence.repeated_values.digits")
    least = limit.number("evidence.repeated_values.readings")
    told = 0
    for crew in range(crews):
        readings = [r for visit in crew_visits(rng, crew) for r in visit.readings]
        digits = last_digits(readings)
        told += len(digits) >= least and digits_chi_squared(digits) > most
    share = f"{told} of {crews} ({100 * told / crews:.1f} %)"
    return ("honest crews told: last digits alone", share, "about 1 in 100")


def _other(visit: Any) -> OtherVisit:
    return OtherVisit(
        visit=visit.head.id,
        site=visit.plan.site.key,
        started=visit.head.started,
        readings=visit.readings,
        crew=visit.head.crew,
        files=(_file(visit.head.id),),
    )


def _file(visit: str) -> FileObservation:
    return FileObservation(
        evidence=Evidence(file="photo.jpg", what="photo", view="house"),
        sha256=visit,
        size_bytes=1,
        content=SimpleNamespace(),
    )


def _context(visit: Any, others: list[OtherVisit]) -> Context:
    observations = Observations(
        started=visit.head.started,
        ended=visit.head.ended,
        readings=visit.readings,
        crew=visit.head.crew,
        files=(_file(visit.head.id),),
    )
    plan = visit.plan
    return context_of(visit.head.id, plan, observations, load_profile(), others)


def run() -> list[tuple[str, str, str]]:
    crews = int(os.environ.get("EAVELIGHT_EVIDENCE_CREWS", str(CREWS)))
    return [*noise_rates(min(24, 4 * crews)), *value_rates(crews)]
