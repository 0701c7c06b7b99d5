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
    MENDED,
    Sets,
    by_faults,
    faults_of,
    hypotheses_of,
    marginals,
    mode_shares,
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
    shares, modes = marginals(sets), mode_shares(inference)
    causes = tuple(
        _explained(
            case,
            inference,
            sets,
            _bare(name, probability, modes.get(name, {})),
            in_front=rank < EXPLAINED,
        )
        for rank, (name, probability) in enumerate(shares.items())
    )
    return Diagnosis(
        hypotheses=hypotheses_of(case, inference, sets),
        causes=causes,
        advice=advise(case, causes, unexplained=inference.unexplained),
        notes=tuple(notes_of(case)),
    )


def _bare(
    name: tuple[str, str], probability: float, modes: Mapping[str, float]
) -> Cause:
    return Cause(
        cause=name[0],
        at=name[1],
        probability=probability,
        mended=modes.get(MENDED, 0.0) > 0.5,
        modes=modes,
    )


def _explained(
    case: Case, inference: Inference, sets: Sets, bare: Cause, *, in_front: bool
) -> Cause:
    """One marginal; only what is probable, or stands in front, is explained."""
    if not in_front and bare.probability < WORTH_EXPLAINING:
        return bare
    name = (bare.cause, bare.at)
    speaks_for, against = reasons(case, inference, sets, name)
    return replace(
        bare,
        because=speaks_for,
        against=against,
        settle=None if bare.cause == "none" else settles(case, bare),
        detail=_detail(case, inference, sets, name),
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
