"""The usual cautions of this job, chosen by what the plan holds."""

from eavelight.assess.context import Context
from eavelight.model.message import Message
from eavelight.model.plan import Plan

ALWAYS = ("light", "glass", "alcohol", "ladder", "defer")
WITH_FEED = ("mains", "lightning", "foreign")
WITH_BATTERY = ("battery",)


def cautions(context: Context) -> tuple[Message, ...]:
    """Cautions for a visit."""
    return cautions_of(context.plan)


def cautions_of(plan: Plan) -> tuple[Message, ...]:
    """Cautions for a plan."""
    names = list(ALWAYS[:-1])
    if plan.feed is not None:
        names += WITH_FEED
        if plan.feed.battery is not None:
            names += WITH_BATTERY
    return tuple(Message(f"caution.{name}") for name in (*names, ALWAYS[-1]))
