"""Every public physics function documents each argument with exactly one unit."""

import importlib
import inspect
import pkgutil
import re
from typing import Any

import pytest

PHYSICS = ("units", "glass", "light", "trace", "endface", "power", "climate")
# The longest suffix that matches decides; a name without a suffix may carry any unit.
UNITS = {
    "db_per_km": "dB/km", "db_per_m": "dB/m", "ohm_per_km": "Ω/km",
    "ohm_per_kft": "Ω/kft", "per_km": "1/km",
    "dbm": "dBm", "db": "dB", "km": "km", "nm": "nm", "um": "µm", "mm": "mm",
    "cm": "cm", "m": "m", "mm2": "mm²", "um2": "µm²", "ohm": "Ω", "v": "V", "w": "W",
    "mw": "mW", "a": "A", "ah": "Ah", "wh": "Wh", "h": "h", "s": "s", "ns": "ns",
    "c": "°C", "k": "K", "deg": "°", "px": "px", "um_per_px": "µm/px",
    "pa": "Pa", "gpa": "GPa", "years": "years", "w_per_m2": "W/m²",
    "m_per_s": "m/s", "per_k": "1/K", "per_h": "1/h", "m3_per_h": "m³/h",
    "cm2": "cm²", "v_per_k": "V/K", "ma_per_ah": "mA/Ah", "w_per_m2_k": "W/m²K",
    "m2_k_per_w": "m²K/W",
}  # fmt: skip
LINE = re.compile(r"^(\w+(?:, \w+)*) : (.+)$")
UNIT = re.compile(r"\[([^\[\]]+)\](?!_)")


def modules() -> list[Any]:
    found = []
    for name in PHYSICS:
        try:
            module = importlib.import_module(f"eavelight.{name}")
        except ModuleNotFoundError as error:
            if error.name != f"eavelight.{name}":
                raise
            continue
        found.append(module)
        found.extend(
            importlib.import_module(info.name)
            for info in pkgutil.walk_packages(
                getattr(module, "__path__", []), f"eavelight.{name}."
            )
        )
    return found


def functions() -> list[Any]:
    found = {}
    for module in modules():
        for name, thing in inspect.getmembers(module, inspect.isfunction):
            if name.startswith("_") or thing.__module__ != module.__name__:
                continue
            if any(part.startswith("_") for part in module.__name__.split(".")):
                continue
            found[f"{thing.__module__}.{name}"] = thing
    return [pytest.param(thing, id=name) for name, thing in sorted(found.items())]


def section(text: str, title: str) -> dict[str, str]:
    """Names of a numpydoc section with the text that follows each."""
    match = re.search(
        rf"^{title}\n-+\n(.*?)(?=^\S[^\n]*\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL
    )
    if not match:
        return {}
    entries: dict[str, str] = {}
    current: list[str] = []
    for line in match.group(1).splitlines():
        head = LINE.match(line)
        if head:
            current = head.group(1).split(", ")
            for name in current:
                entries[name] = ""
        for name in current:
            entries[name] += line + "\n"
    return entries


def expected_unit(name: str) -> str | None:
    for suffix in sorted(UNITS, key=len, reverse=True):
        if name == suffix or name.endswith("_" + suffix):
            return UNITS[suffix]
    return None


@pytest.mark.parametrize("function", functions())
def test_docstring_names_each_argument_and_its_unit(function: Any) -> None:
    text = inspect.getdoc(function)
    assert text, "a public physics function needs a docstring"
    parameters = section(text, "Parameters")
    signature = inspect.signature(function)
    assert list(parameters) == list(signature.parameters)
    returns = section(text, "Returns") or section(text, "Yields")
    assert returns, "say what comes back, and in which unit"
    for name, entry in {**parameters, **returns}.items():
        units = UNIT.findall(entry)
        assert len(units) == 1, f"{name}: exactly one [unit], found {units}"
        wanted = expected_unit(name)
        if wanted is not None:
            assert units == [wanted], f"{name}: unit should be [{wanted}]"
