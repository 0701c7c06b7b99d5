"""What kind of dirt a mark may be, and what to do about it.

Odds over kinds come from what a picture shows (shape, tone, rim, place, number) and
from what the last cleaning or a pause changed. All numbers are in the table that is
handed in; kinds that a picture cannot tell apart are named together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from eavelight.endface.face import Face
from eavelight.endface.marks import Mark

LEAST = 0.02
"""Likelihood of a feature value that the table does not list for a kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of dirt or damage: how common, what it looks like, what helps.

    `helps` is the chance that a cleaning step removes it, `harms` the chance that the
    step makes it worse. `stuck` kinds may be worth abrasive cleaning.
    """

    id: str
    prior: float
    likelihood: Mapping[str, Mapping[str, float]]
    helps: Mapping[str, float]
    harms: Mapping[str, float]
    stuck: bool = False
    alike: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A cleaning step, how often it may be tried, and how long it takes."""

    id: str
    rounds: int
    minutes: float
    counts_as: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DirtTable:
    """Kinds and steps of one data file."""

    kinds: tuple[Kind, ...]
    steps: tuple[Step, ...]
    least_benefit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The next step, what it is for, and the chance that it settles the matter."""

    step: str
    kinds: tuple[str, ...]
    chance: float
    minutes: float
    adapter_too: bool


def _shape_word(mark: Mark) -> str:
    if mark.kind == "scratch":
        return "line"
    if mark.length_um > 4 * max(mark.width_um, 0.5) or mark.filled < 0.2:
        return "hair" if mark.length_um > 15 else "irregular"
    if abs(mark.contrast) < 0.2 and mark.size_um > 8:
        return "ring" if mark.rim > 0.3 else "film"
    return "round" if mark.filled > 0.75 else "irregular"


def _tone_word(mark: Mark) -> str:
    if mark.contrast > 0.1:
        return "bright"
    size = -mark.contrast
    return "black" if size > 0.6 else "dark" if size > 0.25 else "faint"


def _place_word(mark: Mark) -> str:
    if mark.inner_um < 60.0 and mark.outer_um > 65.0:
        return "across"
    if mark.outer_um > 57.0 and mark.inner_um < 66.0:
        return "edge"
    return "glass" if mark.on_glass else "ferrule"


def features_of(
    mark: Mark, marks: Sequence[Mark], *, change: str = "unknown"
) -> dict[str, str]:
    """What a picture says about a mark, in the words of the table.

    Parameters
    ----------
    mark : Mark
        The mark [µm]
    marks : sequence of Mark
        All marks of the face [µm]
    change : str, optional
        What the last step did to it: unknown, gone_dry, gone_wet, gone_alone, moved,
        stayed_dry or stayed_wet [1]

    Returns
    -------
    features : dict
        Feature to word [1]
    """
    spots = [other for other in marks if other.kind == "spot"]
    number = "many" if len(spots) > 25 else "few" if len(spots) > 3 else "alone"
    return {
        "shape": _shape_word(mark),
        "tone": _tone_word(mark),
        "rim": "rimmed" if mark.rim > 0.25 else "plain",
        "place": _place_word(mark),
        "number": number,
        "change": change,
    }


def odds_of(
    features: Mapping[str, str], table: DirtTable, *, least: float = 0.03
) -> dict[str, float]:
    """Odds over kinds; kinds that look alike share one entry.

    Parameters
    ----------
    features : mapping
        Feature to word [1]
    table : DirtTable
        Kinds with their likelihoods [1]
    least : float, optional
        Entries below are put together as `other` [1]

    Returns
    -------
    odds : dict
        Kind or kinds joined by `+`, to probability; the sum is 1 [1]
    """
    weights: dict[str, float] = {}
    for kind in table.kinds:
        weight = kind.prior
        for feature, word in features.items():
            if word != "unknown" and feature in kind.likelihood:
                weight *= kind.likelihood[feature].get(word, LEAST)
        weights[kind.id] = weight
    total = sum(weights.values())
    named: dict[str, tuple[list[str], float]] = {}
    for kind in table.kinds:
        share = weights[kind.id] / total
        names, old = named.get(kind.alike or kind.id, ([], 0.0))
        # a kind far less likely than its look-alike is not worth naming
        named[kind.alike or kind.id] = (
            [*names, kind.id] if share > 0.25 * old else names,
            old + share,
        )
    odds = {"+".join(names): share for names, share in named.values() if share >= least}
    rest = 1.0 - sum(odds.values())
    ordered = dict(sorted(odds.items(), key=lambda item: -item[1]))
    if rest > 1e-9:
        ordered["other"] = rest
    return ordered


def _benefit(odds: Mapping[str, float], step: Step, kinds: Mapping[str, Kind]) -> float:
    total = 0.0
    for names, share in odds.items():
        parts = [kinds[name] for name in names.split("+") if name in kinds]
        for kind in parts:
            gain = kind.helps.get(step.id, 0.0) - kind.harms.get(step.id, 0.0)
            total += share * gain / len(parts)
    return total


def _allowed(
    step: Step,
    done: Sequence[str],
    odds: Sequence[Mapping[str, float]],
    rules: tuple[bool, Mapping[str, Kind]],
) -> bool:
    abrasive, kinds = rules
    if sum(1 for item in done if item == step.counts_as) >= step.rounds:
        return False
    if step.counts_as != "abrasive":
        return True
    tried = "dry" in done and "wet" in done
    stuck = bool(odds) and all(
        kinds[name].stuck
        for item in odds
        for name in max(item, key=lambda key: item[key]).split("+")
        if name in kinds
    )
    return abrasive and tried and stuck


def advise(
    odds: Sequence[Mapping[str, float]],
    done: Sequence[str],
    table: DirtTable,
    *,
    abrasive: bool = False,
) -> Advice:
    """The next cleaning step for the marks that count.

    Parameters
    ----------
    odds : sequence of mapping
        Odds over kinds of every mark that counts [1]
    done : sequence of str
        Rounds so far, in order: dry, wet or abrasive [1]
    table : DirtTable
        Kinds and steps [1]
    abrasive : bool, optional
        Whether the profile allows abrasive cleaning [1]

    Returns
    -------
    advice : Advice
        The step; `replace` when nothing in bounds is likely to help [1]
    """
    kinds = {kind.id: kind for kind in table.kinds}
    best: tuple[float, Step] | None = None
    for step in table.steps:
        if not _allowed(step, done, odds, (abrasive, kinds)):
            continue
        # the face passes only when every mark goes: the worst one decides
        chance = min((_benefit(item, step, kinds) for item in odds), default=0.0)
        if best is None or chance > best[0] + 0.02:
            best = (chance, step)
    likely = [max(item, key=lambda key: item[key]) for item in odds]
    common = tuple(dict.fromkeys(likely))
    if best is None or best[0] < table.least_benefit:
        return Advice(
            step="replace", kinds=common, chance=0.0, minutes=0.0, adapter_too=False
        )
    return Advice(
        step=best[1].id,
        kinds=common,
        chance=best[0],
        minutes=best[1].minutes,
        adapter_too=True,
    )


def kinds_of_face(
    face: Face, table: DirtTable, *, changes: Sequence[str] = ()
) -> list[dict[str, float]]:
    """Odds over kinds for every mark of a face.

    Parameters
    ----------
    face : Face
        The graded face [1]
    table : DirtTable
        Kinds with their likelihoods [1]
    changes : sequence of str, optional
        What the last step did to each mark [1]

    Returns
    -------
    odds : list of dict
        In the order of the marks [1]
    """
    words = list(changes) or ["unknown"] * len(face.marks)
    return [
        odds_of(features_of(mark, face.marks, change=word), table)
        for mark, word in zip(face.marks, words, strict=True)
    ]
