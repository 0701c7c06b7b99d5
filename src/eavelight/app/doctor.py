"""What works on this machine, and what each feature needs."""

import importlib.util
import platform
import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One feature, whether it can be used here, and what it needs."""

    feature: str
    needs: str
    available: bool
    because: str


FEATURES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("assess, plan: visit folders", "core", ("numpy", "scipy", "pydantic")),
    ("trace records", "core", ("numpy", "scipy")),
    ("the record in a file", "core", ("sqlalchemy", "alembic", "cryptography")),
    ("the record in PostgreSQL", "postgres", ("psycopg",)),
    ("closeout as HTML", "report", ("jinja2", "matplotlib")),
    ("closeout as PDF/A-3", "report", ("typst", "jinja2", "matplotlib")),
    ("pictures of end faces, photos in closeouts", "image", ("PIL",)),
    ("sun and heat on the wall", "sun", ("pvlib", "psychrolib")),
    (
        "serve: the web application",
        "web",
        ("starlette", "uvicorn", "multipart", "segno"),
    ),
)


def features() -> tuple[Feature, ...]:
    """Every feature with its state here."""
    return tuple(_feature(*row) for row in FEATURES)


def _feature(feature: str, part: str, modules: tuple[str, ...]) -> Feature:
    missing = [name for name in modules if not _there(name)]
    needs = "eavelight" if part == "core" else f"eavelight[{part}]"
    because = f"not installed: {', '.join(missing)}" if missing else "ready"
    return Feature(feature=feature, needs=needs, available=not missing, because=because)


def _there(module: str) -> bool:
    try:
        return importlib.util.find_spec(module) is not None
    except ModuleNotFoundError:
        return False


def machine() -> dict[str, str]:
    """What a report of a problem should name."""
    return {
        "python": platform.python_version(),
        "system": platform.system(),
        "sqlite": sqlite3.sqlite_version,
    }
