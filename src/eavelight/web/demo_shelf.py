"""The invented crew in a record of its own, with one visit that nobody began."""

from datetime import datetime
from pathlib import Path
from typing import Any

import tomli_w

from eavelight.app.desk import LiveRecord
from eavelight.app.import_export import import_place
from eavelight.demo.crew import build_crew
from eavelight.demo.plans import visit_table

FRESH = 9
FRESH_ID = f"D-{100 + FRESH}"


def fresh_table(now: datetime) -> dict[str, Any]:
    """A work order of the invented crew: planned, nothing seen yet."""
    table = visit_table(FRESH)
    table["visit"]["started"] = now.replace(microsecond=0)
    del table["visit"]["ended"]
    return table


def fill_demo(live: LiveRecord, folder: Path) -> None:
    """Import the invented crew's visits and the fresh work order."""
    from eavelight.app.clock import now

    visits = folder / "visits"
    for _ in build_crew(visits):
        pass
    fresh = visits / FRESH_ID
    fresh.mkdir(parents=True, exist_ok=True)
    # the fresh house stands where the reader is: its clock is theirs
    start = now().astimezone()
    text = tomli_w.dumps(fresh_table(start))
    (fresh / "visit.toml").write_text(text, encoding="utf-8")
    import_place(live.record, visits)
