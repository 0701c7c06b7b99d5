"""Use case: verify visits of the store, a bundle, or an exported folder."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from eavelight.app.bundle import Bundle, of_visit, visits_of
from eavelight.app.record_stored import sha256_of
from eavelight.model.message import Message
from eavelight.model.recorded import Batch, Copy
from eavelight.seal import Material, Problem, Report, references, short, verify
from eavelight.seal.canonical import digest
from eavelight.seal.sign import signed_by
from eavelight.seal.verify import CHANGED, COPY, KEPT, MISSING, WITHHELD
from eavelight.store import Filters, Store, StoreError

MANY = 500
READ = Callable[[str], bytes | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """One place that was verified: what is wrong with it as a whole, and its visits."""

    place: str
    reports: tuple[Report, ...]
    problems: tuple[Problem, ...] = ()

    @property
    def clean(self) -> bool:
        """Nothing wrong anywhere."""
        return not self.problems and all(report.clean for report in self.reports)


def copy_id(original: str, sha256: str, reason: str) -> str:
    """The digest that a statement about a copy is signed under."""
    return digest({"original": original, "sha256": sha256, "reason": reason})


def genuine_copy(copy: Copy) -> bool:
    """Whether a device stated that other bytes, or none, stand for these."""
    id = copy_id(copy.original, copy.sha256, copy.reason)
    return signed_by(copy.device, "copy", id, signature=copy.signature)


def material_of(
    visit: str,
    batch: Batch,
    read: READ,
    *,
    devices: Mapping[str, str] | None = None,
    expected: Mapping[str, str] | None = None,
) -> Material:
    """The material of one visit; every byte of evidence is read and hashed."""
    refs = references(batch.observations)
    copies = [copy for copy in batch.copies if genuine_copy(copy)]
    return Material(
        visit=visit,
        observations=batch.observations,
        seals=batch.seals,
        evidence={sha: _state(sha, read, copies) for sha in refs.evidence},
        personal={p.sha256: p for p in batch.personal},
        withheld=frozenset(c.original for c in copies if not c.sha256),
        devices=devices,
        expected=expected or {},
    )


def _state(sha256: str, read: READ, copies: Iterable[Copy]) -> str:
    data = read(sha256)
    if data is not None:
        return KEPT if sha256_of(data) == sha256 else CHANGED
    state = MISSING
    for copy in copies:
        if copy.original != sha256:
            continue
        if not copy.sha256:
            state = WITHHELD
            continue
        other = read(copy.sha256)
        if other is not None:
            return COPY if sha256_of(other) == copy.sha256 else CHANGED
    return state


def batch_of(store: Store, visit: str) -> Batch:
    """All that a store holds of a visit."""
    observations = store.observations(visit)
    refs = references(observations)
    copies = store.copies([*refs.evidence, *refs.personal])
    copied = [copy.sha256 for copy in copies if copy.sha256]
    return Batch(
        observations=observations,
        seals=store.seals(visit),
        personal=tuple(store.personal(visit).values()),
        evidence=tuple(store.evidence([*refs.evidence, *copied]).values()),
        copies=copies,
    )


def verify_stored(
    store: Store, visit: str, *, expected: Mapping[str, str] | None = None
) -> Report:
    """Verify one visit of a store."""
    batch = batch_of(store, visit)
    if not batch.observations and not expected:
        raise StoreError(
            store.place, f"visit {visit}", "no such visit", "see its list of visits"
        )
    return verify(
        material_of(
            visit,
            batch,
            store.read_bytes,
            devices=store.devices(),
            expected=expected,
        )
    )


def all_visits(store: Store) -> Iterator[str]:
    """Ids of every visit of a store."""
    offset = 0
    while lines := store.visits(Filters(limit=MANY, offset=offset, newest_first=False)):
        yield from (line.visit for line in lines)
        offset += len(lines)


def verify_store(
    store: Store,
    visits: Iterable[str],
    *,
    expected: Mapping[str, Mapping[str, str]] | None = None,
) -> Verified:
    """Verify visits of a store, and the guards of its database."""
    wanted = expected or {}
    found = tuple(
        verify_stored(store, visit, expected=wanted.get(visit)) for visit in visits
    )
    missing = sorted(store.missing_guards())
    problems: tuple[Problem, ...] = ()
    if missing:
        message = Message("verify.guards", {"names": tuple(missing)})
        problems = (Problem(kind="guards", place=store.place, message=message),)
    return Verified(place=store.place, reports=found, problems=problems)


def verify_bundle(
    bundle: Bundle, *, devices: Mapping[str, str] | None = None
) -> Verified:
    """Verify a bundle or an exported folder on its own."""
    problems = [
        Problem(
            kind=name.replace("_", " "),
            place=place,
            message=Message(f"verify.{name}", {"place": place}),
        )
        for place, name in bundle.damage
    ]
    listed = bundle.manifest.get("heads", {})
    listed = listed if isinstance(listed, dict) else {}
    reports = tuple(
        verify(
            material_of(
                visit,
                of_visit(bundle.batch, [visit]),
                bundle.data.get,
                devices=devices,
                expected=heads_in(bundle).get(visit),
            )
        )
        for visit in dict.fromkeys([*listed, *visits_of(bundle.batch)])
    )
    return Verified(place=bundle.name, reports=reports, problems=tuple(problems))


def heads_in(bundle: Bundle) -> dict[str, dict[str, str]]:
    """By visit, the ids that a bundle says are the ends of its chains and its seals."""
    found: dict[str, dict[str, str]] = {}
    listed = bundle.manifest.get("heads", {})
    for visit, chains in listed.items() if isinstance(listed, dict) else ():
        name = f"{Path(bundle.name).name}, device"
        found[str(visit)] = {
            str(head["id"]): f"{name} {short(str(device))}"
            for device, head in (chains.items() if isinstance(chains, dict) else ())
            if isinstance(head, dict) and "id" in head
        }
    return found


def ids_in(bundle: Bundle) -> dict[str, dict[str, str]]:
    """By visit, every id in a bundle, for holding a store against it."""
    found = heads_in(bundle)
    for item in bundle.batch.observations:
        found.setdefault(item.visit, {})[item.id] = Path(bundle.name).name
    for seal in bundle.batch.seals:
        found.setdefault(seal.visit, {})[seal.id] = Path(bundle.name).name
    return found
