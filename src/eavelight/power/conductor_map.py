"""Which conductor goes where, judged from meter readings before plugging in."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """One row of a conductor map.

    `colour` is a help to find it and never proof; `position` counts in the cord.
    """

    position: int
    function: str
    colour: str
    supply_contact: str
    terminal_contact: str
    thick: bool
    strip_supply_mm: float
    strip_terminal_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PairLoop:
    """Predicted loop of one pair, with conductors doubled per leg where they are."""

    name: str
    loop_ohm: float
    loop_u_ohm: float
    per_leg: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopCause:
    """One explanation of the measured loops.

    `cause` is one of: as planned, swapped, conductor open, pair open, joint, length.
    """

    cause: str
    pairs: tuple[str, ...]
    extra_ohm: float
    factor: float
    probability: float


def polarity_state(volts_v: float, *, u_v: float, least_v: float) -> str:
    """What the sign of a reading says.

    Parameters
    ----------
    volts_v : float
        Reading, red lead on the conductor that should be positive [V]
    u_v : float
        Standard uncertainty of the reading [V]
    least_v : float
        Smallest voltage of a live supply [V]

    Returns
    -------
    state : str
        "right", "reversed", "dead" or "weak" [id]

    Examples
    --------
    >>> polarity_state(-13.5, u_v=0.03, least_v=9.0)
    'reversed'
    """
    if abs(volts_v) <= max(2.0 * u_v, 0.05 * least_v):
        return "dead"
    if volts_v < 0.0:
        return "reversed"
    return "right" if volts_v >= least_v else "weak"


def foreign_voltage_state(
    volts_v: float, kind: str, *, u_v: float, limit_ac_v: float, limit_dc_v: float
) -> str:
    """Whether a pair may be touched.

    Parameters
    ----------
    volts_v : float
        Reading between conductors or to ground, supply unplugged [V]
    kind : str
        "ac" or "dc" [id]
    u_v : float
        Standard uncertainty of the reading [V]
    limit_ac_v : float
        Reading that is still taken for stray pick-up [V]
    limit_dc_v : float
        Reading up to which the pair may be worked on [V]

    Returns
    -------
    state : str
        "clear", "stop" or "undecided" [id]

    Examples
    --------
    >>> foreign_voltage_state(48.0, "dc", u_v=0.1, limit_ac_v=1.0, limit_dc_v=30.0)
    'stop'
    """
    if kind not in {"ac", "dc"}:
        raise ValueError(f"kind must be ac or dc, got {kind!r}")
    limit = limit_ac_v if kind == "ac" else limit_dc_v
    over = abs(volts_v) - limit
    if over > 1.645 * u_v:
        return "stop"
    return "clear" if over < -1.645 * u_v else "undecided"


def lines_to_strap(
    conductors: Sequence[Conductor], needed: Sequence[str]
) -> tuple[str, ...]:
    """Status lines that the cord does not carry.

    Parameters
    ----------
    conductors : sequence of Conductor
        Map of the cord [1]
    needed : sequence of str
        Functions that the terminal watches [name]

    Returns
    -------
    lines : tuple of str
        To be strapped to return or switched off at the terminal [name]

    Examples
    --------
    >>> lines_to_strap([], ["on battery"])
    ('on battery',)
    """
    carried = {conductor.function for conductor in conductors}
    return tuple(name for name in needed if name not in carried)


def open_conductor_factor(per_leg: int) -> float:
    """Rise of the loop when one conductor of a multiplied leg is open.

    Parameters
    ----------
    per_leg : int
        Equal conductors in parallel in each leg, at least 2 [1]

    Returns
    -------
    factor : float
        Loop over the sound loop [1]

    Examples
    --------
    >>> open_conductor_factor(2)
    1.5
    """
    if per_leg < 2:
        raise ValueError(f"per_leg must be at least 2, got {per_leg}")
    return (1.0 + per_leg / (per_leg - 1.0)) / 2.0


def open_pair_factor(pairs: int) -> float:
    """Rise of the loop when one of several equal pairs is open.

    Parameters
    ----------
    pairs : int
        Equal pairs in parallel, at least 2 [1]

    Returns
    -------
    factor : float
        Loop over the sound loop [1]

    Examples
    --------
    >>> open_pair_factor(3)
    1.5
    """
    if pairs < 2:
        raise ValueError(f"pairs must be at least 2, got {pairs}")
    return pairs / (pairs - 1.0)


_JOINT_SCALE_OHM = 1.0
_LENGTH_SPREAD = 0.3
_OPEN_SCORE = -60.0


def loop_causes(
    planned: Sequence[PairLoop],
    measured: Mapping[str, float],
    *,
    measured_u_ohm: Mapping[str, float],
    priors: Mapping[str, float],
) -> tuple[LoopCause, ...]:
    """Explanations of the measured loops, best first.

    Each pair against its prediction; two pairs exchanged; one conductor or one pair of
    a multiplied one open; a bad joint in one; all longer or shorter by one factor.

    Parameters
    ----------
    planned : sequence of PairLoop
        Predicted loop of each pair [1]
    measured : mapping
        Measured loop by pair name, far end shorted; infinite is open [Ω]
    measured_u_ohm : mapping
        Standard uncertainty by pair name [Ω]
    priors : mapping
        How often each cause is met: as planned, swapped, conductor open, pair open,
        joint, length; shared among the places it may have [1]

    Returns
    -------
    causes : tuple of LoopCause
        With probabilities that sum to 1 [1]

    Examples
    --------
    >>> power = PairLoop(name="power", loop_ohm=1.05, loop_u_ohm=0.02)
    >>> status = PairLoop(name="status", loop_ohm=4.2, loop_u_ohm=0.08)
    >>> best = loop_causes([power, status], {"power": 4.25, "status": 1.06},
    ...                    measured_u_ohm={"power": 0.05, "status": 0.02},
    ...                    priors={"as planned": 0.7, "swapped": 0.06, "joint": 0.08,
    ...                            "length": 0.04})[0]
    >>> best.cause, best.pairs
    ('swapped', ('power', 'status'))
    """
    rows = [row for row in planned if row.name in measured]
    if not rows:
        raise ValueError("measured must hold at least one planned pair")
    reading = np.array([float(measured[row.name]) for row in rows])
    u = np.array([measured_u_ohm[row.name] for row in rows])
    found = [
        *_fixed_causes(rows, reading, u),
        *_joint_causes(rows, reading, u),
        _length_cause(rows, reading, u),
    ]
    counts = Counter(item.cause for item, _ in found)
    logs = np.array(
        [
            score + math.log(priors[item.cause] / counts[item.cause])
            for item, score in found
        ]
    )
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    ranked = sorted(
        zip(found, weights.tolist(), strict=True), key=lambda entry: -entry[1]
    )
    return tuple(
        LoopCause(
            cause=item.cause,
            pairs=item.pairs,
            extra_ohm=item.extra_ohm,
            factor=item.factor,
            probability=weight,
        )
        for (item, _), weight in ranked
    )


_Scored = tuple[LoopCause, float]


def _cause(
    cause: str, pairs: tuple[str, ...], *, extra: float = 0.0, factor: float = 1.0
) -> LoopCause:
    return LoopCause(
        cause=cause, pairs=pairs, extra_ohm=extra, factor=factor, probability=0.0
    )


def _score(expected: np.ndarray, reading: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Log-likelihood with a far tail for slips; an open reading fits nothing sound."""
    shut = np.isfinite(reading)
    z = np.where(shut, (np.where(shut, reading, 0.0) - expected) / u, 1e3)
    density = 0.98 * np.exp(-0.5 * z * z) / (u * math.sqrt(2.0 * math.pi)) + 1e-4
    scores = np.where(shut, np.log(density), _OPEN_SCORE)
    return np.asarray(scores.sum(axis=-1))


def _fixed_causes(
    rows: Sequence[PairLoop], reading: np.ndarray, u: np.ndarray
) -> list[_Scored]:
    loops = np.array([row.loop_ohm for row in rows])
    wire = np.array([row.loop_u_ohm for row in rows])
    cases = [(_cause("as planned", ()), np.arange(len(rows)), np.ones(len(rows)))]
    for a, b in combinations(range(len(rows)), 2):
        order = np.arange(len(rows))
        order[[a, b]] = order[[b, a]]
        names = (rows[a].name, rows[b].name)
        cases.append((_cause("swapped", names), order, np.ones(len(rows))))
    for index, row in enumerate(rows):
        if row.per_leg < 2:
            continue
        for name, rise in (
            ("conductor open", open_conductor_factor(row.per_leg)),
            ("pair open", open_pair_factor(row.per_leg)),
        ):
            scale = np.ones(len(rows))
            scale[index] = rise
            cause = _cause(name, (row.name,), factor=rise)
            cases.append((cause, np.arange(len(rows)), scale))
    return [
        (
            cause,
            float(
                _score(loops[order] * scale, reading, np.hypot(u, wire[order] * scale))
            ),
        )
        for cause, order, scale in cases
    ]


def _joint_causes(
    rows: Sequence[PairLoop], reading: np.ndarray, u: np.ndarray
) -> list[_Scored]:
    loops = np.array([row.loop_ohm for row in rows])
    both = np.hypot(u, [row.loop_u_ohm for row in rows])
    found = []
    for index, row in enumerate(rows):
        others = np.arange(len(rows)) != index
        rest = float(_score(loops[others], reading[others], both[others]))
        extra = float(reading[index] - loops[index])
        if extra > 0.0:
            far = min(extra / _JOINT_SCALE_OHM, 10.0)
            own = -math.log(_JOINT_SCALE_OHM) - 2.0 * math.log1p(far)
        else:
            own = float(_score(loops[index], reading[index : index + 1], both[index]))
            own -= 5.0
        found.append((_cause("joint", (row.name,), extra=extra), rest + own))
    return found


def _length_cause(
    rows: Sequence[PairLoop], reading: np.ndarray, u: np.ndarray
) -> _Scored:
    loops = np.array([row.loop_ohm for row in rows])
    logs = np.linspace(-1.2, 1.2, 481)
    expected = np.exp(logs)[:, None] * loops
    score = _score(expected, reading, np.broadcast_to(u, expected.shape))
    prior = np.exp(-0.5 * (logs / _LENGTH_SPREAD) ** 2)
    best = float(score.max())
    mass = np.exp(score - best) * prior
    factor = math.exp(float((mass * logs).sum() / mass.sum()))
    evidence = best + math.log(float(mass.sum() / prior.sum()))
    names = tuple(row.name for row in rows)
    return _cause("length", names, factor=factor), evidence
