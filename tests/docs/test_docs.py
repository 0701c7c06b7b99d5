"""The pages name every command, kind of reading, key and requirement."""

import dataclasses
from pathlib import Path

import pytest

from eavelight.cli.entry import COMMANDS
from eavelight.model.kinds import EVIDENCE_KEYS, KINDS, PART_KEYS
from eavelight.model.observation import STATES

DOCS = Path(__file__).parents[2] / "docs"
COMMANDS_PAGE = (DOCS / "commands.md").read_text(encoding="utf-8")
FOLDER_PAGE = (DOCS / "visit_folder.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_command_has_its_section(name):
    assert f"## {name}\n" in COMMANDS_PAGE


@pytest.mark.parametrize("name", sorted(KINDS))
def test_kind_of_reading_is_documented_with_its_keys(name):
    row = next(line for line in FOLDER_PAGE.splitlines() if f"| `{name}` |" in line)
    kind = KINDS[name]
    assert all(f"`{key}`" in row for key in (*kind.needs, *kind.extra))
    assert (kind.unit or "") in row


@pytest.mark.parametrize("state", STATES)
def test_state_is_documented(state):
    assert f"`{state}`" in FOLDER_PAGE


@pytest.mark.parametrize("keys", [*EVIDENCE_KEYS.values(), *PART_KEYS.values()])
def test_key_is_documented(keys):
    assert all(f"`{key}`" in FOLDER_PAGE for key in keys)


def test_table_of_kinds_is_well_formed():
    for kind in KINDS.values():
        assert dataclasses.is_dataclass(kind)
        assert (kind.low is None) == (kind.unit is None)
