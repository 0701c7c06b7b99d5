"""One server for each module of browser tests, one browser for all of them."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from conftest_web import CHROMIUM, Served


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = Served(tmp_path_factory.mktemp("served")).start()
    yield made
    made.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        made = play.chromium.launch(
            executable_path=CHROMIUM,
            args=["--disable-background-networking", "--disable-dev-shm-usage"],
            chromium_sandbox=os.geteuid() != 0,
        )
        yield made
        made.close()
