"""Runs every module of one kind in this folder and prints its rows as one table."""

import importlib
import sys
from pathlib import Path

Row = tuple[str, str, str]


def modules(kind: str, only: list[str]) -> list[str]:
    names = sorted(path.stem for path in Path(__file__).parent.glob(f"{kind}_*.py"))
    return [name for name in names if not only or name.partition("_")[2] in only]


def print_tables(kind: str) -> None:
    """Print what each `kind_*.py` measured, required beside it.

    Names on the command line restrict the run to those rooms.
    """
    for name in modules(kind, sys.argv[1:]):
        rows: list[Row] = importlib.import_module(f"benchmarks.{name}").run()
        print(f"\n### {name.partition('_')[2]}\n")
        print("| what | measured | required |\n|---|---|---|")
        for what, measured, required in rows:
            print(f"| {what} | {measured} | {required} |", flush=True)
