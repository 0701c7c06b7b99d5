"""Which fibre, which port, and what the work order leaves out."""

from dataclasses import dataclass

from eavelight.assess.identity import assigned_port
from eavelight.glass.colour_code import ColourScheme, FibreIdentity, fibre_identity
from eavelight.glass.colour_vision import confusable_pairs
from eavelight.model.message import Message
from eavelight.model.plan import Plan
from eavelight.standards.colour_schemes import colour_scheme, colour_swatches

# a garage at dusk, where colours are told apart with difficulty
DUSK = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusable:
    """A colour that one kind of eye takes for the assigned one."""

    colour: str
    vision: str
    difference: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IdentityPlan:
    """The assigned fibre and port by every name they go by."""

    hub: str | None
    port: str | None
    serial: str | None
    scheme: str
    tube: int | None
    fibre: FibreIdentity | None
    fibres_per_tube: int | None
    confusable: tuple[Confusable, ...]
    copper: bool


def plan_identity(plan: Plan) -> IdentityPlan:
    """Fibre and port of the assignment."""
    scheme = colour_scheme(plan.assignment.colour_scheme)
    full = _fibres_per_tube(plan, scheme)
    fibre = None
    if full is not None and plan.assignment.fibre is not None:
        fibre = fibre_identity(
            scheme,
            plan.assignment.tube or 1,
            plan.assignment.fibre,
            fibres_per_tube=full,
        )
    return IdentityPlan(
        hub=plan.assignment.hub,
        port=assigned_port(plan.assignment),
        serial=plan.assignment.terminal_serial,
        scheme=scheme.id,
        tube=plan.assignment.tube,
        fibre=fibre,
        fibres_per_tube=full,
        confusable=() if fibre is None else _confusable(scheme, fibre),
        copper=plan.feed is not None and plan.feed.shares_sheath_with is not None,
    )


def _fibres_per_tube(plan: Plan, scheme: ColourScheme) -> int | None:
    """Fibres that a full tube holds: whole turns of the scheme's plain colours."""
    number = plan.assignment.fibre
    if number is None or number > len(scheme.strands):
        return None
    plain = sum(1 for mark in scheme.strands if not mark.tracers)
    return -(-number // plain) * plain


def _confusable(scheme: ColourScheme, fibre: FibreIdentity) -> tuple[Confusable, ...]:
    """Colours of the scheme that some eye takes for the assigned one."""
    own = scheme.canonical(fibre.fibre_colour.partition("/")[0])
    known = colour_swatches()
    colours = dict.fromkeys(scheme.canonical(item.colour) for item in scheme.strands)
    swatches = {name: known[name] for name in colours if name in known}
    if own not in swatches:
        return ()
    return tuple(
        Confusable(
            colour=pair.second if pair.first == own else pair.first,
            vision=pair.vision,
            difference=pair.difference,
        )
        for pair in confusable_pairs(swatches, light=DUSK)
        if own in {pair.first, pair.second}
    )


def missing_in(plan: Plan) -> tuple[Message, ...]:
    """What a complete work order would hold and this one does not."""
    given = plan.assignment
    scheme = colour_scheme(given.colour_scheme)
    lacks = {
        "port": given.port is None,
        "fibre": given.fibre is None,
        "serial": given.terminal_serial is None,
        "launch": plan.plant.launch_dbm is None,
        "tube": given.fibre is not None and given.tube is None,
        "position": plan.housing is not None
        and (plan.site.latitude is None or plan.site.longitude is None),
        "terminal_rating": plan.housing is not None
        and (plan.housing.rated_high_c is None or plan.housing.rated_low_c is None),
    }
    found = [
        Message(f"plan.missing.{name}") for name, absent in lacks.items() if absent
    ]
    if given.fibre is not None and given.fibre > len(scheme.strands):
        found.append(
            Message(
                "plan.missing.fibre_in_scheme",
                {
                    "fibre": given.fibre,
                    "scheme": scheme.id,
                    "most": len(scheme.strands),
                },
            )
        )
    return tuple(found)
