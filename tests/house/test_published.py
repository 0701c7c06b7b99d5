"""Runs every printed number of `tests/published/*.toml` against the function it names.

A file states its source and confidence once; a case names a public function, what it
is given, what the source prints, and why the tolerance is what it is.
`given` may hold arrays. `pick` names an attribute, key or index of the answer.
"""

import pkgutil
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

FOLDER = Path(__file__).parents[1] / "published"
FILES = sorted(path for path in FOLDER.glob("*.toml") if path.name != "missing.toml")
CONFIDENCE = {"seen", "second_hand", "recalled", "computed"}


def cases() -> list[Any]:
    found = []
    for path in FILES:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
        for case in document["case"]:
            case = {"source": document["source"], **case}
            case.setdefault("confidence", document.get("confidence"))
            found.append(pytest.param(case, id=f"{path.stem}: {case['id']}"))
    return found


def picked(answer: Any, pick: Any) -> Any:
    for step in pick if isinstance(pick, list) else [pick]:
        if isinstance(step, str) and hasattr(answer, step):
            answer = getattr(answer, step)
        else:
            answer = answer[step]
    return answer


@pytest.mark.parametrize("case", cases())
def test_published_value_is_reproduced(case: dict[str, Any]) -> None:
    assert case["source"], "name the source"
    assert case["confidence"] in CONFIDENCE
    assert case["because"], "say why the tolerance is what it is"
    function = pkgutil.resolve_name(case["function"])
    answer = function(**case.get("given", {}))
    if "pick" in case:
        answer = picked(answer, case["pick"])
    if isinstance(case["expect"], (str, bool)):
        assert answer == case["expect"]
        return
    np.testing.assert_allclose(
        np.asarray(answer, dtype=float),
        np.asarray(case["expect"], dtype=float),
        rtol=0,
        atol=case["abs_tol"],
    )


def test_case_names_are_unique() -> None:
    names = [case.id for case in cases()]
    assert len(names) == len(set(names))
