"""A sample of the long run: mutated records give readings or one error."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from eavelight.trace.codec import decode, encode

PATH = Path(__file__).parents[2] / "benchmarks" / "torture_trace.py"
MUTANTS = 2000


@pytest.fixture(scope="module")
def torture() -> ModuleType:
    spec = importlib.util.spec_from_file_location("torture_trace", PATH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["torture_trace"] = module
    spec.loader.exec_module(module)
    return module


def test_the_corpus_itself_is_well_formed(torture: ModuleType) -> None:
    for data in torture.corpus():
        assert encode(decode(data, strict=True)) == data


def test_mutated_records_give_a_reading_or_one_error(torture: ModuleType) -> None:
    tally = torture.torture(MUTANTS, seed=7)
    assert tally.wrong == []
    assert set(tally.outcomes) <= {"read", "noted", "refused"}
    assert min(tally.outcomes["noted"], tally.outcomes["refused"]) > MUTANTS // 10
