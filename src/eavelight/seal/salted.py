"""Personal values apart from the record, which holds only their salted hash.

Without its salt a hash tells nothing: value and salt are deleted together.
"""

from typing import Any

from eavelight.model.recorded import PersonalValue
from eavelight.seal.canonical import canonical, digest, parsed

SALT_BYTES = 16


def commit(value: Any, *, visit: str, kind: str, salt: bytes) -> PersonalValue:
    """A personal value with the hash that stands for it."""
    if len(salt) != SALT_BYTES:
        raise ValueError(f"salt must hold {SALT_BYTES} bytes, got {len(salt)}")
    return PersonalValue(
        sha256=_hash(value, visit=visit, kind=kind, salt=salt.hex()),
        visit=visit,
        kind=kind,
        salt=salt.hex(),
        value=canonical(value).decode(),
    )


def fits(item: PersonalValue) -> bool:
    """Whether value and salt still give the hash."""
    try:
        value = parsed(item.value)
        found = _hash(value, visit=item.visit, kind=item.kind, salt=item.salt)
    except ValueError:
        return False
    return found == item.sha256


def _hash(value: Any, *, visit: str, kind: str, salt: str) -> str:
    return digest({"salt": salt, "visit": visit, "kind": kind, "value": value})
