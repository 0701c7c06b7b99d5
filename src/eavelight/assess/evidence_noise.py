"""Whether two traces carry the same noise: each taking of a trace has noise of its own.

The smooth part and steps are removed; what is left is compared sample by sample. Glass,
leads and connectors that two honest traces share leave marks that resemble each other,
so only the noisier half of the record counts, block by block, and the same instrument's
other traces say how alike its traces usually are.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.assess.context import Context
from eavelight.assess.judge import finding
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation, OtherVisit

REQUIREMENT = "evidence.noise_copied"
WINDOW = 15
BLOCKS = 16
SHIFTS = 24
"""Samples by which a copy may have been shifted."""
CLIP = 4.0
SPREADS = 6.0
"""Standard deviations of independent noise that count as never by chance."""
MOST_BASELINE = 0.6

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noise:
    """What is left of a trace when its smooth part is gone, and who took it."""

    tool: tuple[Any, ...]
    rest: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How alike the noise of two traces is."""

    correlation: float
    chance: float
    """Standard deviation of that number for independent noise of the same colour."""
    points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A trace of this visit beside another trace."""

    mine: FileObservation
    theirs: FileObservation
    other: OtherVisit | None
    tool: tuple[Any, ...]
    likeness: Likeness


def assess_noise(context: Context) -> list[Finding]:
    """`evidence.noise_copied`: traces whose noise is another trace's noise."""
    least = int(context.profile.number("evidence.noise_copied.points"))
    limit = context.profile.limit(REQUIREMENT)
    pairs = list(_pairs(context, least))
    if not pairs:
        return [_nothing(context)]
    alike = [pair for pair in pairs if _is_copy(pair, pairs, limit.value)]
    if not alike:
        return [_none(context, pairs)]
    best: dict[tuple[str, str], Pair] = {}
    for pair in alike:
        visit = pair.other.visit if pair.other else context.visit
        key = (pair.mine.evidence.file, visit)
        if (
            key not in best
            or pair.likeness.correlation > best[key].likeness.correlation
        ):
            best[key] = pair
    shown = Limit(
        high=limit.value,
        unit=limit.unit,
        clause=limit.id,
        edition=limit.edition,
        confidence=limit.confidence,
    )
    return [_alike(context, pair, shown) for pair in best.values()]


def _pairs(context: Context, least: int) -> Iterator[Pair]:
    mine = [(item, noise_of(item)) for item in context.files("trace")]
    for earlier, later in itertools.combinations(mine, 2):
        yield from _pair(later, earlier, None, least=least)
    for visit in context.others:
        if visit.visit == context.visit:
            continue
        for file in visit.files:
            if file.evidence.what == "trace":
                theirs = (file, noise_of(file))
                for item in mine:
                    yield from _pair(item, theirs, visit, least=least)


def _pair(
    mine: tuple[FileObservation, Noise | None],
    theirs: tuple[FileObservation, Noise | None],
    other: OtherVisit | None,
    *,
    least: int,
) -> Iterator[Pair]:
    if mine[1] is None or theirs[1] is None:
        return
    likeness = likeness_of(mine[1].rest, theirs[1].rest, least=least)
    if likeness is not None:
        yield Pair(
            mine=mine[0],
            theirs=theirs[0],
            other=other,
            tool=mine[1].tool,
            likeness=likeness,
        )


def noise_of(item: FileObservation) -> Noise | None:
    """The noise of a decoded trace file, the lead left out."""
    record = item.content
    curves = getattr(record, "curves", None)
    if not curves:
        return None
    curve = curves[0]
    start = 0
    if item.evidence.lead_m:
        start = int((item.evidence.lead_m - curve.first_m) / curve.spacing_m)
    levels = np.asarray(curve.samples_db, dtype=np.float64)[max(0, start) :]
    if levels.size < 4 * WINDOW:
        return None
    supplier = getattr(record, "supplier", None)
    names = ("mainframe_serial", "module_serial")
    serials = tuple(getattr(supplier, name, b"") for name in names)
    return Noise(
        tool=(*serials, round(curve.spacing_m, 3), curve.pulse_ns),
        rest=rest_of(levels),
    )


def rest_of(levels: Array) -> Array:
    """Levels less their smooth part; edges of events are cut to the usual size."""
    half = WINDOW // 2
    padded = np.pad(levels, half, mode="reflect")
    sums = np.cumsum(np.concatenate(([0.0], padded)))
    rest = levels - (sums[WINDOW:] - sums[:-WINDOW]) / WINDOW
    size = max(8 * WINDOW, levels.size // BLOCKS)
    cut: Array = np.empty_like(rest)
    for start in range(0, rest.size, size):
        part = rest[start : start + size]
        spread = 1.4826 * float(np.median(np.abs(part - np.median(part))))
        top = CLIP * spread if spread > 0.0 else np.inf
        cut[start : start + size] = np.clip(part, -top, top)
    return cut


def likeness_of(one: Array, other: Array, *, least: int) -> Likeness | None:
    """How alike two rests are at the shift that fits best; None where too short."""
    points = min(one.size, other.size)
    if points < least:
        return None
    shift = _best_shift(one, other)
    left, right = _shifted(one, other, shift)
    blocks = [
        (a, b)
        for a, b in zip(
            np.array_split(left, BLOCKS), np.array_split(right, BLOCKS), strict=True
        )
        if a.std() > 0.0 and b.std() > 0.0
    ]
    if len(blocks) < BLOCKS // 2:
        return None
    noisy = sorted(blocks, key=lambda pair: -min(pair[0].std(), pair[1].std()))
    noisy = noisy[: max(2, len(noisy) // 2)]
    found = [_correlation(a, b) for a, b in noisy]
    apart = [
        _correlation(a[lag:], b[:-lag])
        for a, b in noisy
        for lag in range(WINDOW, 4 * WINDOW, 5)
        if a.size > 2 * lag
    ]
    # the median of n blocks spreads 1.25 times as much as their mean
    chance = 1.25 * float(np.std(apart)) / np.sqrt(len(noisy)) if apart else 1.0
    size = sum(a.size for a, _ in noisy)
    return Likeness(
        correlation=float(np.median(found)),
        chance=max(chance, 1.25 / float(np.sqrt(size))),
        points=size,
    )


def _best_shift(one: Array, other: Array) -> int:
    shifts = range(-SHIFTS, SHIFTS + 1)
    return max(shifts, key=lambda s: abs(_correlation(*_shifted(one, other, s))))


def _shifted(one: Array, other: Array, shift: int) -> tuple[Array, Array]:
    left, right = one[max(0, shift) :], other[max(0, -shift) :]
    size = min(left.size, right.size)
    return left[:size], right[:size]


def _correlation(one: Array, other: Array) -> float:
    left, right = one - one.mean(), other - other.mean()
    scale = float(np.sqrt((left @ left) * (right @ right)))
    return float(left @ right) / scale if scale > 0.0 else 0.0


def _is_copy(pair: Pair, pairs: Sequence[Pair], limit: float) -> bool:
    """Beyond the limit, beyond chance, and beyond what this instrument always shows."""
    likeness = pair.likeness
    usual = [
        other.likeness.correlation
        for other in pairs
        if other is not pair and other.tool == pair.tool
    ]
    base = min(MOST_BASELINE, max(0.0, float(np.median(usual)))) if usual else 0.0
    wanted = base + max(limit, SPREADS * likeness.chance)
    return likeness.correlation > wanted


def _alike(context: Context, pair: Pair, limit: Limit) -> Finding:
    within = pair.other is None
    later = within or _is_later(context, pair.other)
    values: dict[str, object] = {
        "file": pair.mine.evidence.file,
        "other": pair.theirs.evidence.file,
        "correlation": pair.likeness.correlation,
        "points": pair.likeness.points,
    }
    if pair.other is not None:
        values |= {"visit": pair.other.visit, "site": pair.other.site}
    verdict = Verdict.FAIL if later else Verdict.PASS
    name = "within" if within else "across" if later else "told"
    return finding(
        context,
        REQUIREMENT,
        pair.mine.evidence.at or "path",
        verdict=verdict,
        because=Message(f"{REQUIREMENT}.{verdict}.{name}", values),
        measured=Quantity(
            value=pair.likeness.correlation, unit="1", u=pair.likeness.chance
        ),
        limit=limit,
        observations=(pair.mine.evidence.file,),
    )


def _is_later(context: Context, other: OtherVisit | None) -> bool:
    """Whether this visit is the later of the two; ties go by id."""
    if other is None:
        return True
    mine = (context.observations.started, context.visit)
    return mine > (other.started, other.visit)


def _none(context: Context, pairs: Sequence[Pair]) -> Finding:
    values = {
        "count": len({id(pair.mine) for pair in pairs}),
        "others": len({id(pair.theirs) for pair in pairs}),
        "highest": max(pair.likeness.correlation for pair in pairs),
    }
    return finding(
        context,
        REQUIREMENT,
        "path",
        verdict=Verdict.PASS,
        because=Message(f"{REQUIREMENT}.pass", values),
    )


def _nothing(context: Context) -> Finding:
    name = "no_trace" if not context.files("trace") else "no_other"
    return finding(
        context,
        REQUIREMENT,
        "path",
        verdict=Verdict.NOT_MEASURED,
        because=Message(f"{REQUIREMENT}.not_measured.{name}", {}),
    )
