"""Visits from physics of its own: other formulas, other noise, other habits of looking.

Nothing of the forward model is used: joints by Gaussian overlap with Marcuse's fit of
the mode field, bends as an exponential in the wavelength, dirt as a disc over the mode,
pressure as a power law, logistic noise with now and then a slip. Because it knows its
own truth, it can also say how well its evidence could tell the cause at all.
"""

import math
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone

import numpy as np

from eavelight.model.observation import (
    Evidence,
    FileObservation,
    Observations,
    OtherVisit,
    Reading,
)
from eavelight.model.plan import Assignment, Battery, Feed, Part, Plan, Plant, Site

START = datetime(2026, 5, 4, 9, 0, tzinfo=timezone(timedelta(hours=-4)))
SHARES = {
    "contamination": 0.36, "bend": 0.18, "splice": 0.09, "connector-mismatch": 0.05,
    "wrong-port": 0.07, "wrong-split": 0.03, "wrong-fibre": 0.03, "break": 0.035,
    "crush-or-ice": 0.035, "upstream": 0.03, "measurement": 0.06, "conductor": 0.008,
    "joint-resistance": 0.012, "battery": 0.004, "supply": 0.006,
    "copied-evidence": 0.004,
}  # fmt: skip
LOW_DB, HIGH_DB = 0.15, 5.0
# chance that a look shows bad: without any fault, and with a cause
LOOKS = {
    "plug terminal": (
        0.03,
        {"contamination terminal": 0.7, "connector-mismatch terminal": 0.1},
    ),
    "adapter terminal": (0.03, {"contamination terminal": 0.55}),
    "plug port": (0.03, {"contamination port": 0.7}),
    "adapter port": (0.03, {"contamination port": 0.55}),
    "polish terminal": (0.0005, {"connector-mismatch terminal": 0.8}),
    "polish port": (0.0005, {"connector-mismatch port": 0.8}),
    "label": (0.0005, {"wrong-port": 0.8}),
    "registered": (0.0005, {"wrong-port": 0.95}),
    "in use": (0.0005, {"wrong-port": 0.4}),
    "neighbours": (0.01, {"upstream": 0.5}),
    "light dark": (0.0005, {"break": 0.95, "wrong-fibre": 0.5}),
    "light steady": (0.0005, {"wrong-fibre": 0.4}),
    "strand": (0.006, {"wrong-fibre": 0.85}),
    "sleeve": (0.008, {"splice": 0.3}),
    "cleave": (0.03, {"splice": 0.35}),
    "unstable": (0.03, {"joint-resistance": 0.4, "supply": 0.3, "battery": 0.3}),
    "reversed": (0.0002, {"conductor": 0.35}),
    "battery line": (0.006, {"battery": 0.8}),
    "same file": (0.0003, {"copied-evidence": 0.97}),
}  # fmt: skip


@dataclass
class Fault:
    cause: str
    place: str

    @property
    def name(self):
        return f"{self.cause} {self.place}".strip()


@dataclass
class Quantity:
    """One number of the record: where it stands, what it sees, how noisy it is."""

    what: str
    at: str
    nm: int | None
    mean: float
    u: float
    state: tuple = ()
    extra: dict = field(default_factory=dict)


@dataclass
class Case:
    plan: Plan
    observations: Observations
    others: tuple
    truth: tuple
    tells: bool
    posterior: dict


def mode_field(nm, core=4.2, aperture=0.118):
    v = 2 * math.pi * core * aperture / (nm / 1000)
    return core * (0.65 + 1.619 * v**-1.5 + 2.879 * v**-6)


def shape_of(fault, nm, rng):
    """Loss at a wavelength for one at 1550 nm."""
    cause = fault.cause
    x = np.asarray(nm, dtype=float)
    if cause == "contamination":
        # a disc over part of the mode: the wider mode passes more beside it
        radius = rng.uniform(0.5, 6.0)

        def loss(n):
            blocked = 1 - np.exp(-2 * (radius / np.vectorize(mode_field)(n)) ** 2)
            return -10 * np.log10(1 - blocked + 1e-3)

        share = rng.uniform(0.0, 0.7)
        return (1 - share) + share * loss(x) / loss(np.array([1550.0]))
    if cause in {"splice", "connector-mismatch"}:
        power = (
            rng.uniform(0.0, 2.0)
            if cause == "connector-mismatch"
            else rng.uniform(0.6, 2.1)
        )
        w = np.vectorize(mode_field)(x)
        return (mode_field(1550.0) / w) ** power
    if cause == "bend" or (cause == "upstream" and rng.uniform() < 0.1):
        ratio = 10 ** rng.uniform(-2.3, -0.6)
        kappa = -math.log(ratio) / 240.0
        return np.exp(kappa * (x - 1550.0) * (1 - 0.0008 * (x - 1550.0)))
    if cause == "crush-or-ice":
        return (x / 1550.0) ** rng.uniform(1.5, 4.0)
    return np.ones_like(x)


SPLICE = "pigtail splice"
# how far from the hub a place is, and where each cause sits
SPOTS = {"upstream": 0, "port": 3, "drop": 4, "splice": 5, "pigtail": 6, "terminal": 7}
WHERE = {
    "bend": "pigtail", "splice": "splice", "crush-or-ice": "drop", "break": "drop",
    "wrong-fibre": "drop", "upstream": "upstream", "wrong-split": "upstream",
    "wrong-port": "upstream",
}  # fmt: skip
OPTICAL = {*WHERE, "contamination", "connector-mismatch"}
COPPER = {
    ("joint-resistance", "load"): 1.0,
    ("conductor", "load"): 1.0,
    ("conductor", "loop"): 1.0,
    ("battery", "battery"): -1.0,
    ("supply", "supply"): -1.0,
}


def seen(quantity, spot):
    """Sign with which a quantity sees a loss at a place."""
    if quantity.what == "level":
        return -float(spot <= (3 if quantity.at == "port" else 7))
    if quantity.what in {"level_reported", "level_upstream"}:
        return -1.0
    return float(quantity.what == "loss" and spot >= 3)


class World:
    """One plant with one crew: what is read, what it sees, what is looked at."""

    def __init__(self, rng):
        self.rng = rng
        self.drop_m = rng.uniform(20, 150)
        self.feeder_m = rng.uniform(1500, 12000)
        self.ratio = int(rng.choice([16, 32, 32, 64]))
        self.cord_m = rng.uniform(10, 35)
        self.plan = self._plan()
        self.quantities = self._quantities()
        self.looked = {name for name in LOOKS if rng.uniform() < self._habit(name)}
        if "light steady" in self.looked or "light dark" in self.looked:
            self.looked |= {"light steady", "light dark"}

    def _habit(self, name):
        if name == "same file":
            return 1.0
        return 0.97 if name in {"label", "registered"} else 0.93

    def _plan(self):
        split = {16: 13.6, 32: 17.0, 64: 20.4}[self.ratio]
        parts = (
            Part(name="feeder", kind="fibre", fibre="g652d", length_m=self.feeder_m),
            Part(name="feeder splices", kind="splice", count=5, loss_db=0.05),
            Part(name="splitter", kind="splitter", ratio=self.ratio, loss_db=split),
            Part(name="port", kind="connector", polish="apc", loss_db=0.25),
            Part(name="drop cable", kind="fibre", fibre="g657a1", length_m=self.drop_m),
            Part(name="pigtail splice", kind="splice"),
            Part(name="pigtail", kind="fibre", fibre="g652d", length_m=1.5),
            Part(name="terminal", kind="connector", polish="apc", loss_db=0.2),
        )
        feed = Feed(
            supply_float_v=13.6, supply_cutoff_v=11.0, awg=18, length_m=self.cord_m,
            terminal_idle_w=4.5, terminal_peak_w=8.0, terminal_min_v=10.0,
            terminal_max_v=15.0,
            battery=Battery(chemistry="vrla", capacity_ah=7.2, temperature_c=20.0),
        )  # fmt: skip
        return Plan(
            purpose="turn-up", site=Site(key="S-1"), feed=feed,
            plant=Plant(
                pon_class="gpon-b+", part=parts, launch_dbm=3.0, launch_u_db=0.3,
                terminal_launch_dbm=2.0, terminal_launch_u_db=0.4,
            ),
            assignment=Assignment(splitter="4", port="12", tube=1, fibre=1),
        )  # fmt: skip

    def _sound(self, nm):
        glass = {1310: 0.335, 1490: 0.24, 1550: 0.203, 1625: 0.235}[nm] / 1000.0
        upstream = (
            self.feeder_m * glass + 0.25 + {16: 13.6, 32: 17.0, 64: 20.4}[self.ratio]
        )
        return upstream, glass * self.drop_m

    def _quantities(self):
        self.loop = 2 * self.cord_m * 0.02095
        return [*self._levels(), *self._losses(), *self._joint(), *self._copper()]

    def _had(self, share):
        return self.rng.uniform() < share

    def _drop(self, nm):
        return 0.25 + self._sound(nm)[1] + 0.05 + 0.2

    def _levels(self):
        port = 3.0 - self._sound(1490)[0] - 0.25
        here = port - self._drop(1490) + 0.25
        upstream = 2.0 - self._sound(1310)[0] - self._drop(1310)
        listed = (
            (0.9, Quantity("level", "port", 1490, port, 0.12)),
            (0.95, Quantity("level", "terminal", 1490, here, 0.12)),
            (0.7, Quantity("level_reported", "terminal", 1490, here, 1.0)),
            (0.6, Quantity("level_upstream", "hub", 1310, upstream, 1.0)),
        )
        return [quantity for share, quantity in listed if self._had(share)]

    def _losses(self):
        shares = {1310: 0.95, 1550: 1.0, 1625: 0.4, 1490: 0.3}
        bands = [nm for nm, share in shares.items() if self._had(share)]
        closed = ("lid closed",)
        return [
            Quantity("loss", "drop", nm, self._drop(nm), 0.04, closed) for nm in bands
        ]

    def _joint(self):
        found = []
        if self._had(0.85):
            found.append(Quantity("splice_estimate", SPLICE, None, 0.03, 0.02))
        ways = ("toward port", "toward terminal") if self._had(0.25) else ()
        extras = [{"direction": way} for way in ways]
        return found + [
            Quantity("splice_loss", SPLICE, 1550, 0.05, 0.03, (), more)
            for more in extras
        ]

    def _copper(self):
        listed = (
            (0.8, Quantity("loop", "supply", None, self.loop, 0.015)),
            (0.8, Quantity("load", "terminal", None, self.loop + 0.02, 0.05)),
            (1.0, Quantity("supply", "supply", None, 13.6, 0.06)),
            (0.4, Quantity("battery", "supply", None, 12.5, 0.2)),
        )
        return [quantity for share, quantity in listed if self._had(share)]

    def effect(self, fault, rng):
        """What a fault of size one adds to every quantity."""
        bands = np.array([q.nm or 1550 for q in self.quantities])
        shape = shape_of(fault, bands, rng)
        hidden, share = rng.uniform() < 0.3, rng.uniform(0.5, 1.2)
        inside, alone = rng.uniform() < 0.2, rng.uniform() < 0.3
        pick = int(rng.integers(0, 10))
        where = WHERE.get(fault.cause, fault.place)
        out = np.zeros(len(self.quantities))
        losses = [i for i, q in enumerate(self.quantities) if q.what == "loss"]
        one = losses[pick % len(losses)] if losses else None
        for index, q in enumerate(self.quantities):
            if fault.cause in OPTICAL:
                out[index] = seen(q, SPOTS[where]) * shape[index]
            elif fault.cause == "measurement":
                out[index] = q.what == "loss" and (not alone or index == one)
            else:
                out[index] = COPPER.get((fault.cause, q.what), 0.0)
            if fault.cause == "splice" and q.what.startswith("splice"):
                estimate = 0.0 if hidden else share
                out[index] = estimate if q.what.endswith("estimate") else shape[index]
            if (fault.cause, q.what) == ("joint-resistance", "loop"):
                out[index] = float(inside)
        return out

    def sizes(self, fault):
        """Support of the amplitude: low, high (log-uniform), sign."""
        cause = fault.cause
        if cause == "break":
            return (15.0, 40.0)
        if cause == "joint-resistance":
            return (0.2, 4.0)
        if cause == "conductor":
            return (0.15 * self.loop, 2.0 * self.loop)
        if cause == "battery":
            return (0.8, 3.0)
        if cause == "supply":
            return (0.6, 4.0)
        return (LOW_DB, HIGH_DB)

    def covariance(self):
        total = np.diag([q.u**2 for q in self.quantities])
        down = np.array(
            [q.what in {"level", "level_reported"} for q in self.quantities], float
        )
        total += 0.3**2 * np.outer(down, down)
        upward = np.array([q.what == "level_upstream" for q in self.quantities], float)
        total += 0.4**2 * np.outer(upward, upward)
        for fault, sigma in (
            (Fault("upstream", ""), 0.3), (Fault("contamination", "port"), 0.08),
            (Fault("contamination", "terminal"), 0.08), (Fault("break", ""), 0.03),
        ):  # fmt: skip
            rng = np.random.default_rng(0)
            flat = np.sign(self.effect(fault, rng))
            total += sigma**2 * np.outer(flat, flat)
        step = np.array(
            [
                0.0
                if q.what != "splice_loss"
                else (1.0 if q.extra["direction"] == "toward port" else -1.0)
                for q in self.quantities
            ]
        )
        total += 0.12**2 * np.outer(step, step)
        estimate = np.array(
            [q.what == "splice_estimate" for q in self.quantities], float
        )
        total += 0.02**2 * np.outer(estimate, estimate)
        return total


def places_of(cause):
    return (
        ("port", "terminal")
        if cause in {"contamination", "connector-mismatch"}
        else ("",)
    )


def draw_faults(rng, count):
    names = list(SHARES)
    weights = np.array([SHARES[name] for name in names])
    weights /= weights.sum()
    chosen = rng.choice(len(names), size=count, replace=False, p=weights)
    found = []
    for index in chosen:
        cause = names[index]
        places = places_of(cause)
        found.append(Fault(cause, str(rng.choice(places)) if places[0] else ""))
    return found


SPECIAL = {
    "wrong-split": [(3.5, 0.25, 0.6), (-3.5, 0.25, 0.4)],
    "wrong-port": [(0.0, 0.4, 1.0)],
}


def draw_size(world, fault, rng):
    if fault.cause in SPECIAL:
        parts = SPECIAL[fault.cause]
        k = rng.choice(len(parts), p=[p[2] for p in parts])
        return rng.normal(parts[k][0], parts[k][1])
    if fault.cause == "wrong-fibre":
        return rng.uniform(15, 40) if rng.uniform() < 0.5 else rng.normal(0.0, 0.3)
    if fault.cause == "copied-evidence":
        return 0.0
    low, high = world.sizes(fault)
    size = math.exp(rng.uniform(math.log(low), math.log(high)))
    if fault.cause == "measurement" and rng.uniform() < 0.6:
        size = -size
    if fault.cause == "conductor" and rng.uniform() < 0.35:
        size = -min(size, 0.6 * world.loop)
    return size


def make(seed):
    """One visit with its truth and how well its evidence could tell it."""
    rng = np.random.default_rng(seed)
    world = World(rng)
    kind = rng.choice(3, p=[0.3, 0.5, 0.2])
    faults = draw_faults(rng, int(kind))
    covariance = world.covariance()
    root = np.linalg.cholesky(covariance)
    # logistic noise of the same spread, and one reading in a hundred slips
    noise = root @ (rng.logistic(0.0, math.sqrt(3.0) / math.pi, len(root)))
    value = np.array([q.mean for q in world.quantities]) + noise
    for fault in faults:
        value = value + draw_size(world, fault, rng) * world.effect(fault, rng)
    slips = rng.uniform(size=len(value)) < 0.006
    value = value + slips * rng.normal(0, 4.0, len(value)) * np.array(
        [q.u for q in world.quantities]
    )
    looks = {}
    names = {f.name for f in faults} | {f.cause for f in faults}
    for name in LOOKS:
        if name in world.looked:
            base, with_ = LOOKS[name]
            stays = 1.0 - base
            for key, p in with_.items():
                stays *= 1.0 - p * (key in names)
            looks[name] = bool(rng.uniform() > stays)
    if looks.get("light steady"):
        looks["light dark"] = False
    residual = value - np.array([q.mean for q in world.quantities])
    posterior = true_posterior(world, residual, covariance, looks, rng)
    tells = can_tell(posterior, faults)
    observations, others = record(world, value, looks, rng)
    truth = tuple((f.cause, f.place) for f in faults)
    return Case(world.plan, observations, others, truth, tells, posterior)


# ---- the generator's own likelihood ----------------------------------------
def look_log(looks, names):
    total = 0.0
    for name, bad in looks.items():
        base, with_ = LOOKS[name]
        stays = 1.0 - base
        for key, p in with_.items():
            stays *= 1.0 - p * (key in names)
        total += math.log(max(1.0 - stays if bad else stays, 1e-9))
    return total


def all_faults():
    return [Fault(c, p) for c in SHARES for p in places_of(c)]


def true_posterior(world, residual, covariance, looks, rng, shapes=24):
    """Probability of every set of up to two faults, amplitudes by Laplace."""
    precision = np.linalg.inv(covariance)
    faults = all_faults()
    vectors, sizes = [], []
    for fault in faults:
        drawn = np.array([world.effect(fault, rng) for _ in range(shapes)])
        vectors.append(drawn)
        sizes.append(_grid(world, fault))
    total = {}
    base = -0.5 * residual @ precision @ residual
    total[()] = math.log(0.3) + base + look_log(looks, set())
    singles = {}
    weight = np.array([SHARES[f.cause] / len(places_of(f.cause)) for f in faults])
    for i, fault in enumerate(faults):
        log = _marginal(vectors[i], sizes[i], residual, precision)
        singles[i] = log
        names = {fault.name, fault.cause}
        total[(i,)] = math.log(0.5 * weight[i]) + log + look_log(looks, names)
    order = sorted(singles, key=lambda i: -total[(i,)])
    for a in order[:5]:
        for b in range(len(faults)):
            key = tuple(sorted((a, b)))
            if a == b or key in total or faults[a].cause == faults[b].cause:
                continue
            log = _pair(vectors[a], sizes[a], vectors[b], sizes[b], residual, precision)
            names = {faults[a].name, faults[a].cause, faults[b].name, faults[b].cause}
            prior = 0.2 * 2.0 * weight[a] * weight[b]
            total[key] = math.log(prior) + log + look_log(looks, names)
    top = max(total.values())
    norm = sum(math.exp(v - top) for v in total.values())
    marginal = {}
    for key, v in total.items():
        p = math.exp(v - top) / norm
        for cause in {faults[i].cause for i in key} or {"none"}:
            marginal[cause] = marginal.get(cause, 0.0) + p
    return marginal


def _grid(world, fault):
    """Amplitudes with weights on a fine grid."""
    if fault.cause in SPECIAL:
        xs, ws = [], []
        for mean, sd, w in SPECIAL[fault.cause]:
            grid = np.linspace(mean - 3 * sd, mean + 3 * sd, 25)
            density = np.exp(-0.5 * ((grid - mean) / sd) ** 2)
            xs.append(grid)
            ws.append(w * density / density.sum())
        return np.concatenate(xs), np.concatenate(ws)
    if fault.cause == "copied-evidence":
        return np.zeros(1), np.ones(1)
    if fault.cause == "wrong-fibre":
        dark, near = np.linspace(15, 40, 60), np.linspace(-0.9, 0.9, 25)
        density = np.exp(-0.5 * (near / 0.3) ** 2)
        return np.concatenate([dark, near]), np.concatenate(
            [np.full(60, 0.5 / 60), 0.5 * density / density.sum()]
        )
    low, high = world.sizes(fault)
    grid = np.geomspace(low, high, 110)
    if fault.cause == "measurement":
        return np.concatenate([grid, -grid]), np.concatenate(
            [np.full(110, 0.4 / 110), np.full(110, 0.6 / 110)]
        )
    if fault.cause == "conductor":
        less = -np.minimum(grid, 0.6 * world.loop)
        return np.concatenate([grid, less]), np.concatenate(
            [np.full(110, 0.65 / 110), np.full(110, 0.35 / 110)]
        )
    return grid, np.full(110, 1.0 / 110)


def _logmean(values, weights):
    top = values.max()
    return top + math.log(max(float(np.sum(weights * np.exp(values - top))), 1e-300))


def _marginal(vectors, sizes, residual, precision):
    a, w = sizes
    q = vectors @ precision @ residual
    g = np.einsum("ij,jk,ik->i", vectors, precision, vectors)
    log = -0.5 * (
        residual @ precision @ residual - 2 * np.outer(q, a) + np.outer(g, a**2)
    )
    return _logmean(log, np.tile(w, (len(vectors), 1)) / len(vectors))


def _thinned(sizes, weights):
    """Every second amplitude, which is fine enough for a judgement of ten to one."""
    thin = weights[::2]
    return sizes[::2], thin * weights.sum() / thin.sum()


def _pair(first, first_sizes, second, second_sizes, residual, precision):
    (a, wa), (b, wb) = _thinned(*first_sizes), _thinned(*second_sizes)
    count = 5
    total = []
    for i in range(count):
        for j in range(count):
            u, v = first[i], second[j]
            rest = residual @ precision
            qa, qb = rest @ u, rest @ v
            gaa, gbb, gab = u @ precision @ u, v @ precision @ v, u @ precision @ v
            log = (
                a[:, None] * qa + b[None, :] * qb
                - 0.5 * (a[:, None] ** 2 * gaa + b[None, :] ** 2 * gbb)
                - a[:, None] * b[None, :] * gab
            )  # fmt: skip
            total.append(_logmean(log, np.outer(wa, wb)))
    values = np.array(total)
    return -0.5 * residual @ precision @ residual + _logmean(
        values, np.full(len(values), 1 / len(values))
    )


def can_tell(posterior, faults):
    """Whether a true cause leads everything that is not true by ten to one."""
    true = {f.cause for f in faults} or {"none"}
    best = max(posterior.get(c, 0.0) for c in true)
    wrong = max((p for c, p in posterior.items() if c not in true), default=0.0)
    return best >= 10.0 * wrong


# ---- the record ------------------------------------------------------------
LIGHT = ("level", "level_reported", "level_upstream")


class Log:
    """Readings two minutes apart."""

    def __init__(self):
        self.items, self.time = [], START

    def add(self, what, at, value, **more):
        self.time += timedelta(minutes=2)
        name = f"r{len(self.items) + 1}"
        self.items.append(
            Reading(id=name, what=what, at=at, value=value, time=self.time, **more)
        )


def record(world, value, looks, rng):
    """The record as a crew would hand it over: rounded, below where dark."""
    log = Log()
    for name, bad in looks.items():
        _look(log, name, bad, looks)
    numbers = dict(zip((q.what for q in world.quantities), value, strict=True))
    source = round(float(numbers["supply"]), 2)
    for q, number in zip(world.quantities, value, strict=True):
        write = _light if q.what in LIGHT else _other
        write(log, q, float(number), source)
    files = (_photo("house.jpg", f"{rng.integers(1 << 60):064x}"),)
    before = START - timedelta(days=3)
    other = OtherVisit(visit="A-1", site="S-9", started=before, files=files)
    observations = Observations(
        started=START,
        ended=START + timedelta(hours=3),
        readings=tuple(log.items),
        files=files,
    )
    return observations, (other,) if looks.get("same file") else ()


def _light(log, q, number, source):
    below = number < -40.0
    if below and q.what != "level":
        return
    log.add(
        q.what, q.at, -40.0 if below else round(number, 2), unit="dBm",
        wavelength_nm=q.nm, u=q.u, state=q.state, below=below,
    )  # fmt: skip


def _other(log, q, number, source):
    if q.what == "loss" and number < 30:
        common = {"unit": "dB", "wavelength_nm": q.nm, "u": q.u, "state": q.state}
        log.add("loss", "drop", round(number, 2), **common)
    elif q.what == "splice_estimate":
        log.add(q.what, q.at, round(max(number, 0.0), 2), unit="dB", attempt=1)
    elif q.what == "splice_loss":
        log.add(
            q.what, q.at, round(number, 2), unit="dB", wavelength_nm=1550, **q.extra
        )
    elif q.what == "loop":
        ohm = round(max(number, 0.01), 3)
        log.add("loop_resistance", "supply", ohm, unit="ohm")
    elif q.what == "supply":
        log.add("volts", "supply", source, unit="V", state=("no load",))
    elif q.what == "battery":
        log.add("volts", "supply", round(number, 2), unit="V", state=("on battery",))
    elif q.what == "load":
        root = math.sqrt(max(source**2 - 32.0 * max(number, 0.0), 0.0))
        volts = round((source + root) / 2, 2)
        log.add("volts", "terminal", volts, unit="V", state=("loaded",), load_w=8.0)


def _photo(name, digest):
    return FileObservation(
        evidence=Evidence(file=name, what="photo", view="house"),
        sha256=digest,
        size_bytes=9,
    )


# what is written for a good and a bad look: kind, place, words, further keys
WORDS = {
    "label": ("port_label", "port", ("4/12", "4/13"), {}),
    "registered": ("port_registered", "hub", ("4/12", "4/13"), {}),
    "in use": ("port_in_use", "port", (False, True), {}),
    "neighbours": ("neighbours_affected", "hub", (False, True), {}),
    "strand": ("fibre_seen", "drop cable", ("1/1", "1/2"), {}),
    "sleeve": ("sleeve_seen", SPLICE, ("clear", "bubble"), {"attempt": 1}),
    "unstable": ("seconds_stable", "terminal", (900.0, 120.0), {"unit": "s"}),
    "reversed": (
        "volts", "terminal", (13.5, -13.5), {"unit": "V", "state": ("no load",)},
    ),
    "battery line": (
        "status_line", "terminal", ("normal", "alarm"), {"line": "replace battery"},
    ),
}  # fmt: skip


def _look(log, name, bad, looks):
    word, _, place = name.partition(" ")
    if name in WORDS:
        kind, at, words, more = WORDS[name]
        log.add(kind, at, words[bad], **more)
    elif word in {"plug", "adapter"}:
        log.add("endface_stated", place, "fail" if bad else "pass", side=word)
    elif word == "polish":
        log.add("polish_seen", place, "apc", side="plug")
        log.add("polish_seen", place, "pc" if bad else "apc", side="adapter")
    elif name == "light dark":
        lit = "steady" if looks.get("light steady") else "follows"
        log.add("fibre_light", "drop cable", "dark" if bad else lit)
    elif name == "cleave":
        for end in ("cable", "pigtail"):
            angle = 1.8 if bad and end == "cable" else 0.4
            common = {"unit": "deg", "end": end, "attempt": 1}
            log.add("cleave_angle", SPLICE, angle, **common)
