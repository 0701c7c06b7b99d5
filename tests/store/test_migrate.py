"""Tables brought up to date unattended: copied first, guarded after, as declared."""

import sqlite3
import threading

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text
from tests.store.conftest import SQL_KINDS
from tests.store.test_store import recorded

from eavelight.store import SqlStore, StoreError, open_store
from eavelight.store.engine import open_engine, url_of
from eavelight.store.migrate import NEWEST, migrate, version_of
from eavelight.store.tables import metadata
from eavelight.store.triggers import expected_triggers, present_triggers

every_sql = pytest.mark.parametrize("url", SQL_KINDS, indirect=True)


def engine_at(url, step):
    engine = open_engine(url_of(url))
    migrate(engine, target=step)
    return engine


def test_newest_step_is_the_last_of_the_folder():
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "eavelight:store/migrations")
    assert ScriptDirectory.from_config(config).get_heads() == [NEWEST]


@every_sql
def test_migrated_tables_are_the_declared_ones(url):
    store = open_store(url)
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, metadata) == []
    store.close()


@every_sql
@pytest.mark.parametrize("step", ["0001", NEWEST])
def test_every_guard_is_there_after_every_upgrade(url, step):
    engine = engine_at(url, step)
    migrate(engine)
    with engine.connect() as connection:
        found = present_triggers(connection)
    engine.dispose()
    assert found >= expected_triggers(engine.dialect.name)


@pytest.mark.parametrize("url", ["sqlite"], indirect=True)
def test_file_is_copied_before_an_upgrade_and_keeps_its_rows(url, tmp_path):
    engine = engine_at(url, "0001")
    store = SqlStore.__new__(SqlStore)
    store.engine, store._bytes = engine, None
    store._writing = engine.execution_options(append=True)
    store.append([recorded(1)])
    engine.dispose()
    upgraded = open_store(url)
    assert upgraded.observations("V-1") == (recorded(1),)
    assert upgraded.copied_to == tmp_path / "record.db.before-0002-from-0001"
    upgraded.close()
    copy = sqlite3.connect(upgraded.copied_to)
    assert copy.execute("SELECT version_num FROM alembic_version").fetchone() == (
        "0001",
    )
    assert copy.execute("SELECT count(*) FROM observation").fetchone() == (1,)
    copy.close()


@pytest.mark.parametrize("url", ["sqlite", "postgresql"], indirect=True)
def test_failed_step_leaves_the_tables_as_they_were(url, monkeypatch):
    engine = engine_at(url, "0001")

    def broken(*_):
        raise RuntimeError("power lost")

    monkeypatch.setattr("eavelight.store.triggers.create_triggers", broken)
    with pytest.raises(RuntimeError, match="power lost"):
        migrate(engine)
    assert version_of(engine) == "0001"
    with engine.connect() as connection:
        from sqlalchemy import inspect

        assert "person" not in inspect(connection).get_table_names()
    monkeypatch.undo()
    migrate(engine)
    assert version_of(engine) == NEWEST
    engine.dispose()


@every_sql
def test_tables_of_a_newer_version_are_refused_untouched(url):
    store = open_store(url)
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match="newer version"):
        migrate(store.engine)
    store.close()


@pytest.mark.parametrize("url", ["sqlite", "postgresql"], indirect=True)
def test_two_that_start_at_once_both_get_the_store(url):
    names, failures = set(), []

    def start():
        try:
            store = open_store(url)
            names.add(store.id)
            store.close()
        except Exception as error:
            failures.append(error)

    threads = [threading.Thread(target=start) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(names) == 1


def test_opening_a_store_that_is_up_to_date_needs_no_migration_library(tmp_path):
    import subprocess
    import sys

    open_store(f"sqlite:///{tmp_path}/r.db").close()
    code = (
        "import sys; from eavelight.store import open_store; "
        f"open_store('sqlite:///{tmp_path}/r.db'); "
        "assert 'alembic' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
