"""Why: the observations that speak most for a cause, and those against it.

Each piece of evidence is weighed by how much better the best explanation with the
cause foretells it than the best one without. Readings that belong together, two
wavelengths or two ends of the drop, are told in one sentence as a colleague would.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.case import Case, Mark
from eavelight.diagnosis.infer import Explanation, Inference
from eavelight.diagnosis.marks import mark_probability
from eavelight.diagnosis.rows import Row
from eavelight.diagnosis.summary import FaultSet, Sets
from eavelight.model.message import Message
from eavelight.standards.priors import signatures

Array = NDArray[np.float64]
FOR, AGAINST, LEAST = 3, 2, 0.35
RISES_DB = 0.1
SHORT_NM, LONG_NM = 1310, 1550
AS_EXPECTED_SIGMA = 2.5
# A story that needs a reading to stray is no rival while a plainer one stands.
STRAY_STORY = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One sentence of evidence with its weight for the cause, in nats."""

    weight: float
    sentence: Message


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """Two explanations side by side: the best with a cause and the best without."""

    case: Case
    inference: Inference
    with_: Explanation
    without: Explanation

    @cached_property
    def shifts(self) -> tuple[Array, Array]:
        """What both explanations add to every row."""
        return self.inference.shift(self.with_), self.inference.shift(self.without)

    @cached_property
    def foretold(self) -> Array:
        """What the explanation with the cause leads one to expect of every row."""
        means = np.array([row.mean for row in self.inference.table.rows])
        return np.asarray(means + self.shifts[0])

    def weight(self, *index: int) -> float:
        """How much better these rows together are foretold with the cause."""
        table, rows = self.inference.table, list(index)
        inverse = np.linalg.inv(table.covariance[np.ix_(rows, rows)])
        worse, better = (
            off @ inverse @ off
            for off in ((table.residual - s)[rows] for s in self.shifts[::-1])
        )
        return float(0.5 * (worse - better))


def reasons(
    case: Case, inference: Inference, sets: Sets, name: tuple[str, str]
) -> tuple[tuple[Message, ...], tuple[Message, ...]]:
    """Sentences for and against one cause at one place."""
    view = _view(case, inference, sets, name)
    if view is None:
        return (), ()
    nothing = name[0] == "none"
    pieces = [*_rows(view, nothing=nothing), *_marks(view)]
    pieces.sort(key=lambda piece: -piece.weight)
    least = -LEAST if nothing else LEAST
    speaks_for = [p.sentence for p in pieces if p.weight > least]
    against = [p.sentence for p in reversed(pieces) if p.weight < -1.5 * LEAST]
    return _first(speaks_for, FOR), _first(against, AGAINST)


def _first(sentences: Iterable[Message], count: int) -> tuple[Message, ...]:
    found: list[Message] = []
    told: set[tuple[str, object]] = set()
    for sentence in sentences:
        kind = (sentence.id, sentence.values.get("at"))
        if kind not in told:
            told.add(kind)
            found.append(sentence)
    return tuple(found[:count])


def _view(
    case: Case, inference: Inference, sets: Sets, name: tuple[str, str]
) -> View | None:
    having, size = None, 0
    for key, (_, item) in sets.items():
        if _holds(key, name):
            having, size = item, len(key)
            break
    rivals = [
        item
        for key, (_, item) in sets.items()
        if not _speaks_of(key, name[0])
        and len(key) <= max(size, 1)
        and not _speaks_of(key, "measurement")
    ]
    lacking = max(rivals, key=_plainly(inference), default=None)
    if having is None or lacking is None:
        return None
    return View(case=case, inference=inference, with_=having, without=lacking)


def _plainly(inference: Inference) -> Callable[[Explanation], float]:
    """How good an explanation is that calls no reading stray or wrong."""

    def log(item: Explanation) -> float:
        strays = sum(inference.atoms[i].cause is None for i in item.atoms)
        return item.log - STRAY_STORY * strays

    return log


def _holds(key: FaultSet, name: tuple[str, str]) -> bool:
    return not key if name[0] == "none" else name in key


def _speaks_of(key: FaultSet, cause: str) -> bool:
    """Whether a set holds the cause at any place: that is no rival to it."""
    return not key if cause == "none" else any(cause == item[0] for item in key)


def _rows(view: View, *, nothing: bool) -> Iterator[Piece]:
    rows = view.inference.table.rows
    left = {index for index, row in enumerate(rows) if not row.baseline}
    yield from _slope(view, left)
    yield from _ends(view, left)
    foretold = view.foretold
    sigma = view.inference.table.sigma
    for index in sorted(left):
        row = rows[index]
        off = abs(row.value - row.mean) / max(float(sigma[index]), 1e-9)
        fits = abs(row.value - foretold[index]) < AS_EXPECTED_SIGMA * sigma[index]
        if nothing and not fits:
            continue
        yield Piece(
            weight=view.weight(index),
            sentence=_row_sentence(row, float(foretold[index]), off=float(off)),
        )


def _row_sentence(row: Row, foretold: float, *, off: float) -> Message:
    values = {
        "at": row.at,
        "value": row.value,
        "mean": row.mean,
        "foretold": foretold,
        "nm": row.nm,
        "away": row.value - row.mean,
        "as_expected": off < AS_EXPECTED_SIGMA,
        "below": row.censored,
        "battery": "on battery" in row.states,
        "direction": row.direction,
    }
    return Message(f"diagnosis.row.{row.kind}", values)


def _find(
    rows: Sequence[Row], left: set[int], kind: str, *, at: str, nm: int
) -> int | None:
    found = [
        index
        for index in left
        if rows[index].kind == kind and rows[index].at == at and rows[index].nm == nm
    ]
    return max(found) if found else None


def _slope(view: View, left: set[int]) -> Iterator[Piece]:
    """Two wavelengths of one loss, told together."""
    rows = view.inference.table.rows
    for kind, at in (("loss", "drop"), ("loss", "path")):
        short = _find(rows, left, kind, at=at, nm=SHORT_NM)
        long = _find(rows, left, kind, at=at, nm=LONG_NM)
        if short is None or long is None:
            continue
        left -= {short, long}
        excess = max(rows[i].value - rows[i].mean for i in (short, long))
        rise = rows[long].value - rows[short].value
        shape = "rises" if rise > RISES_DB else "falls" if rise < -RISES_DB else "flat"
        if excess < RISES_DB:
            shape = "sound"
        values = {
            "at": at,
            "short": rows[short].value,
            "long": rows[long].value,
            "rise": rise,
            "mean": rows[long].mean,
            "excess": excess,
        }
        yield Piece(
            weight=view.weight(short, long),
            sentence=Message(f"diagnosis.slope.{shape}", values),
        )


def _ends(view: View, left: set[int]) -> Iterator[Piece]:
    """The level at the port and at the terminal, told together."""
    rows, nm = view.inference.table.rows, view.case.down_nm
    port = _find(rows, left, "level", at="port", nm=nm)
    terminal = _find(rows, left, "level", at="terminal", nm=nm)
    if port is None or terminal is None or rows[terminal].censored:
        return
    left -= {port, terminal}
    before = rows[port].value - rows[port].mean
    behind = (rows[terminal].value - rows[terminal].mean) - before
    sigma = float(view.inference.table.sigma[port])
    above = abs(before) > 2.0 * sigma
    inside = behind < -0.4
    name = {
        (True, True): "both",
        (True, False): "above",
        (False, True): "drop",
        (False, False): "sound",
    }[above, inside]
    values = {
        "port": rows[port].value,
        "terminal": rows[terminal].value,
        "planned": rows[port].mean,
        "before": before,
        "missing": -behind,
        "nm": nm,
    }
    yield Piece(
        weight=view.weight(port, terminal),
        sentence=Message(f"diagnosis.ends.{name}", values),
    )


def _marks(view: View) -> Iterator[Piece]:
    for mark in view.case.marks:
        better = _mark_log(view, view.with_, mark)
        worse = _mark_log(view, view.without, mark)
        yield Piece(weight=better - worse, sentence=mark_sentence(mark))


def _mark_log(view: View, item: Explanation, mark: Mark) -> float:
    stays = 1.0 - signatures().marks[mark.kind].without
    for index in item.atoms:
        stays *= 1.0 - mark_probability(view.inference.atoms[index], mark)
    return float(np.log(max(1.0 - stays if mark.bad else stays, 1e-12)))


def mark_sentence(mark: Mark) -> Message:
    """A mark in words: the finding's own sentence where there is one."""
    if mark.why is not None and mark.bad:
        return mark.why
    name = mark.kind.replace(" ", "_")
    side = mark.side or ""
    values = {"at": mark.at, "side": side, "line": side}
    return Message(f"diagnosis.mark.{name}.{'bad' if mark.bad else 'good'}", values)
