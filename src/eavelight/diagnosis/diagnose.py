"""The diagnosis of one visit: same case, same answer, anywhere."""

from collections.abc import Mapping
from dataclasses import replace

from eavelight.diagnosis.advise import advise, settles
from eavelight.diagnosis.attempts import notes_of
from eavelight.diagnosis.case import Case
from eavelight.diagnosis.explain import reasons
from eavelight.diagnosis.faults import atoms_of
from eavelight.diagnosis.infer import Inference, infer
from eavelight.diagnosis.outcome import Cause, Diagnosis
from eavelight.diagnosis.rows import build_table
from eavelight.diagnosis.summary import (
    Sets,
    by_faults,
    faults_of,
    hypotheses_of,
    marginals,
    mended_share,
)
from eavelight.standards.priors import Priors

EXPLAINED, WORTH_EXPLAINING = 3, 0.05


def weigh(case: Case, prior: Priors | None = None) -> Inference:
    """All explanations of a case with their probabilities."""
    table = build_table(case)
    return infer(atoms_of(case, table, prior), table, case.marks)


def diagnose(case: Case, prior: Priors | None = None) -> Diagnosis:
    """Rank the causes of a case, say why, and what to do next."""
    inference = weigh(case, prior)
    sets = by_faults(inference)
    shares = marginals(sets)
    causes = tuple(
        _cause(case, inference, sets, name, rank=rank, probability=probability)
        for rank, (name, probability) in enumerate(shares.items())
    )
    return Diagnosis(
        hypotheses=hypotheses_of(case, inference, sets),
        causes=causes,
        advice=advise(case, causes) if causes else (),
        notes=tuple(notes_of(case)),
    )


def _cause(
    case: Case,
    inference: Inference,
    sets: Sets,
    name: tuple[str, str],
    *,
    rank: int,
    probability: float,
) -> Cause:
    """One marginal; only what is probable, or stands in front, is explained."""
    bare = Cause(cause=name[0], at=name[1], probability=probability)
    if rank >= EXPLAINED and probability < WORTH_EXPLAINING:
        return bare
    speaks_for, against = reasons(case, inference, sets, name)
    return replace(
        bare,
        because=speaks_for,
        against=against,
        settle=None if name[0] == "none" else settles(case, bare),
        detail=_detail(case, inference, sets, name),
        mended=mended_share(inference, name) > 0.5,
    )


def _detail(
    case: Case, inference: Inference, sets: Sets, name: tuple[str, str]
) -> Mapping[str, object]:
    for key, (_, item) in sets.items():
        if name in key:
            for fault in faults_of(case, inference, item):
                if (fault.cause, fault.at) == name:
                    return fault.detail
    return {}
