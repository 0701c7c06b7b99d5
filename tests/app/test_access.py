"""Who gets in, who is kept out, and what is written down about it."""

from datetime import UTC, datetime, timedelta

import pytest
from argon2 import PasswordHasher
from tests.app.record_places import VISIT, add, file_store

from eavelight.app import access as module
from eavelight.app.access import MAY, Access, AccessDeniedError
from eavelight.store import MemoryStore, StoreError

PASSWORD = "four plain words here"
START = datetime(2026, 4, 1, 8, tzinfo=UTC)


class Clock:
    def __init__(self):
        self.at = START

    def __call__(self):
        return self.at


@pytest.fixture(autouse=True)
def cheap_hashing(monkeypatch):
    quick = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(module, "_hasher", lambda: quick)
    module._nobodys_hash.cache_clear()


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def place(tmp_path):
    with file_store(tmp_path) as found:
        yield found


@pytest.fixture
def access(place, clock):
    found = Access(place.store, clock)
    for name, role in (("ann", "technician"), ("bo", "desk"), ("cy", "reader")):
        found.add_person(name, role, PASSWORD)
    return found


def test_password_lets_in_and_nothing_readable_is_stored(access, tmp_path):
    secret = access.sign_in("ann", PASSWORD)
    assert access.who(secret).role == "technician"
    data = b"".join(p.read_bytes() for p in tmp_path.glob("record.db*"))
    assert PASSWORD.encode() not in data
    assert secret.encode() not in data
    assert b"$argon2id$" in data


@pytest.mark.parametrize("name", ["ann", "nobody"])
def test_wrong_password_and_unknown_name_sound_the_same(access, name):
    with pytest.raises(AccessDeniedError) as caught:
        access.sign_in(name, "something else now")
    assert "another pair or a locked name" in str(caught.value)
    assert name not in str(caught.value)


def test_five_failures_lock_even_the_right_password_for_a_while(access, clock):
    for _ in range(5):
        with pytest.raises(AccessDeniedError):
            access.sign_in("ann", "not the password")
    with pytest.raises(AccessDeniedError):
        access.sign_in("ann", PASSWORD)
    clock.at += timedelta(minutes=16)
    assert access.sign_in("ann", PASSWORD)


def test_right_password_forgets_earlier_failures(access):
    for _ in range(3):
        for _ in range(4):
            with pytest.raises(AccessDeniedError):
                access.sign_in("ann", "not the password")
        assert access.sign_in("ann", PASSWORD)


def test_session_ends_by_time_and_by_signing_out(access, clock):
    first, second = access.sign_in("ann", PASSWORD), access.sign_in("ann", PASSWORD)
    access.sign_out(first)
    with pytest.raises(AccessDeniedError, match="sign in again"):
        access.who(first)
    clock.at += timedelta(hours=13)
    with pytest.raises(AccessDeniedError):
        access.who(second)


def test_token_of_a_device_works_until_revoked(access):
    ann, bo = (access.who(access.sign_in(n, PASSWORD)) for n in ("ann", "bo"))
    token = access.new_token(ann, "van 2")
    assert (access.who_has(token).name, access.who_has(token).device) == (
        "ann",
        "van 2",
    )
    access.revoke(bo, "ann", "van 2")
    with pytest.raises(AccessDeniedError):
        access.who_has(token)


def test_nobody_but_the_desk_revokes_for_others(access):
    ann, cy = (access.who(access.sign_in(n, PASSWORD)) for n in ("ann", "cy"))
    access.new_token(ann, "van 2")
    with pytest.raises(AccessDeniedError, match="ask the desk"):
        access.revoke(cy, "ann", "van 2")


def test_disabled_person_is_out_at_once(access):
    bo = access.who(access.sign_in("bo", PASSWORD))
    secret = access.sign_in("ann", PASSWORD)
    token = access.new_token(access.who(secret), "van 2")
    access.disable(bo, "ann")
    for attempt in (
        lambda: access.who(secret),
        lambda: access.who_has(token),
        lambda: access.sign_in("ann", PASSWORD),
    ):
        with pytest.raises(AccessDeniedError):
            attempt()
    assert [person.name for person in access.people()] == ["bo", "cy"]


@pytest.mark.parametrize("role", MAY)
def test_role_does_what_it_may_and_no_more(access, role):
    name = {"technician": "ann", "desk": "bo", "reader": "cy"}[role]
    person = access.who(access.sign_in(name, PASSWORD))
    for action in frozenset().union(*MAY.values()):
        if action in MAY[role]:
            access.require(person, action)
        else:
            with pytest.raises(AccessDeniedError):
                access.require(person, action)


def test_every_look_at_personal_values_is_logged_and_readers_see_none(
    access, place, clean
):
    add(place, clean)
    ann, bo, cy = (access.who(access.sign_in(n, PASSWORD)) for n in ("ann", "bo", "cy"))
    assert access.view(ann, VISIT).table["visit"]["technician"] == "t08"
    hidden = access.view(cy, VISIT).table
    assert hidden["visit"]["technician"] == "withheld"
    assert "latitude" not in hidden["site"]
    lines = [
        (line["person"], line["action"], line["subject"])
        for line in access.log_lines(bo)
    ]
    assert ("ann", "read personal values", VISIT) in lines
    assert not any(who == "cy" and "personal" in what for who, what, _ in lines)


def test_log_is_for_the_desk_and_cannot_be_changed(access, place):
    from sqlalchemy import text
    from sqlalchemy.exc import IntegrityError

    cy = access.who(access.sign_in("cy", PASSWORD))
    with pytest.raises(AccessDeniedError):
        access.log_lines(cy)
    for statement in ("DELETE FROM access_log", "UPDATE access_log SET person = 'x'"):
        with pytest.raises(IntegrityError):  # noqa: SIM117
            with place.store.engine.begin() as connection:
                connection.execute(text(statement))


@pytest.mark.parametrize(
    ("name", "role", "password", "error"),
    [
        ("dee", "technician", "short", AccessDeniedError),
        ("ann", "technician", PASSWORD, AccessDeniedError),
        ("dee", "boss", PASSWORD, ValueError),
        (" ", "desk", PASSWORD, ValueError),
    ],
)
def test_person_that_cannot_be_added_is_refused(access, name, role, password, error):
    with pytest.raises(error):
        access.add_person(name, role, password)


def test_store_in_memory_has_no_people():
    with pytest.raises(StoreError):
        Access(MemoryStore())
