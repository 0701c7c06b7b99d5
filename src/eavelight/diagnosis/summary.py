"""From weighed explanations to hypotheses and the marginals of every cause."""

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from eavelight.diagnosis.atoms import Atom, drop_fibre, slack_fibre
from eavelight.diagnosis.case import Case
from eavelight.diagnosis.infer import Explanation, Inference
from eavelight.diagnosis.outcome import Fault, Hypothesis
from eavelight.diagnosis.rows import distances_m
from eavelight.diagnosis.shapes import bend_shapes, power_shapes

FaultSet = tuple[tuple[str, str], ...]
Sets = dict[FaultSet, tuple[float, Explanation]]
LISTED, LEAST = 12, 0.002
MENDED = "mended"
SHOWN_NM = (1310, 1490, 1550, 1625)
FLAT_CAUSES = {
    "contamination": "dirt",
    "splice": "joint",
    "connector-mismatch": "mismatch",
    "crush-or-ice": "pressure",
    "upstream": "flat",
    "break": "flat",
    "wrong-split": "flat",
    "wrong-port": "flat",
    "wrong-fibre": "flat",
}


def fault_set(inference: Inference, item: Explanation) -> FaultSet:
    """Causes and places of an explanation, strays left out."""
    atoms = [inference.atoms[i] for i in item.atoms]
    return tuple(sorted({atom.key for atom in atoms if atom.cause is not None}))


def by_faults(inference: Inference) -> Sets:
    """Probability of every set of faults, with its best explanation."""
    total: dict[FaultSet, float] = defaultdict(float)
    best: dict[FaultSet, tuple[float, Explanation]] = {}
    pairs = zip(inference.explanations, inference.probabilities, strict=True)
    for item, probability in pairs:
        key = fault_set(inference, item)
        total[key] += float(probability)
        strays = any(inference.atoms[i].cause is None for i in item.atoms)
        # the version without stray readings tells the story, where there is one
        rank = float(probability) * (1e-9 if strays else 1.0)
        if key not in best or rank > best[key][0]:
            best[key] = (rank, item)
    order = sorted(total, key=lambda key: (-total[key], key))
    return {key: (total[key], best[key][1]) for key in order}


def hypotheses_of(
    case: Case,
    inference: Inference,
    sets: Sets,
) -> tuple[Hypothesis, ...]:
    """The most probable sets; the rest stands together in a last entry."""
    found: list[Hypothesis] = []
    told = 0.0
    for probability, item in sets.values():
        if len(found) >= LISTED or probability < LEAST:
            break
        faults = faults_of(case, inference, item)
        found.append(Hypothesis(faults=faults, probability=probability))
        told += probability
    rest = max(0.0, 1.0 - told)
    found.append(Hypothesis(faults=(), probability=rest, other=True))
    return tuple(found)


def faults_of(case: Case, inference: Inference, item: Explanation) -> tuple[Fault, ...]:
    """Faults of an explanation with their most probable sizes."""
    found = []
    sizes = inference.amplitudes(item)
    for atom_index, component, size in zip(
        item.atoms, item.components, sizes, strict=True
    ):
        atom = inference.atoms[atom_index]
        if atom.cause is not None:
            detail = detail_of(case, inference, atom, component, float(size))
            found.append(Fault(cause=atom.cause, at=atom.at, detail=detail))
    return tuple(sorted(found, key=lambda fault: (fault.cause, fault.at)))


def detail_of(
    case: Case, inference: Inference, atom: Atom, component: int, size: float
) -> dict[str, object]:
    """Excess loss by wavelength, extra ohm and position, where they mean anything."""
    detail: dict[str, object] = {}
    seen = np.any(inference.parts.vectors[component] != 0.0)
    if atom.unit == "ohm" and seen:
        detail["extra_ohm"] = round(size if atom.mode != "less" else -size, 3)
    elif atom.unit == "V" and seen:
        detail["extra_v"] = round(size, 2)
    elif seen and (atom.cause == "bend" or atom.cause in FLAT_CAUSES):
        sign = -1.0 if atom.mode == "gain" else 1.0
        loss = sign * size * _spread(inference, atom, component)
        detail["excess_db"] = {
            str(nm): round(float(value), 3)
            for nm, value in zip(SHOWN_NM, loss, strict=True)
        }
    elif seen and atom.cause == "measurement":
        detail["offset_db"] = round(size, 3)
    place = position_m(case, atom)
    if place is not None:
        detail["position_m"] = place
    if atom.mended:
        detail["cleaned"] = True
    return detail


def _spread(inference: Inference, atom: Atom, component: int) -> np.ndarray:
    """Loss at the shown wavelengths for one at 1550 nm, of the component's shape."""
    name = FLAT_CAUSES.get(atom.cause or "", "flat")
    bent = atom.cause == "bend" or atom.mode == "bend"
    shapes = bend_shapes(SHOWN_NM) if bent else power_shapes(name, SHOWN_NM)
    rows = inference.table.nm
    vector = np.abs(inference.parts.vectors[component])
    known = [
        (SHOWN_NM.index(int(nm)), value)
        for nm, value in zip(rows, vector, strict=True)
        if value > 0 and int(nm) in SHOWN_NM
    ]
    if not known:
        return np.asarray(shapes.weights @ shapes.values)
    columns = [column for column, _ in known]
    wanted = np.array([value for _, value in known])
    apart = (np.log(np.maximum(shapes.values[:, columns], 1e-6) / wanted) ** 2).sum(1)
    return np.asarray(shapes.values[int(np.argmin(apart))])


def position_m(case: Case, atom: Atom) -> float | None:
    """Distance from the terminal connector toward the port, where a place has one."""
    places = distances_m(case)
    name = atom.at
    if atom.cause in {"bend", "break"} and case.events:
        fibre = slack_fibre(case) if atom.at in {"box", "tray"} else drop_fibre(case)
        near = [
            event.position_m
            for event in case.events
            if fibre in places
            and places[fibre][0] <= event.position_m <= places[fibre][1]
        ]
        return round(near[0], 2) if near else None
    if name in places and atom.cause in {
        "contamination",
        "splice",
        "connector-mismatch",
    }:
        return round(places[name][0], 2)
    return None


def marginals(sets: Sets) -> dict[tuple[str, str], float]:
    """Probability of every cause at its place; `none` is the empty set."""
    total: dict[tuple[str, str], float] = defaultdict(float)
    total["none", "path"] += 0.0
    for key, (probability, _) in sets.items():
        for name in key or (("none", "path"),):
            total[name] += probability
    order: Iterable[tuple[str, str]] = sorted(total, key=lambda k: (-total[k], k))
    return {name: total[name] for name in order}


def mode_shares(inference: Inference) -> dict[tuple[str, str], dict[str, float]]:
    """Of the probability of every cause, the share of each way in which it shows."""
    weight: dict[int, float] = defaultdict(float)
    pairs = zip(inference.explanations, inference.probabilities, strict=True)
    for item, probability in pairs:
        for index in item.atoms:
            weight[index] += float(probability)
    found: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    for index, share in weight.items():
        atom = inference.atoms[index]
        if atom.cause is not None:
            mode = MENDED if atom.mended else atom.mode
            held = found[atom.key]
            held[mode] = held.get(mode, 0.0) + share
    return {
        key: {mode: share / sum(modes.values()) for mode, share in modes.items()}
        for key, modes in found.items()
        if sum(modes.values()) > 0.0
    }
