"""A sample of the long run: killed in mid-write, nothing acknowledged is lost."""

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest
from tests.store.conftest import server  # noqa: F401

KILLS = 20
PATH = Path(__file__).parents[2] / "benchmarks" / "torture_store.py"

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="the run kills forked processes"
)


@pytest.fixture(scope="module")
def torture() -> ModuleType:
    spec = importlib.util.spec_from_file_location("torture_store", PATH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["torture_store"] = module
    spec.loader.exec_module(module)
    return module


def test_killed_writers_lose_nothing_in_sqlite(torture, tmp_path):
    tally = torture.sqlite_run(KILLS, tmp_path)
    assert (tally.lost, tally.problems) == ([], [])
    assert tally.acknowledged > KILLS


@pytest.mark.usefixtures("server")
def test_killed_writers_and_server_lose_nothing_in_postgresql(torture):
    tally = torture.postgresql_run(KILLS)
    assert (tally.lost, tally.problems) == ([], [])
    assert tally.server_kills == KILLS // 2
    assert tally.acknowledged > KILLS
