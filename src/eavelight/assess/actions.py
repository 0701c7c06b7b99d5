"""What to do next: cheap and reversible first, each with its reason.

Every finding that does not pass proposes the actions that could settle it. The
catalogue orders them; a failure that explains another one speaks for both.
"""

from collections.abc import Callable, Iterator, Sequence

from eavelight.assess.context import Context
from eavelight.assess.feed_resistance import planned_loop, shown_resistance
from eavelight.model.finding import Action, Finding, Verdict
from eavelight.model.message import Message
from eavelight.standards.actions import action_kinds

Proposal = tuple[str, str, Finding]
MOST = 12
# Of several reasons for one action, the sentence that tells most.
TELLING = {
    "relax-bend": "loss.slope",
    "free-drop": "trace.unexplained",
    "clean-both-faces": "endface.grade",
    "remake-crimp": "feed.cutoff",
}


def next_actions(context: Context, findings: Sequence[Finding]) -> tuple[Action, ...]:
    """Actions in order, the first one first; `close` when nothing is left to do."""
    proposals = list(_neighbours(context, findings))
    for item in findings:
        if item.exception is not None and item.exception.accepted_by is not None:
            continue
        if item.verdict is Verdict.PASS or _optional(item):
            continue
        rule = RULES.get(item.requirement)
        if rule is not None:
            proposals.extend(
                (name, at, item) for name, at in rule(context, item, findings)
            )
    proposals.sort(key=_urgency)
    chosen: dict[tuple[str, str], Action] = {}
    if not any(_blocks(item) for _, _, item in proposals):
        chosen["close", "box"] = _closing()
    for name, at, item in proposals:
        chosen.setdefault((name, at), _action(name, at, item.because))
    return tuple(chosen.values())[:MOST]


def _optional(item: Finding) -> bool:
    """Not seen and not asked for: nothing to do about it."""
    return item.verdict is Verdict.NOT_MEASURED and not item.required


def _blocks(item: Finding) -> bool:
    if item.verdict is Verdict.FAIL:
        return not item.advisory
    return item.required


def _urgency(proposal: Proposal) -> tuple[int, int, int]:
    """Failures first, then open questions, then what is only missing."""
    name, _, item = proposal
    kind = action_kinds()[name]
    if item.verdict is Verdict.FAIL:
        rank = 1 if item.advisory else 0
    elif item.required and item.requirement != "record.complete":
        rank = 2 if item.verdict is Verdict.UNDECIDED else 3
    elif item.required:
        rank = 4
    else:
        rank = 5
    return rank, kind.order, int(item.requirement != TELLING.get(name))


def _action(name: str, at: str, why: Message) -> Action:
    kind = action_kinds()[name]
    return Action(
        action=name,
        at=at,
        why=why,
        text=Message(f"action.{name}", {"at": at}),
        minutes=kind.minutes,
        resolves=kind.resolves,
    )


def _closing() -> Action:
    return _action("close", "box", Message("action.close.why", {}))


def _neighbours(context: Context, findings: Sequence[Finding]) -> Iterator[Proposal]:
    """Another home without service comes before everything of this one."""
    for item in context.current("neighbours_affected"):
        if item.reading.value is True:
            stand_in = Finding(
                requirement="identity.port_in_use",
                subject="hub",
                verdict=Verdict.FAIL,
                because=Message("neighbours.affected", {}),
            )
            yield "restore-neighbour", "hub", stand_in


Rule = Callable[[Context, Finding, Sequence[Finding]], Iterator[tuple[str, str]]]


def _fixed(*names: str) -> Rule:
    def rule(
        context: Context, item: Finding, findings: Sequence[Finding]
    ) -> Iterator[tuple[str, str]]:
        for name in names:
            yield name, item.subject

    return rule


def _by_verdict(failing: Sequence[str], otherwise: Sequence[str]) -> Rule:
    def rule(
        context: Context, item: Finding, findings: Sequence[Finding]
    ) -> Iterator[tuple[str, str]]:
        names = failing if item.verdict is Verdict.FAIL else otherwise
        for name in names:
            yield name, item.subject

    return rule


def verdict_of(
    findings: Sequence[Finding], requirement: str, subject: str | None = None
) -> Verdict | None:
    """The worst verdict on one requirement, None where it is absent."""
    order = (Verdict.FAIL, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.PASS)
    found = {
        item.verdict
        for item in findings
        if item.requirement == requirement and subject in (None, item.subject)
    }
    return next((verdict for verdict in order if verdict in found), None)


def _where_bent(findings: Sequence[Finding]) -> tuple[str, str]:
    """The drop where a trace shows the bend along it, else the box at hand."""
    along = verdict_of(findings, "trace.unexplained")
    return ("free-drop", "drop") if along is Verdict.FAIL else ("relax-bend", "box")


def _slope_shape(findings: Sequence[Finding]) -> str:
    """What the two wavelengths say of a loss that is too large."""
    for item in findings:
        if item.requirement == "loss.slope" and item.verdict is Verdict.FAIL:
            return "bend"
        if item.requirement == "loss.slope" and item.verdict is Verdict.PASS:
            return "joint"
    return "unknown"


def _level(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """A level away from its expectation: above the drop, in it, or a reading."""
    if item.verdict is not Verdict.FAIL:
        yield "measure-level", item.subject
        return
    if item.subject != "terminal":
        yield "check-port", item.subject
        yield "look-at-faces", item.subject
        yield "measure-upstream-of-drop", item.subject
        yield "call-desk-upstream", "hub"
        return
    above = verdict_of(findings, "level.expected", "port")
    if above in {None, Verdict.NOT_MEASURED}:
        yield "measure-upstream-of-drop", "port"
    if above is Verdict.FAIL:
        return
    yield from _drop_actions(findings)


def _drop_actions(findings: Sequence[Finding]) -> Iterator[tuple[str, str]]:
    shape = _slope_shape(findings)
    if shape == "bend":
        yield _where_bent(findings)
        return
    if shape == "unknown":
        yield "measure-loss-closed", "drop"
    faces = verdict_of(findings, "endface.grade", "terminal")
    if faces is not Verdict.FAIL:
        yield "look-at-faces", "terminal"
    yield "clean-both-faces", "terminal"
    yield "re-seat", "terminal"
    yield "relax-bend", "box"
    yield "re-splice", "drop"
    yield "replace-drop", "drop"


def _loss(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    if item.verdict is Verdict.FAIL:
        yield from _drop_actions(findings)
    else:
        yield "measure-loss-closed", "drop"


def _slope(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    if item.verdict is Verdict.FAIL:
        yield _where_bent(findings)
    else:
        yield "measure-loss-closed", "drop"


def _feed(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """A joint where readings show more than the cable, else the cable itself."""
    feed = context.plan.feed
    if item.verdict is not Verdict.FAIL or feed is None:
        yield "measure-loaded", "terminal"
        return
    shown = shown_resistance(context, feed)
    planned, planned_u = planned_loop(feed)
    spread = 2.0 * ((shown.u_ohm if shown else 0.0) ** 2 + planned_u**2) ** 0.5
    if shown is not None and shown.ohm > planned + spread:
        yield "remake-crimp", "terminal"
        yield "check-conductor", "supply"
    else:
        yield "thicker-feed", "supply"


def _loop(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    if item.verdict is Verdict.FAIL:
        higher = bool(item.because.values.get("higher"))
        yield ("remake-crimp", "terminal") if higher else ("check-conductor", "supply")
    else:
        yield "measure-loaded", "supply"


def _limits(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """Only what can be changed on site; the source class is left to the code."""
    if item.verdict is Verdict.FAIL:
        moved = item.subject == "battery"
        yield "move-supply" if moved else "larger-supply", "supply"


def _polarity(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """What the sentence names: the same finding covers sign, pairs and voltage."""
    if item.verdict is Verdict.NOT_MEASURED:
        yield "measure-loaded", item.subject
    named = {name.rpartition(".")[2] for name in _told(item.because)}
    for ending, action in POLARITY.items():
        if ending in named:
            yield action, item.subject


POLARITY = {
    "foreign": "stop-foreign-voltage",
    "fail": "swap-conductors",
    "swapped": "swap-conductors",
    "conductor_open": "find-open-conductor",
    "pair_open": "find-open-conductor",
    "open": "find-open-conductor",
    "insulation": "dry-the-pair",
}


def _told(message: Message) -> Iterator[str]:
    """Ids of a sentence and of those that it joins."""
    yield message.id
    for value in message.values.values():
        if isinstance(value, Message):
            yield from _told(value)


def _status(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    name = item.because.id.removeprefix("feed.status.seen.")
    if name in SEEN:
        yield SEEN[name]
    elif item.verdict is Verdict.FAIL:
        yield _mend(item.because.values.get("cause"))
    if item.decide_by is not None and ".make." in item.decide_by.id:
        yield "read-lines", "terminal"


def _mend(cause: object) -> tuple[str, str]:
    """A true state of supply or battery is not mended at the lines."""
    name = cause.id.rpartition(".")[2] if isinstance(cause, Message) else ""
    return TRUE_FAULTS.get(name, ("mend-lines", "terminal"))


TRUE_FAULTS = {
    "no_mains": ("check-outlet", "supply"),
    "battery_missing": ("check-battery-lead", "battery"),
    "battery_low": ("charge-and-test", "battery"),
    "replace_battery": ("replace-battery", "battery"),
}
SEEN = {
    "dead_outlet": ("check-outlet", "supply"),
    "dead_outlet_by_lamp": ("check-outlet", "supply"),
    "not_seated_or_own_plug_dirty": ("re-seat", "terminal"),
    "feed_does_not_arrive": ("check-conductor", "supply"),
    "terminal_restarts": ("remake-crimp", "terminal"),
    "battery_lead_off": ("check-battery-lead", "battery"),
    "no_light_at_the_plug_either": ("measure-upstream-of-drop", "port"),
}


def _runtime(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """A larger battery does not help where the cable does not hold at cut-off."""
    if item.verdict is Verdict.FAIL:
        if verdict_of(findings, "feed.cutoff") is not Verdict.FAIL:
            yield "bigger-battery", "battery"
    elif item.verdict is Verdict.UNDECIDED:
        yield "charge-and-test", "battery"


def _complete(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    yield "complete-record", "box"


def _shrink(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    if item.verdict is Verdict.FAIL:
        yield "re-splice", item.subject


def _event(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    if item.verdict is Verdict.FAIL:
        yield from _drop_actions(findings)
    elif item.verdict is Verdict.UNDECIDED:
        yield "read-both-ways", item.subject


def _estimate(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    name = {
        Verdict.FAIL: "re-splice",
        Verdict.UNDECIDED: "read-both-ways",
        Verdict.NOT_MEASURED: "write-estimate",
    }
    yield name[item.verdict], item.subject


COOLING = {
    "shade-the-top": "shade-top",
    "paint-light": "paint-light",
    "other-wall": "other-wall",
    "full-shade": "full-shade",
}


def _hot(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """What cools this box, in the order of what it gains; else another rating."""
    if item.verdict is not Verdict.FAIL:
        yield "measure-box", item.subject
        return
    found = [
        COOLING[change]
        for change in item.because.values.get("changes", ())
        if change in COOLING
    ]
    for name in found:
        yield name, item.subject
    if not found:
        yield "ask-heat-rating", item.subject


def _dew(
    context: Context, item: Finding, findings: Sequence[Finding]
) -> Iterator[tuple[str, str]]:
    """Entries first where they are bad, then the air in the box."""
    for change in item.because.values.get("changes", ()):
        if change == "mend-entries-and-seals":
            if verdict_of(findings, "housing.entry") is Verdict.FAIL:
                yield "mend-entry", item.subject
        elif change.startswith("vent-and-drain"):
            yield "vent-and-drain", item.subject


RULES: dict[str, Rule] = {
    "identity.port": _fixed("check-port"),
    "identity.registered": _by_verdict(
        ["check-port", "call-desk-registration"], ["call-desk-registration"]
    ),
    "identity.port_in_use": _by_verdict(["restore-neighbour"], []),
    "identity.polish": _by_verdict(["match-polish"], ["look-at-faces"]),
    "identity.fibre": _by_verdict(["prove-fibre"], ["prove-fibre"]),
    "level.window": _level,
    "level.expected": _level,
    "level.reported": _by_verdict(["measure-level"], []),
    "level.upstream": _by_verdict(["re-seat", "call-desk-upstream"], []),
    "loss.drop": _loss,
    "loss.slope": _slope,
    "loss.plausible": _by_verdict(["take-reference-again"], []),
    "splice.estimate": _estimate,
    "splice.shrink": _shrink,
    "splice.loss": _by_verdict(["re-splice"], ["read-both-ways"]),
    "trace.event": _event,
    "trace.reflectance": _by_verdict(["clean-both-faces"], []),
    "trace.unexplained": _by_verdict(["free-drop", "replace-drop"], []),
    "trace.length": _by_verdict(["compare-lengths"], []),
    "bend.radius": _by_verdict(["relax-bend"], []),
    "bend.lifetime": _by_verdict(["relax-bend"], []),
    "bend.closing": _by_verdict(["relax-bend"], []),
    "cleave.angle": _by_verdict(["re-splice"], []),
    "endface.grade": _by_verdict(["clean-both-faces"], ["look-at-faces"]),
    "feed.loaded": _feed,
    "feed.cutoff": _feed,
    "feed.loop": _loop,
    "feed.limits": _limits,
    "feed.supply": _by_verdict(["check-outlet"], []),
    "feed.polarity": _polarity,
    "feed.status": _status,
    "feed.runtime": _runtime,
    "housing.entry": _by_verdict(["mend-entry"], []),
    "housing.hot": _hot,
    "housing.cold": _by_verdict(["ask-cold-start"], []),
    "housing.dew": _dew,
    "evidence.duplicate": _by_verdict(["take-evidence-again"], []),
    "evidence.order": _by_verdict(["correct-times"], []),
    "evidence.length_agrees": _by_verdict(["compare-lengths"], []),
    "record.complete": _complete,
}
