"""The store at 200 000 observations in 20 000 visits, the raw driver beside it.

EAVELIGHT_STORE_VISITS sets how many visits. Sizes are filled by plain inserts of
signed-looking rows; what is timed afterwards goes through the store itself.
"""

import os
import shutil
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

from tests.store.postgres import Server, binaries

from eavelight.app.record import change_of, record, stamp
from eavelight.app.record_bodies import entries_of, make_body
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_stored import open_stored
from eavelight.app.record_verify import verify_stored
from eavelight.demo.plans import start_of, visit_table
from eavelight.model.recorded import Batch, Recorded, VisitLine
from eavelight.seal import DeviceKey, Head, link
from eavelight.store import Filters, Store, open_store

VISITS = 20_000
EACH = 10
ROUNDS = 200
KEY = DeviceKey.of_seed(b"bench".ljust(32, b"."))


def median_ms(calls: Iterator[Callable[[], object]]) -> float:
    """Median time of calls, each made once."""
    spent = []
    for call in calls:
        start = time.perf_counter()
        call()
        spent.append(time.perf_counter() - start)
    return 1e3 * statistics.median(spent)


def _reading(number: int) -> dict[str, Any]:
    return {
        "id": f"r{number}", "what": "level", "at": "port", "value": -18.25 - number,
        "unit": "dBm", "wavelength_nm": 1490, "u": 0.19,
        "time": (start_of(1) + timedelta(minutes=number)).isoformat(),
    }  # fmt: skip


def template() -> list[tuple[str, dict[str, Any]]]:
    """Kind and body of the observations of one visit."""
    entries = list(entries_of(visit_table(1)))
    bodies = [
        (e.kind, make_body(e.kind, e.item, visit="x", salt=lambda: bytes(16)).body)
        for e in entries
    ]
    bodies += [
        ("reading", {"schema": 1, "item": _reading(number)})
        for number in range(EACH - len(bodies))
    ]
    return [(kind, _whole(body)) for kind, body in bodies]


def _whole(body: dict[str, Any]) -> dict[str, Any]:
    """Without personal values, which need rows of their own."""
    return {key: value for key, value in body.items() if key != "personal"}


def fill(store: Store, visits: int) -> None:
    """Chains of `EACH` observations; every visit signed as in real life."""
    bodies, part = template(), 500
    for first in range(0, visits, part):
        observations: list[Recorded] = []
        lines = []
        for number in range(first, min(first + part, visits)):
            name, head = f"B-{number:06d}", Head()
            at = stamp(start_of(number % 700))
            for kind, body in bodies:
                item = link(KEY, head, visit=name, kind=kind, body=body, recorded_at=at)
                observations.append(item)
                head = Head(number=item.number, id=item.id)
            lines.append(
                VisitLine(
                    visit=name, site=f"S-{number}", crew=f"crew-{number % 40}",
                    purpose="turn-up", profile="default", started=at, ended=at,
                    observations=len(bodies),
                )
            )  # fmt: skip
        store.merge(Batch(observations=tuple(observations), lines=tuple(lines)))


def timings(store: Store, visits: int) -> dict[str, float]:
    """Median times of what people wait for."""
    place = OpenRecord(store=store, key=KEY)
    names = [f"B-{(7919 * n) % visits:06d}" for n in range(ROUNDS)]

    def append(name: str, number: int) -> object:
        head = Head(number=number + EACH, id=heads[name])
        item = link(
            KEY, head, visit=name, kind="reading",
            body={"schema": 1, "item": _reading(number)}, recorded_at=stamp(),
        )  # fmt: skip
        return store.append([item])

    heads = {name: store.observations(name)[-1].id for name in names}

    def whole(name: str) -> object:
        table = visit_table(1)
        table["visit"]["id"] = name
        table["reading"] = [_reading(500) | {"time": start_of(1)}]
        entries = list(entries_of(table))[2:]
        return record(
            place, name, lambda view: change_of(view, entries, files=str.encode)
        )

    crew = Filters(crew="crew-7", since=stamp(start_of(100)), limit=100)
    return {
        "open": median_ms((lambda n=n: open_stored(store, n)) for n in names),
        "append": median_ms((lambda n=n: append(n, 0)) for n in dict.fromkeys(names)),
        "record": median_ms((lambda n=n: whole(n)) for n in names[:100]),
        "list": median_ms((lambda: store.visits(crew)) for _ in range(50)),
        "page": median_ms(
            (lambda: store.visits(Filters(limit=50, offset=visits - 60)))
            for _ in range(50)
        ),
        "verify": median_ms((lambda n=n: verify_stored(store, n)) for n in names[:40]),
    }


def raw_sqlite(path: Path) -> dict[str, float]:
    """The same rows by the driver alone, with the same safety."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous = full")
    columns = "id, visit, device, number, prev, kind, body, recorded_at, signature"
    row = connection.execute(
        f"SELECT {columns} FROM observation WHERE visit = 'B-000100' LIMIT 1"
    ).fetchone()

    def append(number: int) -> None:
        connection.execute("BEGIN IMMEDIATE")
        last = connection.execute("SELECT max(seq) FROM observation").fetchone()[0]
        values = (last + 1, f"raw-{number}", *row[1:3], 10_000 + number, *row[4:])
        connection.execute(
            f"INSERT INTO observation (seq, {columns}) VALUES ({'?,' * 9}?)", values
        )
        connection.execute("COMMIT")

    def read(name: str) -> list[Any]:
        query = f"SELECT {columns} FROM observation WHERE visit = ? ORDER BY 3, 4"
        return connection.execute(query, (name,)).fetchall()

    found = {
        "append": median_ms((lambda n=n: append(n)) for n in range(ROUNDS)),
        "open": median_ms((lambda n=n: read(f"B-{n:06d}")) for n in range(ROUNDS)),
    }
    connection.close()
    return found


def _measured(name: str, store: Store, visits: int) -> list[tuple[str, str, str]]:
    start = time.perf_counter()
    fill(store, visits)
    filled = time.perf_counter() - start
    found = timings(store, visits)
    titles = {
        "open": ("open a visit", "30 ms"),
        "append": ("append one signed observation", "10 ms on SQLite"),
        "record": ("decide, sign and record one reading", ""),
        "list": ("list 100 of a crew since a day", "100 ms"),
        "page": ("the last page of all visits", "100 ms"),
        "verify": ("verify a visit", ""),
    }
    rows = [(f"{name}: fill {visits} visits x {EACH}", f"{filled:.0f} s", "")]
    for key, (title, wanted) in titles.items():
        rows.append((f"{name}: {title}", f"{found[key]:.2f} ms", wanted))
    return rows


def run() -> list[tuple[str, str, str]]:
    visits = int(os.environ.get("EAVELIGHT_STORE_VISITS", str(VISITS)))
    folder = Path(tempfile.mkdtemp(prefix="eavelight-bench-"))
    rows = []
    try:
        store = open_store(f"sqlite:///{folder}/bench.db")
        rows += _measured("SQLite", store, visits)
        store.close()
        raw = raw_sqlite(folder / "bench.db")
        rows.append(("raw driver: read a visit's rows", f"{raw['open']:.2f} ms", ""))
        rows.append(("raw driver: append", f"{raw['append']:.2f} ms", ""))
    finally:
        shutil.rmtree(folder)
    place = binaries()
    if place is None:
        return [*rows, ("PostgreSQL", "not tried: no server here", "")]
    server = Server(place, durable=True)
    try:
        server.start()
        store = open_store(server.new_database("bench"))
        rows += _measured("PostgreSQL", store, visits)
        store.close()
    finally:
        server.stop()
    return rows
