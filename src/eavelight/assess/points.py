"""The five points of no return: what must be true before each.

Never blocking: going on anyway is allowed with a reason, which is an exception.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from eavelight.assess.context import Context
from eavelight.assess.passed import passed_steps
from eavelight.assess.splice import splices_of_drop
from eavelight.model.finding import Finding, Step, Verdict
from eavelight.model.message import Message
from eavelight.model.requirements import STEPS


@dataclass(slots=True)
class _Needs:
    """What a step still lacks and what speaks against it, while it is collected."""

    context: Context
    findings: Sequence[Finding]
    missing: list[Message] = field(default_factory=list)
    against: list[Message] = field(default_factory=list)
    open: set[tuple[str, str]] = field(default_factory=set)

    def finding(
        self,
        requirement: str,
        *,
        subject: str | None = None,
        needed: bool = True,
        side: str | None = None,
        lid_open: bool = False,
    ) -> None:
        """Ask for a pass; anything else is missing or against.

        With `lid_open`, a reading within its limit counts although the lid was open.
        """
        found = [
            item
            for item in self.findings
            if item.requirement == requirement
            and subject in (None, item.subject)
            and side in (None, item.because.values.get("side"))
        ]
        for item in found:
            if item.verdict is Verdict.FAIL:
                self.against.append(item.because)
            elif lid_open and _good_while_open(item):
                continue
            elif item.verdict is not Verdict.PASS and needed:
                self.missing.append(item.because)
            else:
                continue
            self.open.add((item.requirement, item.subject))

    def lacks(self, name: str, **values: object) -> None:
        self.missing.append(Message(f"before.{name}", values))


def _good_while_open(item: Finding) -> bool:
    """Whether only the closing itself is still to be tested."""
    if not item.because.id.endswith(".undecided.open") or item.measured is None:
        return False
    high = None if item.limit is None else item.limit.high
    value = item.measured.value
    return high is not None and not isinstance(value, str) and value <= high


def points_of_no_return(
    context: Context, findings: Sequence[Finding]
) -> tuple[Step, ...]:
    """The five steps with what is missing and what speaks against each."""
    checks = {
        "cut": _cut,
        "arc": _arc,
        "mate": _mate,
        "plug in": _plug_in,
        "close": _close,
    }
    passed = passed_steps(context)
    steps = []
    for name in STEPS:
        needs = _Needs(context, findings)
        checks[name](needs)
        exception = next(
            (note for note in context.observations.exceptions if note.what == name),
            None,
        )
        steps.append(
            Step(
                step=name,
                missing=tuple(needs.missing),
                against=tuple(needs.against),
                exception=exception,
                passed=name in passed,
                open=frozenset(needs.open),
            )
        )
    return tuple(steps)


def _cut(needs: _Needs) -> None:
    """Right port, dark of other customers, and the right fibre proven by light."""
    needs.finding("identity.port", subject="port")
    needs.finding("identity.port_in_use", needed=False)
    needs.finding("identity.fibre", needed=False)
    light = needs.context.current("fibre_light")
    if not light:
        needs.lacks("fibre_light")


def _arc(needs: _Needs) -> None:
    """Sleeve on before the weld, and a plug worth welding on."""
    for part in splices_of_drop(needs.context):
        if not needs.context.selection.all_of("sleeve_seen", part.name):
            needs.lacks("sleeve", subject=part.name)
        needs.finding("cleave.angle", subject=part.name)
    needs.finding("endface.grade", subject="terminal", side="plug")


def _mate(needs: _Needs) -> None:
    """Both faces passed after their last cleaning, and of one polish."""
    for side in ("plug", "adapter"):
        needs.finding("endface.grade", subject="terminal", side=side)
    needs.finding("identity.polish", subject="terminal", needed=False)


def _plug_in(needs: _Needs) -> None:
    """Nothing foreign on the pair, the right way round, the loop as planned.

    What stands on the pair speaks through the finding on polarity, once.
    """
    if needs.context.plan.feed is None:
        return
    foreign = needs.context.current("foreign_volts")
    kinds = {item.reading.kind for item in foreign}
    for kind in ("ac", "dc"):
        if kind not in kinds:
            needs.lacks(f"foreign_{kind}")
    needs.finding("feed.polarity")
    needs.finding("feed.loop")


def _close(needs: _Needs) -> None:
    """Losses and bends in order, the splice protected, the entries tight."""
    for requirement in ("splice.estimate", "splice.shrink"):
        needs.finding(requirement, needed=requirement == "splice.estimate")
    needs.finding("loss.drop", lid_open=True)
    needs.finding("loss.slope", lid_open=True)
    for requirement in ("bend.radius", "bend.lifetime", "bend.closing"):
        needs.finding(requirement, needed=False)
    needs.finding("housing.entry")
