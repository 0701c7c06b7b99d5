"""Values that repeat as honest readings do not: whole runs, and last digits.

Two equal readings say nothing: at a display's resolution honest values agree often. A
run of equal values in the same order says more the less likely each agreement is. Last
digits of many readings are even where the readings spread over many steps.
"""

import itertools
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, limit_of
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import OtherVisit, Reading

REQUIREMENT = "evidence.repeated_values"
KINDS = (
    "level", "level_reported", "level_upstream", "loss", "splice_estimate",
    "splice_loss", "cleave_angle", "volts", "loop_resistance",
)  # fmt: skip
DIGIT_KINDS = ("level", "loss")
# a meter repeats itself within about a third of the uncertainty promised for its kind
REPEATS = 3.0
LIKELIEST = 0.9
# pairs of visits from which on the company's own agreement counts
ENOUGH_PAIRS = 10
# steps of the display over which readings must spread for their last digits to be even
SPREAD_STEPS = 8.0

Key = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Equal values in the same order in two visits."""

    other: OtherVisit
    ids: tuple[str, ...]
    chance: float


def assess_values(context: Context) -> list[Finding]:
    """`evidence.repeated_values`: runs of equal values, uneven last digits."""
    mine = series_of(context.observations.readings)
    found = [*_runs(context, mine), *_digits(context)]
    if found:
        return found
    if not mine or not context.others:
        name = "no_values" if not mine else "no_other"
        return [
            finding(
                context,
                REQUIREMENT,
                "path",
                verdict=Verdict.NOT_MEASURED,
                because=Message(f"{REQUIREMENT}.not_measured.{name}", {}),
            )
        ]
    values = {"count": len(mine), "others": len(context.others)}
    return [
        finding(
            context,
            REQUIREMENT,
            "path",
            verdict=Verdict.PASS,
            because=Message(f"{REQUIREMENT}.pass", values),
        )
    ]


def series_of(readings: Iterable[Reading]) -> dict[Key, Reading]:
    """Measured values by what they are of, in the order in which they were taken.

    Of one quantity read twice the last counts: a splicer tells its estimate again.
    """
    found: dict[Key, Reading] = {}
    for reading in sorted(readings, key=lambda item: (item.time, item.id)):
        if reading.what not in KINDS or reading.below:
            continue
        if isinstance(reading.value, bool) or not isinstance(
            reading.value, int | float
        ):
            continue
        found[_key(reading)] = reading
    return found


def _key(reading: Reading) -> Key:
    supply = tuple(s for s in reading.state if s in {"loaded", "no load", "on battery"})
    return (
        reading.what,
        reading.at,
        reading.wavelength_nm,
        reading.direction,
        reading.end,
        supply,
    )


def _runs(context: Context, mine: dict[Key, Reading]) -> Iterator[Finding]:
    length = int(context.profile.number("evidence.repeated_values.run"))
    limit = context.profile.limit("evidence.repeated_values.chance")
    if len(mine) < length:
        return
    theirs = [(other, series_of(other.readings)) for other in context.others]
    theirs = [(o, s) for o, s in theirs if o.visit != context.visit and s]
    odds = _odds(context, mine, [series for _, series in theirs])
    for other, series in theirs:
        run = _longest(mine, series, odds, other=other)
        if run is None or len(run.ids) < length:
            continue
        if run.chance * len(theirs) <= limit.value:
            yield _repeated(context, run, chance=run.chance * len(theirs))


def _odds(
    context: Context, mine: dict[Key, Reading], others: Sequence[dict[Key, Reading]]
) -> dict[Key, float]:
    """How likely two honest visits agree in each value."""
    found = {}
    everyone = [mine, *others]
    for key, reading in mine.items():
        values = [series[key].number for series in everyone if key in series]
        step = step_of(values)
        spread = context.u_of(reading) / REPEATS
        odds = step / (2.0 * math.sqrt(math.pi) * spread)
        pairs = len(values) * (len(values) - 1) // 2
        if pairs >= ENOUGH_PAIRS:
            same = sum(n * (n - 1) // 2 for n in Counter(values).values())
            odds = max(odds, (same + 1) / (pairs + 2))
        found[key] = min(LIKELIEST, odds)
    return found


def step_of(values: Iterable[float]) -> float:
    """The step of the display that values come from: what they all are multiples of.

    >>> step_of([0.02, 0.04, 0.1])
    0.02
    """
    numbers = [Decimal(repr(float(value))) for value in values]
    places = max(
        (max(0, -int(number.normalize().as_tuple().exponent)) for number in numbers),
        default=0,
    )
    counts = [int(number.scaleb(places)) for number in numbers]
    common = math.gcd(*counts) if len(counts) > 3 else 1
    return max(1, common if common in {2, 5} else 1) / 10.0**places


def _longest(
    mine: dict[Key, Reading],
    theirs: dict[Key, Reading],
    odds: dict[Key, float],
    *,
    other: OtherVisit,
) -> Run | None:
    """The least likely run of equal values; what only one of them read is skipped."""
    best: Run | None = None
    ids: list[str] = []
    chance = 1.0
    for key, reading in mine.items():
        if key not in theirs:
            continue
        if reading.number != theirs[key].number:
            ids, chance = [], 1.0
            continue
        ids.append(reading.id)
        chance *= odds[key]
        if best is None or chance < best.chance:
            best = Run(other=other, ids=tuple(ids), chance=chance)
    return best


def _repeated(context: Context, run: Run, *, chance: float) -> Finding:
    mine = (context.observations.started, context.visit)
    later = mine > (run.other.started, run.other.visit)
    verdict = Verdict.FAIL if later else Verdict.PASS
    values: dict[str, object] = {
        "count": len(run.ids),
        "visit": run.other.visit,
        "site": run.other.site,
        "first": run.ids[0],
        "last": run.ids[-1],
        "chance": chance,
    }
    name = "run" if later else "told"
    return finding(
        context,
        REQUIREMENT,
        "path",
        verdict=verdict,
        because=Message(f"{REQUIREMENT}.{verdict}.{name}", values),
        measured=Quantity(value=float(len(run.ids)), unit="1"),
        limit=limit_of(context.profile.limit("evidence.repeated_values.run")),
        probability=min(1.0, chance),
        observations=run.ids,
    )


def _digits(context: Context) -> Iterator[Finding]:
    """Last digits of all the crew's readings together, this visit's among them."""
    least = int(context.profile.number("evidence.repeated_values.readings"))
    limit = context.profile.limit("evidence.repeated_values.digits")
    everything = [context.observations.readings]
    everything += [other.readings for other in _crew(context)]
    digits = last_digits(itertools.chain.from_iterable(everything))
    if len(digits) < least:
        return
    chi = digits_chi_squared(digits)
    if chi <= limit.value:
        return
    values: dict[str, object] = {
        "count": len(digits),
        "chi": chi,
        "visits": len(everything),
        "common": Counter(digits).most_common(1)[0][0],
    }
    yield finding(
        context,
        REQUIREMENT,
        "path",
        verdict=Verdict.FAIL,
        because=Message(f"{REQUIREMENT}.fail.digits", values),
        measured=Quantity(value=chi, unit="1"),
        limit=limit_of(limit),
    )


def _crew(context: Context) -> list[OtherVisit]:
    """Earlier and later visits of the same crew; none where no crew is written down."""
    crew = context.observations.crew
    if crew is None:
        return []
    return [
        other
        for other in context.others
        if other.crew == crew and other.visit != context.visit
    ]


def last_digits(readings: Iterable[Reading]) -> list[int]:
    """Last digits of readings of which honest ones have even last digits.

    Readings of one quantity count only where they spread over many steps of the
    display, and a coarse display's steps count as its digits.
    """
    grouped: dict[Key, list[float]] = {}
    for reading in readings:
        if (
            reading.what in DIGIT_KINDS
            and not reading.below
            and isinstance(reading.value, float | int)
            and not isinstance(reading.value, bool)
        ):
            key = (reading.what, reading.at, reading.wavelength_nm)
            grouped.setdefault(key, []).append(float(reading.value))
    found: list[int] = []
    for values in grouped.values():
        step = step_of(values)
        middle = sum(values) / len(values)
        spread = math.sqrt(sum((v - middle) ** 2 for v in values) / len(values))
        if step < 0.1 and spread >= SPREAD_STEPS * step:
            found += [round(abs(value) / step) % 10 for value in values]
    return found


def digits_chi_squared(digits: Sequence[int]) -> float:
    """Chi-squared of ten digits against even odds, nine degrees of freedom.

    >>> digits_chi_squared(list(range(10)) * 3)
    0.0
    """
    expected = len(digits) / 10.0
    counts = Counter(digits)
    return sum((counts[digit] - expected) ** 2 for digit in range(10)) / expected
