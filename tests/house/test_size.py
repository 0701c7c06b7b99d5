"""Size budget: small functions, modules of a few screens, everything annotated."""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "eavelight"
LONGEST_FUNCTION = 60
LONGEST_MODULE = 500
P95_FUNCTION = 35
FILES = sorted(SOURCE.rglob("*.py"))


def code_lines(node: ast.AST) -> int:
    lines = set()
    for child in ast.walk(node):
        body = getattr(child, "body", None)
        doc = None
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
            value = body[0].value
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                doc = body[0]
        for part in ast.iter_child_nodes(child):
            if part is not doc and hasattr(part, "lineno"):
                lines.add(part.lineno)
    return len(lines)


def functions(path: Path) -> list[tuple[str, int]]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        (f"{path.relative_to(SOURCE)}:{node.name}", code_lines(node))
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_module_and_its_functions_stay_small(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert code_lines(tree) <= LONGEST_MODULE
    too_long = [item for item in functions(path) if item[1] > LONGEST_FUNCTION]
    assert not too_long


def test_most_functions_are_short() -> None:
    sizes = sorted(size for path in FILES for _, size in functions(path))
    assert sizes[int(0.95 * len(sizes))] <= P95_FUNCTION
