"""What to do next: the gain expected per minute over the catalogue of actions.

A cure gains the chance that it cures, a look gains the minutes that knowing saves.
Identity comes before everything, and what cannot be undone must be worth more.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from eavelight.diagnosis.atoms import drop_fibre
from eavelight.diagnosis.attempts import keep_splice, series_of
from eavelight.diagnosis.case import Case
from eavelight.diagnosis.outcome import Advice, Cause
from eavelight.model.message import Message
from eavelight.standards.actions import ActionKind, action_kinds

FIXED_PLACES = {
    "check-port": "port",
    "call-desk-registration": "hub",
    "call-desk-upstream": "hub",
}
IDENTITY = ("wrong-port", "wrong-fibre", "wrong-split")
WORTH, IDENTITY_WORTH = 0.05, 0.25
IRREVERSIBLE, IRREVERSIBLE_FROM = 0.6, 0.25
SMALLEST = 0.01
RELIABLE, ESCALATE = 0.9, 0.4
# A cure as likely as this comes before what only concerns the splice.
LIKELY = 0.3
SURE = 0.75
# What is not told to be wrong at one place costs a look elsewhere first.
GIVE_UP_MIN = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cure:
    """One way to cure one cause."""

    kind: ActionKind
    cause: Cause
    value: float

    @property
    def rate(self) -> float:
        """Chance of a cure per minute."""
        careful = 1.0 if self.kind.reversible else IRREVERSIBLE
        return self.value * careful / self.kind.minutes


def advise(
    case: Case, causes: Sequence[Cause], *, unexplained: float = 0.0
) -> tuple[Advice, ...]:
    """Actions in order; none where nothing is probably wrong.

    `unexplained` is the probability of something that none of the causes describes.
    """
    found = _advice(case, causes)
    if unexplained < ESCALATE:
        return found
    why = Message("diagnosis.why.escalate", {"percent": 100.0 * unexplained})
    return (*found, _plain("stop-and-escalate", "box", why))


def _advice(case: Case, causes: Sequence[Cause]) -> tuple[Advice, ...]:
    wrong = [
        c
        for c in causes
        if c.cause != "none" and not c.mended and c.probability >= WORTH
    ]
    kept = keep_splice(case)
    cures = [cure for cure in _cures(case, wrong) if not _kept(cure, kept)]
    cures.sort(key=_urgency)
    found = [*_looks(case, wrong, cures), *(_cure_advice(cure) for cure in cures)]
    found = _once(found)
    first, rest = _identity(found), _rest(found)
    splice = list(_splice_first(case, kept))
    if not splice:
        return (*first, *rest)
    sure = [a for a in rest if a.gain_per_minute * a.minutes >= LIKELY]
    left = [a for a in rest if a not in sure]
    return (*first, *sure, *splice, *left)


def _kept(cure: _Cure, kept: Mapping[str, Message]) -> bool:
    return cure.kind.id == "re-splice" and cure.cause.at in kept


def _urgency(cure: _Cure) -> tuple[float, int, str]:
    return (-cure.rate, cure.kind.order, cure.cause.at)


def _place(case: Case, at: str) -> str:
    return "drop" if at == drop_fibre(case) else at


def _exists(case: Case, kind: ActionKind) -> bool:
    feed = case.plan.feed
    there = {
        "feed": feed is not None,
        "feed.battery": feed is not None and feed.battery is not None,
        "splice": bool(case.parts_of("splice")),
        "assignment": case.plan.assignment.fibre is not None,
    }
    return all(there.get(need, True) for need in kind.needs)


def _cures(case: Case, wrong: Sequence[Cause]) -> Iterator[_Cure]:
    """Every action that could cure one of the causes, with the chance that it does."""
    for kind in action_kinds().values():
        if not kind.success or not _exists(case, kind):
            continue
        for cause in wrong:
            if cause.cause not in kind.resolves:
                continue
            if not kind.reversible and cause.probability < IRREVERSIBLE_FROM:
                continue
            if kind.only_at and _place(case, cause.at) not in kind.only_at:
                continue
            together = [
                (_reached(kind, other), other.cause)
                for other in wrong
                if other.cause in kind.resolves and other.at == cause.at
            ]
            chance = min(1.0, sum(share for share, _ in together)) * kind.success
            if chance >= SMALLEST and max(together)[1] == cause.cause:
                yield _Cure(kind=kind, cause=cause, value=chance)


def _reached(kind: ActionKind, cause: Cause) -> float:
    """Probability of a cause in a way that the action can cure."""
    mode = kind.cures_mode.get(cause.cause)
    share = 1.0 if mode is None else cause.modes.get(mode, 0.0)
    return cause.probability * share


def _cure_advice(cure: _Cure) -> Advice:
    return Advice(
        action=cure.kind.id,
        at=FIXED_PLACES.get(cure.kind.id, cure.cause.at),
        why=why_of(cure.cause),
        minutes=cure.kind.minutes,
        resolves=cure.kind.resolves,
        gain_per_minute=cure.rate,
        cautions=_cautions(cure.kind),
    )


def _cautions(kind: ActionKind) -> tuple[Message, ...]:
    return tuple(Message(f"caution.{name}") for name in kind.safety)


def why_of(cause: Cause) -> Message:
    """The cause in words with its probability and its strongest observation."""
    values: dict[str, object] = {
        "cause": Message(f"diagnosis.cause.{cause.cause}", {"at": cause.at}),
        "percent": 100.0 * cause.probability,
        "sure": cause.probability > 0.99,
        "likely": cause.probability >= 0.5,
    }
    if not cause.because:
        return Message("diagnosis.why.plain", values)
    return Message("diagnosis.why", values | {"reason": cause.because[0]})


def minutes_to_cure(cures: Sequence[_Cure], chances: Mapping[int, float]) -> float:
    """Expected minutes when the cures are tried in the order of their rate."""
    order = sorted(
        range(len(cures)),
        key=lambda i: -chances[i] * cures[i].kind.success / cures[i].kind.minutes,
    )
    left, minutes = 1.0, 0.0
    for index in order:
        minutes += left * cures[index].kind.minutes
        left -= min(left, chances[index] * cures[index].kind.success)
    return minutes + left * GIVE_UP_MIN


def _looks(
    case: Case, wrong: Sequence[Cause], cures: Sequence[_Cure]
) -> Iterator[Advice]:
    """Looks that save more minutes than they take, while no cause is sure."""
    total = sum(cause.probability for cause in wrong)
    if not wrong or not cures or wrong[0].probability >= SURE:
        return
    best = {id(cause): cause.probability / total for cause in wrong}
    chances = {i: best[id(cure.cause)] for i, cure in enumerate(cures)}
    before = minutes_to_cure(cures, chances)
    for kind in action_kinds().values():
        if not kind.tells or not _exists(case, kind):
            continue
        for at in _look_places(kind, wrong):
            if any(word.format(at=at) in case.done for word in kind.useless_after):
                continue
            told = [i for i, cure in enumerate(cures) if _tells(kind, at, cure.cause)]
            saved = before - kind.minutes - _after(cures, chances, told)
            if saved > 0:
                yield Advice(
                    action=kind.id,
                    at=at,
                    why=_look_why(wrong),
                    minutes=kind.minutes,
                    resolves=kind.resolves,
                    gain_per_minute=saved / before / kind.minutes,
                    cautions=_cautions(kind),
                )


def _look_places(kind: ActionKind, wrong: Sequence[Cause]) -> Iterator[str]:
    if kind.id == "look-at-faces":
        yield from dict.fromkeys(c.at for c in wrong if c.cause in kind.tells)
    elif kind.id == "read-both-ways":
        yield from dict.fromkeys(c.at for c in wrong if c.cause == "splice")
    elif any(cause.cause in kind.tells for cause in wrong):
        places = {
            "measure-upstream-of-drop": "port",
            "measure-level": "terminal",
            "measure-loaded": "terminal",
            "measure-box": "box",
            "measure-on-battery": "terminal",
            "read-lines": "terminal",
        }
        yield places.get(kind.id, "drop")


def _tells(kind: ActionKind, at: str, cause: Cause) -> bool:
    local = kind.id in {"look-at-faces", "read-both-ways"}
    return cause.cause in kind.tells and (not local or cause.at == at)


def _after(
    cures: Sequence[_Cure], chances: Mapping[int, float], told: Sequence[int]
) -> float:
    """Expected minutes to a cure once the look has answered."""
    seen: dict[int, float] = {}
    for index in told:
        seen.setdefault(id(cures[index].cause), chances[index])
    share = min(1.0, sum(seen.values()))
    yes = RELIABLE * share + (1.0 - RELIABLE) * (1.0 - share)
    inside, minutes = set(told), 0.0
    for answer, weight in ((True, yes), (False, 1.0 - yes)):
        if weight <= 1e-9:
            continue
        after = {
            i: c * (RELIABLE if (i in inside) is answer else 1.0 - RELIABLE) / weight
            for i, c in chances.items()
        }
        minutes += weight * minutes_to_cure(cures, after)
    return minutes


def _look_why(wrong: Sequence[Cause]) -> Message:
    names = tuple(
        Message(f"diagnosis.cause.{cause.cause}", {"at": cause.at})
        for cause in wrong[:3]
    )
    return Message("diagnosis.why.look", {"causes": names})


def _once(found: Sequence[Advice]) -> list[Advice]:
    """The best of each action at each place."""
    kept: dict[tuple[str, str], Advice] = {}
    for item in sorted(found, key=lambda a: -a.gain_per_minute):
        kept.setdefault((item.action, item.at), item)
    return list(kept.values())


def _is_identity(item: Advice) -> bool:
    asks = action_kinds()[item.action].success > 0
    return asks and item.resolves[:1] in {(name,) for name in IDENTITY}


def _identity(found: Sequence[Advice]) -> list[Advice]:
    """What could be another home's line comes before any other cure."""
    return [
        item
        for item in found
        if _is_identity(item)
        and item.gain_per_minute * item.minutes >= IDENTITY_WORTH * 0.5
    ]


def _rest(found: Sequence[Advice]) -> list[Advice]:
    first = _identity(found)
    return [item for item in found if item not in first]


def _splice_first(case: Case, kept: Mapping[str, Message]) -> Iterator[Advice]:
    """Splices to leave alone, and tools to mend before another attempt."""
    for at, reason in kept.items():
        settled = reason.id.endswith("step")
        yield _plain("keep-splice" if settled else "read-both-ways", at, reason)
    for series in series_of(case):
        values = {
            "at": series.at,
            "low": min(series.estimates, default=0.0),
            "high": max(series.estimates, default=0.0),
        }
        if series.jumps and max(series.estimates[-1:]) > 0.1:
            yield _plain(
                "clean-groove", series.at, Message("diagnosis.series.jumps", values)
            )
        if series.blade:
            values |= {"first": series.cleaves[0], "last": series.cleaves[-1]}
            yield _plain(
                "new-blade", series.at, Message("diagnosis.series.blade", values)
            )


def _plain(name: str, at: str, why: Message) -> Advice:
    kind = action_kinds()[name]
    return Advice(
        action=name,
        at=at,
        why=why,
        minutes=kind.minutes,
        resolves=kind.resolves,
        gain_per_minute=0.0,
        cautions=_cautions(kind),
    )


def settles(case: Case, cause: Cause) -> Message | None:
    """What would settle a cause: a look not yet taken, else its cure."""
    kinds = sorted(action_kinds().values(), key=lambda kind: kind.order)
    for kind in kinds:
        told = cause.cause in kind.tells and _exists(case, kind)
        done = any(w.format(at=cause.at) in case.done for w in kind.useless_after)
        if told and not done:
            return Message(f"action.{kind.id}", {"at": cause.at})
    if any(mark.kind == "port label" and not mark.bad for mark in case.marks):
        # the label was read right: a call may settle what another walk hardly can
        kinds.sort(key=lambda kind: kind.id == "check-port")
    for kind in kinds:
        fits = not kind.only_at or _place(case, cause.at) in kind.only_at
        if kind.success and cause.cause in kind.resolves and fits:
            return Message(f"action.{kind.id}", {"at": cause.at})
    return None
