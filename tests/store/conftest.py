"""Every kind of store that there is, each new and empty."""

import os
import warnings
from collections.abc import Callable, Iterator

import pytest
from tests.store.postgres import Server, binaries

from eavelight.store import MemoryStore, Store, open_store

KINDS = ("memory", "sqlite-memory", "sqlite", "postgresql")
SQL_KINDS = KINDS[1:]


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A real PostgreSQL; without one its tests are skipped loudly, in CI they fail."""
    place = binaries()
    if place is None:
        reason = "no PostgreSQL server here: install Debian's package postgresql"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        warnings.warn(pytest.PytestWarning(reason), stacklevel=1)
        pytest.skip(reason)
    found = Server(place)
    found.start()
    yield found
    found.stop()


@pytest.fixture
def url(request, tmp_path) -> str:
    kind = request.param
    if kind == "memory":
        return "memory:"
    if kind == "sqlite-memory":
        return "sqlite://"
    if kind == "sqlite":
        return f"sqlite:///{tmp_path}/record.db"
    worker = os.environ.get("PYTEST_XDIST_WORKER", "one")
    return request.getfixturevalue("server").new_database(f"test_{worker}")


@pytest.fixture
def store(url) -> Iterator[Store]:
    found = open_store(url)
    yield found
    found.close()


@pytest.fixture
def again(url, store) -> Iterator[Callable[[], Store]]:
    """The same store through a new connection, where it outlives one."""
    opened: list[Store] = []

    def reopen() -> Store:
        if isinstance(store, MemoryStore) or url == "sqlite://":
            return store
        store.close()
        opened.append(open_store(url))
        return opened[-1]

    yield reopen
    for found in opened:
        found.close()
