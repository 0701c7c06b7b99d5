"""What of a record still is what was recorded, and where it is not.

Pure: rows in, problems out. A problem is something that must not be; a remark is
something that a reader must know, such as bytes that were purged by their rule.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from eavelight.model.message import Message
from eavelight.model.recorded import FIRST, PersonalValue, Recorded, Seal
from eavelight.seal.bodies import body_of, references
from eavelight.seal.chain import genuine, genuine_seal, heads_of, id_of
from eavelight.seal.salted import fits
from eavelight.seal.sign import signed_by

KEPT, CHANGED, MISSING = "kept", "changed", "missing"
WITHHELD, COPY = "withheld", "copy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """All that is kept of one visit, as it was found."""

    visit: str
    observations: tuple[Recorded, ...]
    seals: tuple[Seal, ...] = ()
    evidence: Mapping[str, str] = field(default_factory=dict)
    """State of the bytes by digest: kept, changed, missing, withheld or copy."""
    personal: Mapping[str, PersonalValue] = field(default_factory=dict)
    withheld: frozenset[str] = frozenset()
    """Hashes of personal values that were left out of an export on purpose."""
    devices: Mapping[str, str] | None = None
    """Names of known devices; None where nobody is known."""
    expected: Mapping[str, str] = field(default_factory=dict)
    """Ids that must be there, each with where that is written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that must not be: what kind, where, and the sentence."""

    kind: str
    place: str
    message: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What verifying a visit gave."""

    visit: str
    problems: tuple[Problem, ...]
    remarks: tuple[Message, ...]
    heads: Mapping[str, Any]
    counts: Mapping[str, int]

    @property
    def clean(self) -> bool:
        """Nothing that must not be."""
        return not self.problems


def short(id: str) -> str:
    """The first digits of a digest, enough for people to compare."""
    return id[:8]


def verify(material: Material) -> Report:
    """Check every link, signature, seal, digest and hash of a visit."""
    found = [
        *_links(material),
        *_chains(material),
        *_seals(material),
        *_expected(material),
        *_evidence(material),
        *_personal(material),
    ]
    once = {(problem.kind, problem.place): problem for problem in found}
    sealed = sealed_ids(material.observations, material.seals)
    unsealed = [item for item in material.observations if item.id not in sealed]
    return Report(
        visit=material.visit,
        problems=tuple(once.values()),
        remarks=tuple(_remarks(material, unsealed)),
        heads=heads_of(material.observations),
        counts={
            "observations": len(material.observations),
            "chains": len({item.device for item in material.observations}),
            "seals": len(material.seals),
            "unsealed": len(unsealed),
            "evidence": len(references(material.observations).evidence),
        },
    )


def _problem(kind: str, place: str, **values: Any) -> Problem:
    message = Message(f"verify.{kind.replace(' ', '_')}", {"place": place, **values})
    return Problem(kind=kind, place=place, message=message)


def where(item: Recorded) -> str:
    """Where an observation stands, for people."""
    return f"observation {item.number} of device {short(item.device)} ({item.kind})"


def _links(material: Material) -> Iterator[Problem]:
    wrong = [item for item in material.observations if not genuine(item)]
    for item in wrong:
        signed = signed_by(
            item.device, "observation", item.id, signature=item.signature
        )
        if signed and _belongs_elsewhere(item, wrong):
            yield _problem("reordered", where(item))
        elif signed:
            yield _problem("changed", where(item))
        else:
            yield _problem("not signed", where(item))
    for item in material.observations:
        if item.visit != material.visit:
            yield _problem("wrong visit", where(item), visit=item.visit)


def _belongs_elsewhere(item: Recorded, others: list[Recorded]) -> bool:
    """Whether an observation is genuine at the place of another of its chain."""
    for other in others:
        if other.device != item.device:
            continue
        try:
            if id_of(item, number=other.number, prev=other.prev) == item.id:
                return True
        except ValueError:
            return False
    return False


def _chains(material: Material) -> Iterator[Problem]:
    chains: dict[str, dict[int, list[Recorded]]] = {}
    for item in material.observations:
        places = chains.setdefault(item.device, {})
        places.setdefault(item.number, []).append(item)
    for device, places in chains.items():
        before: Recorded | None = None
        for number in range(1, max(places) + 1):
            found = places.get(number, [])
            if len(found) > 1:
                yield _problem("two histories", where(found[0]))
            if not found:
                yield from _gap(device, places, number)
                before = None
                continue
            item = found[0]
            wanted = FIRST if number == 1 else before.id if before else None
            if wanted is not None and item.prev != wanted:
                yield _problem("broken", where(item), prev=short(item.prev))
            before = item


def _gap(
    device: str, places: Mapping[int, list[Recorded]], number: int
) -> Iterator[Problem]:
    """One problem for a whole run of missing numbers."""
    if number > 1 and number - 1 not in places:
        return
    last = number
    while last + 1 not in places:
        last += 1
    place = f"device {short(device)}"
    yield _problem("missing", place, first=number, last=last, several=last > number)


def sealed_ids(items: tuple[Recorded, ...], seals: tuple[Seal, ...]) -> set[str]:
    """Ids of all observations that lie under some genuine seal."""
    reach: dict[str, int] = {}
    for seal in seals:
        if genuine_seal(seal):
            for device, number, _ in sealed_heads(seal):
                reach[device] = max(reach.get(device, 0), number)
    return {item.id for item in items if item.number <= reach.get(item.device, 0)}


def sealed_heads(seal: Seal) -> list[tuple[str, int, str]]:
    """Device, number and id of every chain's end under a seal."""
    try:
        heads = body_of(seal).get("heads", {})
    except ValueError:
        return []
    return [
        (device, int(head["number"]), str(head["id"]))
        for device, head in heads.items()
        if isinstance(head, dict) and {"number", "id"} <= head.keys()
    ]


def _seals(material: Material) -> Iterator[Problem]:
    present = {item.id: item for item in material.observations}
    known = {seal.id for seal in material.seals}
    for seal in material.seals:
        place = f"seal {short(seal.id)} of {seal.sealed_at}"
        if seal.visit != material.visit:
            yield _problem("wrong visit", place, visit=seal.visit)
        if not genuine_seal(seal):
            yield _problem("seal changed", place)
            continue
        for device, number, id in sealed_heads(seal):
            item = present.get(id)
            if item is None or (item.device, item.number) != (device, number):
                chain = f"device {short(device)}"
                yield _problem(
                    "missing under seal", chain, number=number, id=short(id), seal=place
                )
        for name in ("of", "after"):
            for id in _listed(body_of(seal).get(name)):
                if id not in known:
                    yield _problem("seal missing", place, id=short(id))


def _listed(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    return [item for item in value if isinstance(item, str)] if value else []


def _expected(material: Material) -> Iterator[Problem]:
    present = {item.id for item in material.observations}
    present |= {seal.id for seal in material.seals}
    for id, source in material.expected.items():
        if id not in present:
            yield _problem("missing from", source, id=short(id))


def _evidence(material: Material) -> Iterator[Problem]:
    found = references(material.observations)
    for sha256, item in found.evidence.items():
        state = material.evidence.get(sha256, MISSING)
        name = str(body_of(item)["item"].get("file", "evidence"))
        if state == CHANGED:
            yield _problem("evidence changed", name, sha256=short(sha256))
        elif state == MISSING and sha256 not in found.purged:
            yield _problem("evidence missing", name, sha256=short(sha256))


def _personal(material: Material) -> Iterator[Problem]:
    found = references(material.observations)
    for hash, item in found.personal.items():
        value = material.personal.get(hash)
        if value is not None and not fits(value):
            yield _problem("personal changed", where(item))
        elif (
            value is None and hash not in material.withheld and hash not in found.purged
        ):
            yield _problem("personal missing", where(item))
    for hash, value in material.personal.items():
        if hash not in found.personal:
            yield _problem("personal added", f"value {short(hash)} ({value.kind})")


def _remarks(material: Material, unsealed: list[Recorded]) -> Iterator[Message]:
    found = references(material.observations)
    gone = [s for s in found.evidence if s in found.purged]
    gone = [s for s in gone if material.evidence.get(s, MISSING) == MISSING]
    if gone:
        yield Message("verify.purged_evidence", {"count": len(gone)})
    lost = [h for h in found.personal if h not in material.personal]
    purged = [h for h in lost if h in found.purged]
    if purged:
        yield Message("verify.purged_personal", {"count": len(purged)})
    left_out = [h for h in lost if h in material.withheld and h not in purged]
    if left_out:
        yield Message("verify.withheld_personal", {"count": len(left_out)})
    for state in (WITHHELD, COPY):
        names = [s for s in found.evidence if material.evidence.get(s) == state]
        if names:
            yield Message(f"verify.{state}_evidence", {"count": len(names)})
    if material.devices is not None:
        strange = {i.device for i in material.observations} - material.devices.keys()
        strange |= {s.device for s in material.seals} - material.devices.keys()
        for device in sorted(strange):
            yield Message("verify.unknown_device", {"device": short(device)})
    if unsealed:
        several, any_seal = len(unsealed) > 1, bool(material.seals)
        values = {"count": len(unsealed), "several": several, "some": any_seal}
        yield Message("verify.unsealed", values)
