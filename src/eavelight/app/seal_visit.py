"""Use case: put a seal under a visit, countersign one, or seal a closeout."""

from dataclasses import replace
from typing import Any

from eavelight import __version__
from eavelight.app.record import stamp
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_verify import verify_stored
from eavelight.app.record_view import view_of
from eavelight.errors import EavelightError
from eavelight.model.recorded import Batch, EvidenceRow, Seal
from eavelight.seal import heads_of, make_seal, references
from eavelight.seal.bodies import SCHEMA
from eavelight.standards.clauses import load_clauses
from eavelight.standards.profiles import load_profile
from eavelight.store import StoreError
from eavelight.wording import say

SEAL, COUNTERSIGN, CLOSEOUT = "seal", "countersignature", "closeout"


class NotSealedError(EavelightError):
    """A record that does not verify is not sealed."""

    def __init__(self, visit: str, reason: str) -> None:
        super().__init__(
            f"visit {visit}: expected a record that verifies, found: {reason}; "
            "nothing was sealed; see eavelight verify"
        )


def seal_visit(
    place: OpenRecord, visit: str, *, kind: str = SEAL, extra: dict[str, Any]
) -> Seal:
    """Seal all that a visit's record holds now."""
    store = place.store
    report = verify_stored(store, visit)
    if report.problems:
        raise NotSealedError(visit, say(report.problems[0].message))
    items = store.observations(visit)
    before = store.seals(visit)
    heads = {
        device: {"number": head.number, "id": head.id}
        for device, head in heads_of(items).items()
    }
    body = {
        "schema": SCHEMA,
        "kind": kind,
        "heads": heads,
        "evidence": sorted(references(items).evidence),
        "after": sorted(seal.id for seal in before),
        "versions": versions_of(view_of(visit, items).table["visit"]["profile"]),
        **extra,
    }
    seal = make_seal(place.key, visit=visit, body=body, sealed_at=stamp())
    line = store.line(visit)
    lines = (replace(line, sealed_at=seal.sealed_at),) if line else ()
    store.merge(Batch(seals=(seal,), lines=lines))
    return seal


def countersign(place: OpenRecord, visit: str, *, by: str) -> Seal:
    """The desk's signature under the last seal of a visit."""
    seals = place.store.seals(visit)
    if not seals:
        raise StoreError(
            f"visit {visit}", "a seal to countersign", "none", "close it out first"
        )
    extra = {"of": seals[-1].id, "role": by}
    return seal_visit(place, visit, kind=COUNTERSIGN, extra=extra)


def seal_closeout(
    place: OpenRecord, visit: str, *, document: bytes, row: EvidenceRow, state: str
) -> Seal:
    """Keep a closeout as bytes, and seal the visit with its digest and state."""
    place.store.put_bytes(row.sha256, document)
    place.store.merge(Batch(evidence=(row,)))
    extra = {"document": {"sha256": row.sha256, "size": row.size}, "state": state}
    return seal_visit(place, visit, kind=CLOSEOUT, extra=extra)


def versions_of(profile: str) -> dict[str, Any]:
    """Versions of code, clauses and profile that a verdict rests on."""
    chosen = load_profile(profile)
    files = {clause.file: clause.file_sha256 for clause in load_clauses().values()}
    return {
        "code": __version__,
        "clauses": dict(sorted(files.items())),
        "profile": {
            "id": chosen.id,
            "edition": chosen.edition,
            "sha256": chosen.sha256,
        },
    }
