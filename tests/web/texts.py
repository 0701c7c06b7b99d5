"""Every text that the pages mark for translation, found in their sources."""

import ast
import tomllib
from pathlib import Path

from jinja2 import nodes

from eavelight.standards.endface_dirt import load_words
from eavelight.web.render import environment

WEB = Path(__file__).parents[2] / "src" / "eavelight" / "web"
MARKS = {"_", "N_", "ngettext"}


def in_templates() -> set[str]:
    found: set[str] = set()
    for path in sorted((WEB / "templates").glob("*.j2")):
        tree = environment().parse(path.read_text(encoding="utf-8"))
        for call in tree.find_all(nodes.Call):
            if isinstance(call.node, nodes.Name) and call.node.name in MARKS:
                found.add(call.args[0].as_const())
    return found


def in_python() -> set[str]:
    found: set[str] = set()
    for path in sorted(WEB.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            if name in MARKS and isinstance(first, ast.Constant):
                found.add(str(first.value))
    return found


def in_questions() -> set[str]:
    table = tomllib.loads((WEB / "questions.toml").read_text(encoding="utf-8"))
    return {text for item in table.values() for text in item.values()}


def in_cleaning() -> set[str]:
    known = load_words()
    return {*known["kind"].values(), *known["step"].values()}


def all_texts() -> set[str]:
    return in_templates() | in_python() | in_questions() | in_cleaning()
