"""The words of the record as it is kept: observations, seals, personal values.

A body is canonical JSON text with its own schema number; a record never decides which
code runs, so no class name is ever written into one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

FIRST = ""
"""What the first observation of a chain names as the one before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One observation in the chain of one device within one visit.

    `id` is the digest of all the rest but the signature; `device` is the public key
    that signs, so a record proves itself without a list of keys.
    """

    id: str
    visit: str
    device: str
    number: int
    prev: str
    kind: str
    body: str
    recorded_at: str
    signature: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """A device's signature under the state of a visit: heads of all its chains."""

    id: str
    visit: str
    device: str
    body: str
    signature: str
    sealed_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonalValue:
    """A personal value kept apart: the chain holds only its salted hash."""

    sha256: str
    visit: str
    kind: str
    salt: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceRow:
    """What is known of evidence bytes whether or not they are still kept."""

    sha256: str
    media_type: str
    size: int
    samples_sha256: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """Other bytes that stand for evidence, such as a photo without its position."""

    original: str
    sha256: str
    reason: str
    device: str
    signature: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitLine:
    """One line of a list of visits; made from the record, never the truth itself."""

    visit: str
    site: str = ""
    crew: str = ""
    purpose: str = ""
    profile: str = ""
    started: str = ""
    ended: str = ""
    observations: int = 0
    sealed_at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """All that one act adds to the store; it is kept whole or not at all."""

    observations: tuple[Recorded, ...] = ()
    seals: tuple[Seal, ...] = ()
    personal: tuple[PersonalValue, ...] = ()
    evidence: tuple[EvidenceRow, ...] = ()
    copies: tuple[Copy, ...] = ()
    lines: tuple[VisitLine, ...] = ()
    uses: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Digests of the evidence that each visit rests on."""
