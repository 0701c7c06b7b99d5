"""The list of functions without a published value only names real, unchecked ones."""

import importlib
import inspect
import pkgutil
import tomllib
from pathlib import Path

PUBLISHED = Path(__file__).parents[1] / "published"
PHYSICS = ("units", "glass", "light", "trace", "endface", "power", "climate")


def physics_functions() -> set[str]:
    names: set[str] = set()
    for room in PHYSICS:
        try:
            module = importlib.import_module(f"eavelight.{room}")
        except ModuleNotFoundError:
            continue
        found = [module] + [
            importlib.import_module(info.name)
            for info in pkgutil.walk_packages(
                getattr(module, "__path__", []), f"eavelight.{room}."
            )
        ]
        for part in found:
            if any(word.startswith("_") for word in part.__name__.split(".")):
                continue
            names |= {
                f"{part.__name__}.{name}"
                for name, thing in inspect.getmembers(part, inspect.isfunction)
                if not name.startswith("_") and thing.__module__ == part.__name__
            }
    return names


def checked_functions() -> set[str]:
    checked = set()
    for path in PUBLISHED.glob("*.toml"):
        if path.name != "missing.toml" and path.parent == PUBLISHED:
            document = tomllib.loads(path.read_text(encoding="utf-8"))
            checked |= {case["function"] for case in document["case"]}
    return checked


def missing_reasons() -> dict[str, str]:
    reasons: dict[str, str] = {}
    for path in sorted((PUBLISHED / "missing").glob("*.toml")):
        reasons |= tomllib.loads(path.read_text(encoding="utf-8"))["missing"]
    return reasons


def test_every_physics_function_is_checked_or_excused() -> None:
    excused = missing_reasons()
    assert all(reason.strip() for reason in excused.values())
    open_names = physics_functions() - checked_functions() - set(excused)
    assert not open_names, f"no published value and no reason: {sorted(open_names)}"


def test_excuses_are_still_needed() -> None:
    stale = set(missing_reasons()) & checked_functions()
    assert not stale
    unknown = set(missing_reasons()) - physics_functions()
    assert not unknown
