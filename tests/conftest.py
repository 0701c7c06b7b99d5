"""Shared switches: the audit guard of the core, and a run without optional parts."""

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import Any

import pytest

# Libraries of the optional parts; EAVELIGHT_WITHOUT_EXTRAS=1 hides them, so that one
# environment can prove that the core works on a machine that never had them.
OPTIONAL = (
    "jinja2", "matplotlib", "typst", "PIL", "skimage", "pvlib", "psychrolib",
    "starlette", "uvicorn", "multipart", "segno",
)  # fmt: skip
CORE_FOLDERS = (
    "glass", "light", "trace", "endface", "power", "climate", "standards", "model",
    "assess", "diagnosis",
)  # fmt: skip

_armed = False


class _Hidden:
    def find_spec(self, name: str, path: Any = None, target: Any = None) -> None:
        if name.partition(".")[0] in OPTIONAL:
            raise ModuleNotFoundError(f"{name} is hidden for this run", name=name)


if os.environ.get("EAVELIGHT_WITHOUT_EXTRAS"):
    sys.meta_path.insert(0, _Hidden())  # type: ignore[arg-type]


def _guard(event: str, arguments: tuple[Any, ...]) -> None:
    if not _armed:
        return
    if event in {
        "socket.connect", "socket.bind", "sqlite3.connect", "subprocess.Popen",
        "os.system",
    }:  # fmt: skip
        raise RuntimeError(f"the core must not do this: {event}")
    if event == "open":
        mode = arguments[1]
        if isinstance(mode, str) and set(mode) & set("wax+"):
            raise RuntimeError(f"the core must not write: {arguments[0]}")


sys.addaudithook(_guard)


@pytest.fixture(autouse=True)
def no_io_in_the_core(request: pytest.FixtureRequest) -> Iterator[None]:
    """Arm the guard for tests of core rooms; an audit hook cannot be removed."""
    global _armed
    folder = request.node.path.parent.name
    if folder not in CORE_FOLDERS:
        yield
        return
    with contextlib.suppress(ModuleNotFoundError):
        import pvlib  # noqa: F401  (runs uname when imported)
    _armed = True
    try:
        yield
    finally:
        _armed = False


@pytest.fixture(autouse=True)
def no_store_of_ones_own(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
    request: pytest.FixtureRequest,
) -> None:
    """No test meets the store or the keys of whoever runs it, nor those of another."""
    place = tmp_path_factory.getbasetemp() / "data" / f"{id(request.node):x}"
    monkeypatch.setenv("XDG_DATA_HOME", str(place))
    for name in ("EAVELIGHT_STORE", "EAVELIGHT_EVIDENCE"):
        monkeypatch.delenv(name, raising=False)


def _skip_what_needs_an_optional_part() -> Iterator[None]:
    """Without the optional parts, their clear refusal is the right answer."""
    from eavelight.errors import MissingFeatureError

    try:
        yield
    except MissingFeatureError as error:
        if not os.environ.get("EAVELIGHT_WITHOUT_EXTRAS"):
            raise
        pytest.skip(f"optional part hidden: {error}")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item: pytest.Item) -> Iterator[None]:
    return (yield from _skip_what_needs_an_optional_part())


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    return (yield from _skip_what_needs_an_optional_part())
