"""What to do next: danger first, then cheap and reversible, each with its reason.

Every finding that does not pass proposes the actions that could settle it. The
catalogue orders them; a failure that explains another one speaks for both.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from eavelight.assess.context import Context
from eavelight.assess.danger import dangers, foreign_unread
from eavelight.assess.endface import cleaned_at
from eavelight.assess.feed_resistance import planned_loop, shown_resistance
from eavelight.assess.points import points_of_no_return
from eavelight.assess.proposal import (
    Proposal,
    action_of,
    class_order,
    severity,
    told,
)
from eavelight.model.finding import Action, Finding, Standing, Step, Verdict
from eavelight.model.message import Message
from eavelight.standards.actions import action_kinds

MOST = 12
# Of several reasons for one action, the sentence that tells most.
TELLING = {
    "relax-bend": "loss.slope",
    "free-drop": "trace.unexplained",
    "clean-both-faces": "endface.grade",
    "remake-crimp": "feed.cutoff",
}
# Told of a wrong identity: another home may hang on it.
OF_IDENTITY = {
    "restore-neighbour", "check-port", "prove-fibre", "call-desk-registration",
}  # fmt: skip


def next_actions(
    context: Context,
    findings: Sequence[Finding],
    steps: Sequence[Step] | None = None,
) -> tuple[Action, ...]:
    """Actions in order, the first one first; `close` when nothing is left to do.

    Danger first, then another home, then what a point of no return waits for that is
    not passed yet, then the rest; within each cheap and reversible first. `steps` are
    the points of no return, worked out where they are not given.
    """
    if steps is None:
        steps = points_of_no_return(context, findings)
    passed = {step.step for step in steps if step.passed}
    asked = [*_neighbours(context), *_asked(context, findings)]
    asked += _unread_guards(context, passed)
    placed = [_placed(item, steps) for item in asked]
    urgent = dangers(context, findings, placed, powered="plug in" in passed)
    told_of = {item.action for item in urgent}
    proposals = [*urgent, *(item for item in placed if item.action not in told_of)]
    dark = not context.current("terminal_online_at")
    proposals.sort(key=lambda item: _urgency(item, dark=dark))
    nearby = {(item.action, item.at) for item in proposals if item.nearby}
    settles: dict[str, set[str]] = {}
    for item in proposals:
        settles.setdefault(item.action, set()).add(item.item.requirement)
    chosen: dict[tuple[str, str], Action] = {}
    for item in proposals:
        key = (item.action, item.at)
        if key not in chosen:
            made = action_of(replace(item, nearby=key in nearby))
            chosen[key] = replace(made, settles=tuple(sorted(settles[item.action])))
    listed = list(chosen.values())
    if not urgent and not any(_blocks(item.item) for item in proposals):
        guards = [item.standing is not Standing.PLAIN for item in listed]
        listed.insert(sum(guards), _closing())
    return tuple(nearby_first(listed))[:MOST]


def _asked(context: Context, findings: Sequence[Finding]) -> Iterator[Proposal]:
    """What every finding asks for that does not pass and was not accepted."""
    right = verdict_of(findings, "identity.port") is Verdict.PASS
    for item in findings:
        if item.exception is not None and item.exception.accepted_by is not None:
            continue
        rule = RULES.get(item.requirement)
        if item.verdict is Verdict.PASS or _optional(item) or rule is None:
            continue
        listed = list(rule(context, item, findings))
        away = any(action_kinds()[name].away for name, _ in listed)
        for name, at in listed:
            yield Proposal(
                action=name,
                at=at,
                item=item,
                nearby=away and _open_look(name, at, findings),
                late=right
                and name == "check-port"
                and not item.requirement.startswith("identity."),
            )


def _open_look(name: str, at: str, findings: Sequence[Finding]) -> bool:
    """Whether a cheap look at hand is still open.

    A face that is unproven or known dirty; a level that no second one bears out.
    """
    if not action_kinds()[name].near:
        return False
    if name == "measure-level":
        other = verdict_of(findings, "level.expected", "terminal")
        return at != "terminal" and other in {None, Verdict.NOT_MEASURED}
    face = verdict_of(findings, "endface.grade", at)
    dirty = face is Verdict.FAIL
    return dirty if name == "clean-both-faces" else face not in {Verdict.PASS, None}


def _placed(proposal: Proposal, steps: Sequence[Step]) -> Proposal:
    """A proposal with its class: another home, a guard of a step to come, or plain."""
    item = proposal.item
    if proposal.standing is not Standing.PLAIN:
        return proposal
    wrong = item.requirement.startswith("identity.") and item.verdict is Verdict.FAIL
    if wrong and proposal.action in OF_IDENTITY:
        return replace(proposal, standing=Standing.OTHER_HOME)
    step = guarded_step(proposal, steps)
    if step is None:
        return proposal
    return replace(proposal, standing=Standing.GUARD, guards=step)


def guarded_step(proposal: Proposal, steps: Sequence[Step]) -> str | None:
    """The first step to come that waits for the finding behind a proposal.

    What cannot be undone, or takes that step itself, guards nothing.
    """
    kind, item = proposal.kind, proposal.item
    for step in steps:
        waits = (item.requirement, item.subject) in step.open and not step.passed
        if waits and kind.reversible and step.step not in kind.passes:
            return step.step
    return None


def _unread_guards(context: Context, passed: set[str]) -> Iterator[Proposal]:
    """Looks that no verdict asks for, but a step to come does: light, foreign volts."""
    if context.plan.purpose != "turn-up":
        return
    if "cut" not in passed and not context.current("fibre_light"):
        item = Finding(
            requirement="identity.fibre",
            subject="drop",
            verdict=Verdict.NOT_MEASURED,
            because=Message("before.fibre_light"),
        )
        yield Proposal(
            action="prove-fibre",
            at="drop",
            item=item,
            standing=Standing.GUARD,
            guards="cut",
        )
    if context.plan.feed is not None and "plug in" not in passed:
        yield from foreign_unread(context, Standing.GUARD)


def street_last(actions: Sequence[Action]) -> list[Action]:
    """A walk to the street behind every call, where the label was read right.

    What the walk could show was seen already, and a call costs no way. Only plain
    actions move.
    """
    plain = [item for item in actions if item.standing is Standing.PLAIN]
    walk = [item for item in plain if item.action == "check-port"]
    calls = [i for i, a in enumerate(actions) if a.action.startswith("call-desk")]
    if not walk or not calls:
        return list(actions)
    last = actions[calls[-1]]
    found = []
    for item in actions:
        if item not in walk:
            found.append(item)
        if item is last:
            found += walk
    return found


def nearby_first(actions: Sequence[Action]) -> list[Action]:
    """Cheap looks at hand before whatever sends the crew away for the same reason.

    Only among plain actions: danger, another home and guards keep their place.
    """
    plain = [item for item in actions if item.standing is Standing.PLAIN]
    away = [i for i, item in enumerate(plain) if action_kinds()[item.action].away]
    first = away[0] if away else len(plain)
    moved = [item for item in plain[first:] if item.nearby]
    rest = [item for item in plain[first:] if not item.nearby]
    front = [item for item in actions if item.standing is not Standing.PLAIN]
    return [*front, *plain[:first], *moved, *rest]


def _optional(item: Finding) -> bool:
    """Not seen and not asked for: nothing to do about it."""
    return item.verdict is Verdict.NOT_MEASURED and not item.required


def _blocks(item: Finding) -> bool:
    if item.verdict is Verdict.FAIL:
        return not item.advisory
    return item.required


def _urgency(
    proposal: Proposal, *, dark: bool
) -> tuple[tuple[int, int], int, float, int]:
    """The class, then failures before questions, then cheap and reversible first."""
    item, order = proposal.item, float(proposal.kind.order)
    if proposal.late:
        order = max(order, action_kinds()["call-desk-upstream"].order - 0.5)
    telling = int(item.requirement != TELLING.get(proposal.action))
    rank = severity(item, dark=dark)
    if proposal.standing is Standing.DANGER:
        rank = 0
    where = class_order(proposal.standing, proposal.guards)
    return where, rank, order, telling


def _closing() -> Action:
    item = Finding(
        requirement="record.complete",
        subject="box",
        verdict=Verdict.PASS,
        because=Message("action.close.why", {}),
    )
    return action_of(Proposal(action="close", at="box", item=item))


def _neighbours(context: Context) -> Iterator[Proposal]:
    """Another home without service comes before everything of this one but danger."""
    for item in context.current("neighbours_affected"):
        if item.reading.value is True:
            stand_in = Finding(
                requirement="identity.port_in_use",
                subject="hub",
                verdict=Verdict.FAIL,
                because=Message("neighbours.affected", {}),
            )
            yield Proposal(
                action="restore-neighbour",
                at="hub",
                item=stand_in,
                standing=Standing.OTHER_HOME,
            )


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
        yield "measure-level", item.subject
        yield from _face_looks(item.subject, findings)
        yield "check-port", item.subject
        yield "call-desk-upstream", "hub"
        return
    above = verdict_of(findings, "level.expected", "port")
    if above in {None, Verdict.NOT_MEASURED}:
        yield "measure-upstream-of-drop", "port"
    if above is Verdict.FAIL:
        return
    yield from _drop_actions(findings)


def _face_looks(at: str, findings: Sequence[Finding]) -> Iterator[tuple[str, str]]:
    """What a face still asks for as last seen; nothing where all of it passes."""
    face = verdict_of(findings, "endface.grade", at)
    if face is Verdict.FAIL:
        yield "clean-both-faces", at
    elif face is not Verdict.PASS:
        yield "look-at-faces", at


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
    if item.verdict is not Verdict.FAIL or read_before_cleaning(context, item):
        yield "measure-loss-closed", "drop"
    if item.verdict is Verdict.FAIL:
        yield from _drop_actions(findings)


def read_before_cleaning(context: Context, item: Finding) -> bool:
    """Whether a face of the drop was shown clean only after what failed was read."""
    known = {reading.id: reading.time for reading in context.observations.readings}
    read = [known[name] for name in item.observations if name in known]
    times = [cleaned_at(context, part) for part in ("port", "terminal")]
    return bool(read) and any(time is not None and max(read) < time for time in times)


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
    if _reversed(item):
        yield "swap-conductors", "terminal"
        return
    if _above(item):
        yield "check-outlet", "supply"
        return
    shown = shown_resistance(context, feed)
    planned, planned_u = planned_loop(feed)
    spread = 2.0 * ((shown.u_ohm if shown else 0.0) ** 2 + planned_u**2) ** 0.5
    if shown is not None and shown.ohm > planned + spread:
        yield "remake-crimp", "terminal"
        yield "check-conductor", "supply"
    else:
        yield "thicker-feed", "supply"


def _reversed(item: Finding) -> bool:
    """Whether volts fail by their sign: no thicker cord turns them round."""
    value = None if item.measured is None else item.measured.value
    return isinstance(value, float | int) and value < 0.0


def _above(item: Finding) -> bool:
    """Whether a number fails by being too high: no mending of copper lowers volts."""
    high = None if item.limit is None else item.limit.high
    value = None if item.measured is None else item.measured.value
    return high is not None and isinstance(value, float | int) and value > high


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
    named = {name.rpartition(".")[2] for name in told(item.because)}
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
