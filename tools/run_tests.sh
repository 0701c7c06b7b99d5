#!/usr/bin/env bash
# Everything CI runs, in the order in which it fails fastest. Called by `make test`.
set -euo pipefail
cd "$(dirname "$0")/.."
bin=.venv/bin
step() { printf '\n== %s\n' "$1"; }

step "lint";    $bin/ruff check . ; $bin/ruff format --check .
step "imports"; $bin/lint-imports
step "declared dependencies"; $bin/deptry src
step "types";   $bin/mypy
step "tests without the optional parts"
EAVELIGHT_WITHOUT_EXTRAS=1 $bin/pytest -q -n 2 tests/house tests/app tests/cli tests/assess
step "tests with everything"
$bin/pytest -q -n 2 --ignore tests/web/test_browser.py
step "the whole job in a real browser"
$bin/pytest -q tests/web/test_browser.py
