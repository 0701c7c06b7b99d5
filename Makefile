# The developer's own scripts; .ci/run calls the same ones.
PYTHON ?= python3
BIN := .venv/bin
STAMP := .venv/.installed

.PHONY: demo test quick lint types imports bench accuracy torture lock clean wheel

demo: $(STAMP)
	$(BIN)/eavelight demo --out demo-out

$(STAMP): requirements.lock pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Python 3.11 or newer is needed; set PYTHON=python3.12 or similar" >&2; exit 1; }
	$(PYTHON) -m venv .venv
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $(STAMP)

test: $(STAMP)
	tools/run_tests.sh

quick: $(STAMP)
	$(BIN)/pytest -q -x -n 2 --ignore tests/web/test_browser.py tests

lint: $(STAMP)
	$(BIN)/ruff check . && $(BIN)/ruff format --check .

types: $(STAMP)
	$(BIN)/mypy

imports: $(STAMP)
	$(BIN)/lint-imports && $(BIN)/deptry src

bench: $(STAMP)
	$(BIN)/python -m benchmarks.bench

accuracy: $(STAMP)
	$(BIN)/python -m benchmarks.accuracy

torture: $(STAMP)
	$(BIN)/python -m benchmarks.torture

# maintainers only; needs uv
lock:
	uv pip compile pyproject.toml --group dev --extra all --universal \
	  --generate-hashes --exclude-newer "1 week" -o requirements.lock

clean:
	rm -rf .venv demo-out .mypy_cache .ruff_cache .pytest_cache dist
