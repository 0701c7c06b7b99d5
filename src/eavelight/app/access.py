"""Use case: who may do what on a shared store. A store of one's own needs no login."""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from eavelight.app.clock import now
from eavelight.app.record import stamp
from eavelight.app.record_stored import read_view
from eavelight.app.record_view import View, view_of
from eavelight.errors import EavelightError
from eavelight.store import Store
from eavelight.store.access import AccessTables

READ, ADD, PERSONAL = "read", "add", "read personal values"
COUNTERSIGN, PURGE, PEOPLE = "countersign", "purge", "manage people"
MAY: dict[str, frozenset[str]] = {
    "technician": frozenset({READ, ADD, PERSONAL}),
    "desk": frozenset({READ, ADD, PERSONAL, COUNTERSIGN, PURGE, PEOPLE}),
    "reader": frozenset({READ}),
}
SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 1024
FAILURES_ALLOWED = 5
LOCKED_FOR = timedelta(minutes=15)
SESSION_LASTS = timedelta(hours=12)
TOKEN_LASTS = timedelta(days=365)


class AccessDeniedError(EavelightError):
    """Somebody may not do this, or could not be told apart from somebody else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who was recognised."""

    name: str
    role: str
    device: str = ""

    def may(self, action: str) -> bool:
        """Whether the role allows an action."""
        return action in MAY[self.role]


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher()


@cache
def _nobodys_hash() -> str:
    """Checked for unknown names, so that they take as long as known ones."""
    return _hasher().hash(secrets.token_urlsafe(16))


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


class Access:
    """Sign-in, sessions, tokens and the log of one shared store."""

    def __init__(self, store: Store, clock: Callable[[], datetime] = now) -> None:
        self._store = store
        self._tables = AccessTables(store)
        self._clock = clock

    def add_person(self, name: str, role: str, password: str) -> Person:
        """Add a person with a role."""
        if role not in MAY:
            raise ValueError(f"role must be one of {', '.join(MAY)}, got {role!r}")
        if not name.strip():
            raise ValueError(f"name must not be empty, got {name!r}")
        if self._tables.person(name) is not None:
            raise AccessDeniedError(f"{name}: expected a new name, found one in use")
        self._tables.add_person(
            {
                "name": name,
                "role": role,
                "password": _hasher().hash(_checked(password)),
                "failures": 0,
                "locked_until": "",
                "disabled_at": "",
                "created_at": stamp(self._clock()),
            }
        )
        self._log(name, "added", role)
        return Person(name=name, role=role)

    def people(self) -> list[Person]:
        """Everybody who may sign in."""
        rows = self._tables.people()
        return [
            Person(name=row["name"], role=row["role"])
            for row in rows
            if not row["disabled_at"]
        ]

    def sign_in(self, name: str, password: str) -> str:
        """A session's secret for name and password; five failures lock for a while."""
        row = self._tables.person(name)
        known = row["password"] if row else _nobodys_hash()
        fits = len(password) <= LONGEST_PASSWORD and _fits(known, password)
        if row is None or row["disabled_at"]:
            raise self._unknown(name)
        if row["locked_until"] > stamp(self._clock()):
            self._log(name, "sign-in while locked", "")
            raise self._unknown(name)
        if not fits:
            self._failed(name, int(row["failures"]) + 1)
            raise self._unknown(name)
        values = {"failures": 0, "locked_until": ""}
        if _hasher().check_needs_rehash(known):
            values["password"] = _hasher().hash(password)
        self._tables.change_person(name, **values)
        secret = secrets.token_urlsafe(32)
        at = self._clock()
        self._tables.add_session(
            {
                "sha256": _sha256(secret),
                "person": name,
                "created_at": stamp(at),
                "expires_at": stamp(at + SESSION_LASTS),
            }
        )
        self._log(name, "signed in", "")
        return secret

    def _failed(self, name: str, failures: int) -> None:
        locked = ""
        if failures >= FAILURES_ALLOWED:
            locked = stamp(self._clock() + LOCKED_FOR)
            self._log(name, "locked", f"after {failures} failures")
        self._tables.change_person(name, failures=failures, locked_until=locked)

    def _unknown(self, name: str) -> AccessDeniedError:
        self._log(name, "not signed in", "")
        return AccessDeniedError(
            "sign-in: expected a name and its password, found another pair or a locked "
            f"name; after {FAILURES_ALLOWED} failures wait "
            f"{LOCKED_FOR.total_seconds() / 60:.0f} minutes"
        )

    def who(self, secret: str) -> Person:
        """The person of a session."""
        row = self._tables.session(_sha256(secret))
        if row is None or row["expires_at"] <= stamp(self._clock()):
            raise AccessDeniedError("session: expected a live one; sign in again")
        return self._person(row["person"], "")

    def sign_out(self, secret: str) -> None:
        """End a session."""
        self._tables.end_sessions(sha256=_sha256(secret))

    def new_token(self, person: Person, device: str) -> str:
        """A secret for a device of a person; it is shown once and kept as a digest."""
        secret = secrets.token_urlsafe(32)
        at = self._clock()
        self._tables.add_token(
            {
                "sha256": _sha256(secret),
                "name": device,
                "person": person.name,
                "created_at": stamp(at),
                "expires_at": stamp(at + TOKEN_LASTS),
                "revoked_at": "",
            }
        )
        self._log(person.name, "token given", device)
        return secret

    def who_has(self, token: str) -> Person:
        """The person behind a device's token."""
        row = self._tables.token(_sha256(token))
        if (
            row is None
            or row["revoked_at"]
            or row["expires_at"] <= stamp(self._clock())
        ):
            raise AccessDeniedError("token: expected a live one; ask the desk for it")
        return self._person(row["person"], row["name"])

    def revoke(self, by: Person, person: str, device: str) -> None:
        """Take a device's token back; one's own, or anybody's by the desk."""
        if by.name != person:
            self.require(by, PEOPLE)
        self._tables.revoke_tokens(person, device, stamp(self._clock()))
        self._log(by.name, "token revoked", f"{person}: {device}")

    def disable(self, by: Person, name: str) -> None:
        """Nobody is deleted: a person who left can no longer sign in."""
        self.require(by, PEOPLE)
        self._tables.change_person(name, disabled_at=stamp(self._clock()))
        self._tables.end_sessions(person=name)
        self._log(by.name, "disabled", name)

    def _person(self, name: str, device: str) -> Person:
        row = self._tables.person(name)
        if row is None or row["disabled_at"]:
            raise AccessDeniedError(f"{name}: expected somebody who may sign in")
        return Person(name=name, role=row["role"], device=device)

    def require(self, person: Person, action: str) -> None:
        """Refuse, and log, what a role does not allow."""
        if not person.may(action):
            self._log(person.name, "refused", action)
            raise AccessDeniedError(
                f"{person.name}: expected a role that may {action}, "
                f"found {person.role}; ask the desk"
            )

    def view(self, person: Person, visit: str) -> View:
        """A visit for a person: with personal values and a line in the log, or without.

        What a role may not see is shown as withheld.
        """
        self.require(person, READ)
        if person.may(PERSONAL):
            self._log(person.name, PERSONAL, visit)
            return read_view(self._store, visit)
        return view_of(visit, self._store.observations(visit), {})

    def log_lines(self, by: Person, *, limit: int = 100) -> list[dict[str, str]]:
        """Newest lines of the log, for the desk."""
        self.require(by, PEOPLE)
        rows = self._tables.log_lines(limit=limit)
        return [{key: str(value) for key, value in row.items()} for row in rows]

    def _log(self, person: str, action: str, subject: str) -> None:
        at = stamp(self._clock())
        self._tables.log(at=at, person=person, action=action, subject=subject)


def _checked(password: str) -> str:
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise AccessDeniedError(
            f"password: expected {SHORTEST_PASSWORD} characters or more, "
            f"found {len(password)}; a few words in a row are easy to keep"
        )
    return password


def _fits(known: str, password: str) -> bool:
    try:
        return _hasher().verify(known, password)
    except (VerifyMismatchError, InvalidHashError):
        return False
