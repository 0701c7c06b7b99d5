"""The list of threats names a test for every line, and every named test exists."""

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "seal" / "threats.md"
ROWS = [
    line
    for line in PAGE.read_text(encoding="utf-8").splitlines()
    if line.startswith("| ") and not line.startswith("| who ")
]


@pytest.mark.parametrize("row", ROWS)
def test_line_names_a_test_that_exists(row):
    (name,) = re.findall(r"`([a-z_/]+\.py::test_\w+)`", row)
    file, _, test = name.partition("::")
    assert f"def {test}(" in (TESTS / file).read_text(encoding="utf-8")
