"""Observations as links of a chain: one chain per device within a visit.

A merge is the union of chains. The order in which a store received them is never
hashed; each chain has its own order by number and by the digest of the one before.
"""

from dataclasses import dataclass
from typing import Any

from eavelight.model.recorded import FIRST, Recorded, Seal
from eavelight.seal.canonical import canonical, digest, parsed
from eavelight.seal.sign import DeviceKey, signed_by

OBSERVATION, SEAL = "observation", "seal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The end of one chain: how many links, and the digest of the last."""

    number: int = 0
    id: str = FIRST


def link(
    key: DeviceKey,
    head: Head,
    *,
    visit: str,
    kind: str,
    body: dict[str, Any],
    recorded_at: str,
) -> Recorded:
    """The next link of a device's chain in a visit, signed."""
    envelope = {
        "schema": 1,
        "visit": visit,
        "device": key.device,
        "number": head.number + 1,
        "prev": head.id,
        "kind": kind,
        "body": body,
        "recorded_at": recorded_at,
    }
    id = digest(envelope)
    return Recorded(
        id=id,
        visit=visit,
        device=key.device,
        number=head.number + 1,
        prev=head.id,
        kind=kind,
        body=canonical(body).decode(),
        recorded_at=recorded_at,
        signature=key.sign(OBSERVATION, id),
    )


def id_of(item: Recorded, *, number: int | None = None, prev: str | None = None) -> str:
    """The digest of what an observation says, or would say at another place.

    Raises
    ------
    ValueError
        If its body is not canonical JSON.
    """
    return digest(
        {
            "schema": 1,
            "visit": item.visit,
            "device": item.device,
            "number": item.number if number is None else number,
            "prev": item.prev if prev is None else prev,
            "kind": item.kind,
            "body": parsed(item.body),
            "recorded_at": item.recorded_at,
        }
    )


def genuine(item: Recorded) -> bool:
    """Whether an observation is what its device signed."""
    try:
        same = id_of(item) == item.id
    except ValueError:
        return False
    return same and signed_by(
        item.device, OBSERVATION, item.id, signature=item.signature
    )


def heads_of(items: tuple[Recorded, ...]) -> dict[str, Head]:
    """The end of every chain."""
    found: dict[str, Head] = {}
    for item in items:
        if item.number > found.get(item.device, Head()).number:
            found[item.device] = Head(number=item.number, id=item.id)
    return found


def make_seal(
    key: DeviceKey, *, visit: str, body: dict[str, Any], sealed_at: str
) -> Seal:
    """A seal with its signature."""
    id = digest(_sealed(visit, key.device, body, sealed_at))
    return Seal(
        id=id,
        visit=visit,
        device=key.device,
        body=canonical(body).decode(),
        signature=key.sign(SEAL, id),
        sealed_at=sealed_at,
    )


def _sealed(visit: str, device: str, body: Any, sealed_at: str) -> dict[str, Any]:
    return {
        "schema": 1,
        "visit": visit,
        "device": device,
        "body": body,
        "sealed_at": sealed_at,
    }


def genuine_seal(seal: Seal) -> bool:
    """Whether a seal is what its device signed."""
    try:
        body = parsed(seal.body)
        same = digest(_sealed(seal.visit, seal.device, body, seal.sealed_at)) == seal.id
    except ValueError:
        return False
    return same and signed_by(seal.device, SEAL, seal.id, signature=seal.signature)
