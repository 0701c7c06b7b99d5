"""One action that a finding asks for, and where it stands among the others."""

from collections.abc import Iterator
from dataclasses import dataclass

from eavelight.model.finding import Action, Finding, Standing, Verdict
from eavelight.model.message import Message
from eavelight.model.requirements import STEPS
from eavelight.standards.actions import ActionKind, action_kinds

STANDINGS = tuple(Standing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """An action at a place with the finding that asks for it.

    `late` puts it behind every cheaper action that the same finding asks for.
    """

    action: str
    at: str
    item: Finding
    standing: Standing = Standing.PLAIN
    guards: str | None = None
    nearby: bool = False
    late: bool = False

    @property
    def kind(self) -> ActionKind:
        """The action as the catalogue has it."""
        return action_kinds()[self.action]


def told(message: Message) -> Iterator[str]:
    """Ids of a sentence and of those that it joins."""
    yield message.id
    for value in message.values.values():
        if isinstance(value, Message):
            yield from told(value)


def class_order(standing: Standing, guards: str | None) -> tuple[int, int]:
    """Danger, another home, guards in the order of their steps, all else."""
    step = STEPS.index(guards) if guards in STEPS else len(STEPS)
    return STANDINGS.index(standing), step


def severity(item: Finding, *, dark: bool) -> int:
    """Failures first, then open questions, then what is only missing.

    A terminal that never came online is `dark`: no network can say where it sees it.
    """
    if item.verdict is Verdict.FAIL:
        return 1 if item.advisory else 0
    if not item.required:
        return 6
    if item.requirement == "record.complete":
        return 5
    if dark and item.requirement == "identity.registered":
        return 4
    return 2 if item.verdict is Verdict.UNDECIDED else 3


def action_of(proposal: Proposal) -> Action:
    """A proposal as it is handed out, with the cautions that go with it."""
    kind = proposal.kind
    return Action(
        action=proposal.action,
        at=proposal.at,
        why=proposal.item.because,
        text=Message(f"action.{proposal.action}", {"at": proposal.at}),
        minutes=kind.minutes,
        resolves=kind.resolves,
        standing=proposal.standing,
        guards=proposal.guards,
        cautions=cautions_of_kind(kind),
        nearby=proposal.nearby,
    )


def cautions_of_kind(kind: ActionKind) -> tuple[Message, ...]:
    """The cautions of the catalogue that go with an action."""
    return tuple(Message(f"caution.{name}") for name in kind.safety)
