"""From a raw TOML table to a frozen dataclass, or to mistakes.

Each item (a part, a reading, a section) is checked on its own, so that one bad item
does not hide the mistakes of the others.
"""

import dataclasses
import functools
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from eavelight.app.visit_folder.mistakes import NOTHING, Mistakes, nearest

T = TypeVar("T")

# Python keeps `from` for itself; the field carries an underscore, the key does not.
RENAMED = {"from": "from_"}


@functools.cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def _prepared(value: Any) -> Any:
    """Lists as tuples, and tables by wavelength with whole numbers as keys."""
    if isinstance(value, list):
        return tuple(_prepared(item) for item in value)
    if isinstance(value, dict):
        if value and all(str(key).isdigit() for key in value):
            return {int(key): _prepared(item) for key, item in value.items()}
        return {key: _prepared(item) for key, item in value.items()}
    return value


def _resolved(raw: Any, location: tuple[Any, ...]) -> tuple[list[Any], Any]:
    """Follow an error's location as far as the raw data goes."""
    steps: list[Any] = []
    here = raw
    for step in location:
        known = range(len(here)) if isinstance(here, tuple) else here
        if not isinstance(known, range | Mapping) or step not in known:
            break
        here = here[step]
        steps.append(step)
    return steps, here


def _path(place: str, steps: list[Any]) -> str:
    text = place
    for step in steps:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}"
    return text.rstrip("_") if text.endswith("from_") else text


def field_names(kind: type[Any]) -> list[str]:
    """The keys that a section of this kind may hold."""
    return [item.name.rstrip("_") for item in dataclasses.fields(kind)]


def _known_at(kind: type[Any], steps: list[Any]) -> list[str]:
    """Keys known where an unexpected one was met, following nested sections."""
    names = [step for step in steps if isinstance(step, str)]
    current: Any = kind
    for name in names:
        current = _nested(current, name) or current
    return field_names(current)


def _nested(kind: Any, name: str) -> type[Any] | None:
    for item in dataclasses.fields(kind):
        if item.name == name:
            return _first_dataclass(item.type)
    return None


def _first_dataclass(annotation: Any) -> type[Any] | None:
    if dataclasses.is_dataclass(annotation) and isinstance(annotation, type):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _first_dataclass(part)
        if found is not None:
            return found
    return None


def shaped(
    kind: type[T], raw: Mapping[str, Any], *, place: str, mistakes: Mistakes
) -> T | None:
    """The item as `kind`, or None after noting why not."""
    data = _prepared({RENAMED.get(key, key): value for key, value in raw.items()})
    try:
        result: T = _adapter(cast("Any", kind)).validate_python(data)
    except ValidationError as error:
        grouped: dict[str, _Problem] = {}
        for problem in error.errors(include_url=False):
            steps, value = _resolved(data, problem["loc"])
            if problem["type"] == "missing":
                steps = [*steps, str(problem["loc"][len(steps)])]
            entry = grouped.setdefault(_path(place, steps), _Problem(steps, value))
            entry.errors.append(problem)
        for where, entry in grouped.items():
            entry.note(kind, where, mistakes)
        return None
    before = len(mistakes.found)
    for steps, expected, value in _coerced(data, result):
        mistakes.add(_path(place, steps), expected=expected, found=value)
    return result if len(mistakes.found) == before else None


def _coerced(raw: Any, result: Any) -> Iterator[tuple[list[Any], str, Any]]:
    """Places where reading was kinder than it may be: "3" is not the number 3."""
    if isinstance(raw, Mapping):
        for key, value in raw.items():
            inner = result[key] if isinstance(result, Mapping) else getattr(result, key)
            for steps, expected, found in _coerced(value, inner):
                yield [key, *steps], expected, found
    elif isinstance(raw, tuple):
        for index, (value, inner) in enumerate(zip(raw, result, strict=True)):
            for steps, expected, found in _coerced(value, inner):
                yield [index, *steps], expected, found
    else:
        for kinds, expected in _KINDS:
            if isinstance(result, kinds):
                if not isinstance(raw, kinds):
                    yield [], expected, raw
                return


# in this order: a truth value is a whole number to Python, a time is a date
_KINDS: tuple[tuple[tuple[type, ...], str], ...] = (
    ((bool,), "true or false"),
    ((int, float), "a number, without quotes"),
    ((str,), "text in quotes"),
    ((datetime,), "a time with its offset, without quotes"),
    ((date,), "a date, without quotes"),
)


@dataclasses.dataclass(slots=True)
class _Problem:
    """All that is wrong at one place: a union reports once per branch."""

    steps: list[Any]
    value: Any
    errors: list[Any] = dataclasses.field(default_factory=list)

    def note(self, kind: type[Any], where: str, mistakes: Mistakes) -> None:
        first = self.errors[0]
        if first["type"] == "missing":
            mistakes.add(where, expected="a value", found=NOTHING, advice="add it")
        elif first["type"] in {"extra_forbidden", "unexpected_keyword_argument"}:
            name = str(self.steps[-1]).rstrip("_")
            known = _known_at(kind, self.steps[:-1])
            mistakes.add(
                where, expected="a known key", found=name, advice=nearest(name, known)
            )
        else:
            expected = " or ".join(dict.fromkeys(map(_expected, self.errors)))
            mistakes.add(where, expected=expected, found=self.value, advice=self.advice)

    @property
    def advice(self) -> str:
        literals = [
            word.strip("'")
            for error in self.errors
            if error["type"] == "literal_error"
            for word in error["ctx"]["expected"].replace(" or ", ", ").split(", ")
        ]
        if literals and isinstance(self.value, str):
            return nearest(self.value, literals)
        return _ADVICE.get(self.errors[0]["type"], "correct it")


_WORDS = {"string_type": "text in quotes"}
_ADVICE = {
    "string_type": "put it in quotes",
    "string_too_short": "write it, or leave the line away",
}


def _expected(problem: Any) -> str:
    if problem["type"] in _WORDS:
        return _WORDS[problem["type"]]
    text = str(problem["msg"])
    for prefix in ("Input should be ", "Value should be "):
        text = text.removeprefix(prefix)
    return text
