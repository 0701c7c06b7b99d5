"""Visit folders for tests: the invented clean visit, changed as a test wants."""

from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w

from eavelight.demo.plans import visit_table
from eavelight.demo.readings import full_log
from eavelight.demo.truth import House, Tools

VIEWS = ("house", "label-port", "label-house", "open", "closed", "supply")


def clean_table() -> dict[str, Any]:
    """A complete visit without faults, as the table of its `visit.toml`."""
    table = visit_table(1)
    start = table["visit"]["started"]
    house = House(drop_m=36.0)
    log = full_log(start, house, Tools(np.random.default_rng(7)), table)
    table["reading"] = deepcopy(log.entries)
    table["evidence"] = [
        {"file": f"evidence/{view}.jpg", "what": "photo", "view": view}
        for view in VIEWS
    ]
    return table


@pytest.fixture
def clean() -> dict[str, Any]:
    return clean_table()


def write(table: dict[str, Any], folder: Path) -> Path:
    """Write a table as a visit folder; evidence files get bytes of their own."""
    folder.mkdir(parents=True, exist_ok=True)
    for item in table.get("evidence", []):
        path = folder / item["file"]
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            path.write_bytes(f"{folder.name} {item['file']}".encode())
    (folder / "visit.toml").write_text(tomli_w.dumps(table), encoding="utf-8")
    return folder


@pytest.fixture
def save(tmp_path: Path) -> Callable[[dict[str, Any]], Path]:
    """Write a table as the folder of its visit id, beside others of the test."""

    def saver(table: dict[str, Any]) -> Path:
        return write(table, tmp_path / str(table["visit"]["id"]))

    return saver
