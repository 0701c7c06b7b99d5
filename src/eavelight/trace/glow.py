"""What a receiver still gives of brighter light before, fitted beside the fibre.

A receiver lets a small share of the light of the last microseconds through, whatever
it came from. The share decays; light of the fibre and of the receiver add as powers, so
both are fitted on linear power: the fibre as a line with steps, the glow as any sum of
decays with shares that cannot be negative.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavelight.trace.lines import LineSums
from eavelight.trace.noise import DB_PER_NEPER, smoothed_db
from eavelight.trace.refine import (
    LEAST_SIGNIFICANCE,
    LEAST_STEP_DB,
    NO_TAIL,
    STEP_BESIDE_TAIL,
    TAIL_LEFT,
    TAIL_SHARE,
    Mark,
    Trace,
)

Array = NDArray[np.float64]
Index = NDArray[np.int_]

SLOWEST_NS = 3000.0
"""Longest decay: the slow part of the recovery from a full receiver."""

DECAYS_PER_OCTAVE = 2
"""With one, a decay between two of the list is wrong by a twentieth of the glow."""

LARGEST_GAIN = 3.0
"""Where less than a third of the power is fibre, its level says nothing of it."""

FIRST_ORDER_DB = 2.0
"""How far off the model a sample may lie and still be stretched like noise."""

LEAST_PULL = 0.01
"""Standard deviations by which a decay must better the fit to be taken in."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Linear power from a fall to the end of use; one is the level `offset_db`.

    `fall` is the course of ordinary glass, `glow_u` what to expect of one decay.
    """

    start: int
    footprint: float
    power: Array
    weight: Array
    offset_db: float
    fall: Array
    slope_u: float
    decays: Array
    glow_u: float

    @property
    def place(self) -> Array:
        """Sample index of each value."""
        return self.start + np.arange(len(self.power), dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GlowFit:
    """Power of fibre and glow along a stretch, and the steps that both leave standing.

    `level` is the fibre at the start with its error; `explained` is how much of the
    weighted squares the model accounts for, twice a logarithm of likelihood; `noise`
    is the scatter of one sample.
    """

    fibre: Array
    glow: Array
    glow_u: Array
    steps: list[Mark]
    level: tuple[float, float]
    decay: float
    explained: float
    noise: float

    @property
    def excess_db(self) -> Array:
        """How far the glow lifts the level above the fibre."""
        return np.asarray(DB_PER_NEPER * np.log1p(self.glow / self.fibre))

    @property
    def first_fibre(self) -> int:
        """First value where enough of the power is fibre."""
        lit = self.fibre + self.glow <= LARGEST_GAIN * self.fibre
        return int(np.argmax(lit)) if bool(np.any(lit)) else len(lit)

    @property
    def score(self) -> float:
        """What the model explains, less what each of its steps has to prove."""
        return self.explained - STEP_BESIDE_TAIL * len(self.steps)

    def tail(self, start: int) -> tuple[float, float]:
        """Tail that is left if the glow was taken off too much or too little."""
        at = int(np.clip(start, 0, len(self.fibre) - 1))
        size = float(DB_PER_NEPER * self.glow_u[at] / self.fibre[at])
        return (self.decay / 5.0, size) if size > 0.1 * LEAST_STEP_DB else NO_TAIL

    def level_u_db(self, start: int, stop: int) -> float:
        """What a whole section may be wrong by, since no decay is known exactly."""
        share = (self.fibre / (self.fibre + self.glow))[start:stop]
        if len(share) == 0:
            return 0.0
        weight = share**2
        return float(TAIL_LEFT * np.sum(weight * self.excess_db[start:stop])) / float(
            np.sum(weight)
        )


def stretch_behind(trace: Trace, fall: Mark, before: int) -> Stretch:
    """The samples behind a fall as linear power, with all that a fit needs.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    fall : Mark
        Fall of the level [1]
    before : int
        First sample of the section before the fall [1]

    Returns
    -------
    stretch : Stretch
        From behind the fall to the end of use [1]
    """
    start, stop = fall.right, trace.stop
    lag = int(np.ceil(trace.footprint)) + 2
    level = smoothed_db(trace.samples_db[start:stop], lag)
    offset = float(np.median(level))
    smooth = 10.0 ** (-(level - offset) / 5.0)
    place = np.arange(stop - start, dtype=float)
    bright = trace.sums.fit(max(before, fall.left - 60 * lag), fall.left)
    prior = trace.sums.prior
    return Stretch(
        start=start,
        footprint=trace.footprint,
        power=10.0 ** (-(trace.samples_db[start:stop] - offset) / 5.0),
        weight=(DB_PER_NEPER / smooth) ** 2 / trace.variance_db2[start:stop],
        offset_db=offset,
        fall=10.0 ** (-prior.slope * place / 5.0),
        slope_u=prior.deviation,
        decays=_decays(trace, len(place)),
        glow_u=TAIL_SHARE
        / DB_PER_NEPER
        * 10.0 ** (-(bright.at(float(fall.left)) - offset) / 5.0),
    )


def _decays(trace: Trace, count: int) -> Array:
    shortest = max(1.0, trace.footprint / 3.0)
    longest = min(max(SLOWEST_NS * trace.ns, 10.0 * trace.footprint), float(count))
    longest = max(longest, 2.0 * shortest)
    steps = int(np.ceil(DECAYS_PER_OCTAVE * np.log2(longest / shortest)))
    return np.geomspace(shortest, longest, steps + 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _System:
    """Normal equations; columns are fibre, slope, reflections, steps, decays."""

    design: Array
    decaying: Array
    gram: Array
    right: Array
    fixed: int
    tails: Index


def _system(stretch: Stretch, peaks: list[Mark], steps: list[Mark]) -> _System:
    place = stretch.place
    weight = stretch.weight.copy()
    for mark in peaks:
        low, high = mark.left - stretch.start, mark.right - stretch.start
        weight[max(low, 0) : max(high, 0)] = 0.0
    ramps = [
        np.clip((place - mark.place) / stretch.footprint, 0.0, 1.0) * stretch.fall
        for mark in (*peaks, *steps)
    ]
    tilt = -(place - place.mean()) * stretch.fall / DB_PER_NEPER
    decaying = np.exp(-(place[:, None] - stretch.start) / stretch.decays)
    design = np.column_stack([stretch.fall, tilt, *ramps, decaying])
    weighted = design * weight[:, None]
    gram = weighted.T @ design
    fixed = 2 + len(peaks)
    tails = fixed + len(steps) + np.arange(len(stretch.decays))
    # the slope of glass is known, in units of the power that the fibre has at the end
    late = float(np.median(stretch.power[-max(8, len(place) // 4) :]))
    gram[1, 1] += max(late * stretch.slope_u, 1e-12) ** -2
    gram[tails, tails] += stretch.glow_u**-2
    # what no sample tells apart stays solvable: a step whose far side is hidden
    gram[np.diag_indices(len(gram))] += 1e-9 * gram[0, 0]
    return _System(
        design=design,
        decaying=decaying,
        gram=gram,
        right=weighted.T @ stretch.power,
        fixed=fixed,
        tails=tails,
    )


def fit_glow(
    stretch: Stretch, peaks: list[Mark], steps: list[Mark], *, glows: bool = True
) -> GlowFit:
    """Fit fibre and glow, and drop the weakest step until all that stay are proven.

    Parameters
    ----------
    stretch : Stretch
        Samples behind a fall [1]
    peaks : list of Mark
        Reflections, whose steps always stay [1]
    steps : list of Mark
        Steps to judge [1]
    glows : bool, optional
        Whether there may be a glow; without one all steps stay [1]

    Returns
    -------
    fit : GlowFit
        Fibre, glow and proven steps [1]
    """
    system = _system(stretch, peaks, steps)
    kept = list(range(len(steps)))
    while True:
        free = np.array([*range(system.fixed), *(system.fixed + k for k in kept)])
        tails = system.tails if glows else system.tails[:0]
        answer, cover = _solved(system.gram, system.right, free, tails)
        fit = _fitted(stretch, system, free, (answer, cover))
        proofs = [
            _proof(fit, stretch, steps[k], (answer, cover, system.fixed + k))
            for k in kept
        ]
        if not glows or not proofs or min(proofs) >= 1.0:
            return replace(fit, steps=[steps[k] for k in kept])
        del kept[int(np.argmin(proofs))]


def _fitted(
    stretch: Stretch, system: _System, free: Index, found: tuple[Array, Array]
) -> GlowFit:
    answer, cover = found
    shares = answer[system.tails]
    doubt = cover[np.ix_(system.tails, system.tails)]
    variance = np.sum((system.decaying @ doubt) * system.decaying, axis=1)
    slow = stretch.decays[shares > TAIL_LEFT * max(float(shares.max()), 1e-30)]
    fibre = np.maximum(system.design[:, free] @ answer[free], 1e-30)
    glow = system.decaying @ shares
    return GlowFit(
        fibre=fibre,
        glow=glow,
        glow_u=np.sqrt(np.maximum(variance, 0.0)),
        steps=[],
        level=(float(answer[0]), float(np.sqrt(cover[0, 0]))),
        decay=float(slow[-1] if len(slow) else stretch.decays[-1]),
        explained=float(system.right @ answer),
        noise=float(np.median(np.abs(stretch.power - fibre - glow))) / 0.6745,
    )


def _proof(
    fit: GlowFit, stretch: Stretch, mark: Mark, found: tuple[Array, Array, int]
) -> float:
    """Size of a step over the least that stands beside the glow at its place."""
    answer, cover, column = found
    at = int(np.clip(mark.place - stretch.start, 0, len(fit.fibre) - 1))
    excess = float(DB_PER_NEPER * np.log1p(fit.glow[at] / fit.fibre[at]))
    needed = STEP_BESIDE_TAIL**0.5 if excess > LEAST_STEP_DB else LEAST_SIGNIFICANCE
    change = abs(float(answer[column]))
    loss = DB_PER_NEPER * change * stretch.fall[at] / fit.fibre[at]
    certain = change / float(np.sqrt(cover[column, column])) / needed
    return float(min(certain, loss / max(LEAST_STEP_DB, TAIL_LEFT * excess)))


def _solved(
    gram: Array, right: Array, free: Index, tails: Index
) -> tuple[Array, Array]:
    """Least squares where some columns are free and some cannot be negative.

    The way of Lawson and Hanson: the column with the strongest pull joins; a solution
    that would turn negative is approached only as far as it stays positive.
    """
    active: list[int] = []
    answer = _plain(gram, right, [*free])
    scale = np.sqrt(np.diag(gram))
    for _ in range(8 * len(tails)):
        pull = (right - gram @ answer) / scale
        idle = [int(k) for k in tails if k not in active]
        best = max(idle, key=lambda k: pull[k], default=-1)
        if best < 0 or pull[best] < LEAST_PULL:
            break
        answer, active = _joined(gram, right, (answer, [*free]), [*active, best])
        if best not in active:
            break
    used = [*free, *active]
    cover = np.zeros_like(gram)
    cover[np.ix_(used, used)] = np.linalg.inv(gram[np.ix_(used, used)])
    return answer, cover


def _joined(
    gram: Array, right: Array, known: tuple[Array, list[int]], active: list[int]
) -> tuple[Array, list[int]]:
    """Move towards the solution of the active columns; those that reach zero leave."""
    answer, free = known
    everything = active
    while True:
        target = _plain(gram, right, [*free, *active])
        negative = [k for k in active if target[k] <= 0.0]
        if not negative:
            return target, active
        share = min(answer[k] / (answer[k] - target[k] + 1e-300) for k in negative)
        answer = answer + share * (target - answer)
        active = [k for k in active if answer[k] > 1e-12 * gram[k, k] ** -0.5]
        answer[[k for k in everything if k not in active]] = 0.0


def _plain(gram: Array, right: Array, used: list[int]) -> Array:
    answer = np.zeros(len(right))
    answer[used] = np.linalg.solve(gram[np.ix_(used, used)], right[used])
    return answer


def glow_taken_off(trace: Trace, stretch: Stretch, fit: GlowFit) -> Trace:
    """The same trace without the glow; a change of the fibre gets its true size.

    To first order, so that a noisy sample stays finite; the noise grows with it.

    Parameters
    ----------
    trace : Trace
        Usable trace [dB]
    stretch : Stretch
        Samples behind a fall [1]
    fit : GlowFit
        Fibre and glow on them [1]

    Returns
    -------
    trace : Trace
        Its `gain` says by how much the noise has grown [dB]
    """
    total = fit.fibre + fit.glow
    gain = np.minimum(total / fit.fibre, LARGEST_GAIN**2)
    total_db = stretch.offset_db - 5.0 * np.log10(total)
    span = slice(stretch.start, stretch.start + len(gain))
    plain, unbiased = trace.samples_db.copy(), trace.unbiased_db.copy()
    for values in (plain, unbiased):
        off = np.clip(values[span] - total_db, -FIRST_ORDER_DB, FIRST_ORDER_DB)
        values[span] += 5.0 * np.log10(gain) + (gain - 1.0) * off
    variance = trace.variance_db2.copy()
    variance[span] *= gain**2
    grown = np.ones(len(plain)) if trace.gain is None else trace.gain.copy()
    grown[span] *= gain
    return replace(
        trace,
        samples_db=plain,
        unbiased_db=unbiased,
        variance_db2=variance,
        gain=grown,
        sums=LineSums(unbiased, variance, trace.sums.prior),
    )
