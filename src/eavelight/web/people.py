"""Who asks. On loopback there is nobody else: whoever sits there may do everything.

When others are served, people and roles are those of the record's own list.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from eavelight.errors import EavelightError

if TYPE_CHECKING:
    from eavelight.app.desk import LiveRecord

ACTS = {"read": "read", "enter": "add", "decide": "countersign"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Somebody:
    """A person as the pages know one."""

    name: str
    role: str
    actions: frozenset[str]

    def may(self, act: str) -> bool:
        """Whether the role allows an act: read, enter, decide."""
        return ACTS[act] in self.actions


HERE = Somebody(name="this device", role="desk", actions=frozenset(ACTS.values()))


class Door:
    """Sign-in and tokens of a shared record."""

    def __init__(self, live: "LiveRecord") -> None:
        from eavelight.app.access import MAY, Access

        self._access = Access(live.record.store)
        self._may = MAY

    def _somebody(self, name: str, role: str) -> Somebody:
        return Somebody(name=name, role=role, actions=frozenset(self._may[role]))

    def sign_in(self, name: str, password: str) -> str | None:
        """A session's secret; None where name and password do not fit."""
        try:
            return self._access.sign_in(name, password)
        except EavelightError:
            return None

    def sign_out(self, secret: str) -> None:
        """End a session."""
        self._access.sign_out(secret)

    def who(self, secret: str) -> Somebody | None:
        """The person of a session; None where it is over."""
        try:
            found = self._access.who(secret)
        except EavelightError:
            return None
        return self._somebody(found.name, found.role)

    def who_has(self, token: str) -> Somebody | None:
        """The person behind a device's token."""
        try:
            found = self._access.who_has(token)
        except EavelightError:
            return None
        return self._somebody(found.name, found.role)

    @property
    def anybody(self) -> bool:
        """Whether the list has anybody at all."""
        return bool(self._access.people())
