"""All findings of a visit, the state they amount to, and what to do next."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from eavelight.assess.actions import next_actions
from eavelight.assess.baseline import assess_baseline
from eavelight.assess.bend import assess_bend
from eavelight.assess.cautions import cautions
from eavelight.assess.context import Context
from eavelight.assess.endface import assess_endface
from eavelight.assess.entry import assess_entry
from eavelight.assess.evidence import assess_evidence
from eavelight.assess.feed import assess_feed
from eavelight.assess.housing import assess_housing
from eavelight.assess.identity import assess_identity
from eavelight.assess.job_notes import day_notes
from eavelight.assess.length import assess_length
from eavelight.assess.light import assess_light
from eavelight.assess.loss import assess_loss
from eavelight.assess.points import points_of_no_return
from eavelight.assess.record import assess_record
from eavelight.assess.splice import assess_splice
from eavelight.assess.splice_loss import assess_splice_loss
from eavelight.assess.trace import assess_trace
from eavelight.model.finding import Assessment, Finding, Verdict
from eavelight.model.observation import ExceptionNote, Observations, OtherVisit
from eavelight.model.plan import Plan
from eavelight.model.requirements import REQUIREMENTS
from eavelight.standards.profiles import Profile

GROUPS: tuple[Callable[[Context], list[Finding]], ...] = (
    assess_identity,
    assess_light,
    assess_loss,
    assess_splice,
    assess_splice_loss,
    assess_endface,
    assess_bend,
    assess_feed,
    assess_housing,
    assess_entry,
    assess_evidence,
    assess_length,
    assess_trace,
    assess_baseline,
    assess_record,
)
READY, NOT_READY, UNDECIDED = "ready", "not ready", "undecided"


def context_of(
    visit: str,
    plan: Plan,
    observations: Observations,
    profile: Profile,
    others: Iterable[OtherVisit] = (),
) -> Context:
    """The inputs of an assessment in one value."""
    return Context(
        visit=visit,
        plan=plan,
        observations=observations,
        profile=profile,
        others=tuple(sorted(others, key=lambda other: (other.started, other.visit))),
    )


def findings_of(context: Context) -> tuple[Finding, ...]:
    """Every finding, in the order of the contract, exceptions attached."""
    found = [item for group in GROUPS for item in group(context)]
    found.sort(key=lambda item: REQUIREMENTS.index(item.requirement))
    exceptions = context.observations.exceptions
    return tuple(_with_exception(item, exceptions) for item in found)


def _with_exception(item: Finding, exceptions: Sequence[ExceptionNote]) -> Finding:
    for note in exceptions:
        whole_record = item.requirement == "record.complete"
        if note.what == item.requirement and (whole_record or note.at == item.subject):
            return replace(item, exception=note)
    return item


def accepted(item: Finding) -> bool:
    """Whether somebody accepted this finding as it is."""
    return item.exception is not None and item.exception.accepted_by is not None


def state_of(findings: Iterable[Finding]) -> str:
    """Ready, not ready or undecided; accepted exceptions no longer block."""
    listed = [item for item in findings if not accepted(item)]
    if any(item.verdict is Verdict.FAIL and not item.advisory for item in listed):
        return NOT_READY
    open_answers = {Verdict.UNDECIDED, Verdict.NOT_MEASURED}
    if any(item.required and item.verdict in open_answers for item in listed):
        return UNDECIDED
    return READY


def assess(
    visit: str,
    plan: Plan,
    observations: Observations,
    profile: Profile,
    others: Iterable[OtherVisit] = (),
) -> Assessment:
    """Assess one visit: same input, same output, anywhere.

    Parameters
    ----------
    visit : str
        Id of the visit.
    plan : Plan
        What should have been built.
    observations : Observations
        What was seen.
    profile : Profile
        Which clause counts.
    others : iterable of OtherVisit, optional
        Digests of the baseline and of the company's visits.
    """
    context = context_of(visit, plan, observations, profile, others)
    findings = findings_of(context)
    steps = points_of_no_return(context, findings)
    return Assessment(
        visit=visit,
        profile=profile.id,
        state=state_of(findings),
        findings=findings,
        before=steps,
        next_actions=next_actions(context, findings, steps),
        cautions=cautions(context),
        advice=day_notes(context),
    )
