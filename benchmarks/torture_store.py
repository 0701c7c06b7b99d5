"""Writers, and the database server too, killed at random moments in mid-write.

Two writers add readings, corrections, evidence, seals and whole bundles; each tells
over a pipe what was acknowledged. After every kill each acknowledged observation must
be there and the record must verify. EAVELIGHT_TORTURE_COUNT sets how many kills,
EAVELIGHT_TORTURE_ONLY=sqlite or postgresql tries one engine.
"""

import os
import random  # noqa: TID251  (child processes choose their work by seed)
import select
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.store.postgres import Server, binaries

from eavelight.app.record import AGAIN, change_of, record
from eavelight.app.record_bodies import Entry, entries_of
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_verify import verify_store
from eavelight.app.seal_visit import seal_visit
from eavelight.demo.plans import visit_table
from eavelight.seal import DeviceKey
from eavelight.store import open_store
from eavelight.wording import say

COUNT = 1000
SEED = 417
WRITERS = 2
LONGEST_S = 0.08
# kills after which new visits are begun, so that verifying stays quick
VISITS_LAST = 20
START = datetime(2026, 4, 1, tzinfo=UTC)


@dataclass(kw_only=True)
class Tally:
    """What became of a run."""

    kills: int = 0
    server_kills: int = 0
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    seconds: float = 0.0


def place_of(url: str, writer: int) -> OpenRecord:
    """A store opened by a writer with a key of its own."""
    key = DeviceKey.of_seed(f"writer {writer}".encode().ljust(32, b"."))
    return OpenRecord(store=open_store(url), key=key)


def write_on(url: str, writer: int, visits: list[str], pipe: int, seed: int) -> None:
    """Work until killed; every acknowledged id goes down the pipe at once."""
    chance = random.Random(seed)
    place = place_of(url, writer)
    while True:
        visit = chance.choice(visits)
        if chance.random() < 0.08 and place.store.observations(visit):
            seal_visit(place, visit, extra={})
            os.write(pipe, b"S")
            continue
        entries = list(_entries(chance, visit))

        def decide(view: Any, entries: list[Entry] = entries) -> Any:
            return change_of(view, entries, files=str.encode, reason=AGAIN)

        for item in record(place, visit, decide):
            os.write(pipe, f"{visit} {item.id}\n".encode())


def _entries(chance: random.Random, visit: str) -> Iterator[Entry]:
    table = visit_table(1)
    table["visit"]["id"] = visit
    for number in range(chance.randint(1, 4)):
        time_of = START + timedelta(seconds=chance.randrange(10**6))
        table.setdefault("reading", []).append(
            {
                "id": f"r{chance.randrange(12)}", "what": "level", "at": "port",
                "value": round(chance.uniform(-25, -10), 2), "unit": "dBm",
                "wavelength_nm": 1490,
                # often the same moment again: a correction
                "time": START if chance.random() < 0.4 else time_of,
            }
        )  # fmt: skip
        if chance.random() < 0.3:
            name = f"evidence/{chance.randrange(10**9)}-{number}.jpg"
            table.setdefault("evidence", []).append(
                {"file": name, "what": "photo", "view": "other"}
            )
    return entries_of(table)


def torture(url: str, count: int, *, seed: int = SEED, server: Any = None) -> Tally:
    """Kill writers `count` times, every other time the server with them."""
    chance, tally = random.Random(seed), Tally()
    begun = time.perf_counter()
    open_store(url).close()
    known: dict[str, str] = {}
    for number in range(count):
        if number % VISITS_LAST == 0:
            known = {}
        visits = [f"T-{number // VISITS_LAST}-{n}" for n in range(3)]
        kill_server = server is not None and number % 2 == 1
        found = _round(url, visits, chance, server if kill_server else None)
        tally.kills += 1
        tally.server_kills += kill_server
        tally.acknowledged += len(found)
        known |= found
        last = number == count - 1 or number % VISITS_LAST == VISITS_LAST - 1
        _check(url, known, visits, tally, whole=last)
    tally.seconds = time.perf_counter() - begun
    return tally


def _round(
    url: str, visits: list[str], chance: random.Random, server: Any
) -> dict[str, str]:
    """Start the writers, let them work, kill them; what they had acknowledged."""
    children, pipes = [], []
    for writer in range(WRITERS):
        reading, writing = os.pipe()
        seed = chance.randrange(2**31)
        child = os.fork()
        if child == 0:
            _child(url, writer, visits, writing, seed)
        os.close(writing)
        children.append(child)
        pipes.append(reading)
    select.select(pipes, [], [], 5.0)
    time.sleep(chance.uniform(0.0, LONGEST_S))
    if server is not None:
        server.kill()
    for child in children:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    told = b"".join(_all(pipe) for pipe in pipes)
    if server is not None:
        server.start()
    lines = told.replace(b"S", b"").decode().splitlines(keepends=True)
    pairs = [line.split() for line in lines if line.endswith("\n")]
    return {id: visit for visit, id in pairs if len(id) == 64}


def _child(url: str, writer: int, visits: list[str], pipe: int, seed: int) -> None:
    if not os.environ.get("EAVELIGHT_DEBUG"):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    try:
        write_on(url, writer, visits, pipe, seed)
    except BaseException:
        # a server that was killed under the writer is what the run is for
        if os.environ.get("EAVELIGHT_DEBUG"):
            traceback.print_exc()
    finally:
        os._exit(1)


def _all(pipe: int) -> bytes:
    parts = []
    while piece := os.read(pipe, 1 << 16):
        parts.append(piece)
    os.close(pipe)
    return b"".join(parts)


def _check(
    url: str, known: dict[str, str], visits: list[str], tally: Tally, *, whole: bool
) -> None:
    place = place_of(url, 99)
    with place:
        there = place.store.find(known)
        tally.lost += [id for id in known if id not in there]
        listed = visits if whole else visits[:1]
        present = [visit for visit in listed if place.store.observations(visit)]
        found = verify_store(place.store, present)
        for report in found.reports:
            tally.problems += [say(problem.message) for problem in report.problems]


def sqlite_run(count: int, folder: Path) -> Tally:
    """Torture a SQLite store in a folder."""
    return torture(f"sqlite:///{folder}/torture.db", count)


def postgresql_run(count: int) -> Tally | None:
    """Torture a PostgreSQL store, server and all; None where there is no server."""
    place = binaries()
    if place is None:
        return None
    # a killed process leaves what it gave to the kernel: flushing to the disk would
    # only slow the run down, power loss is not what it tries
    server = Server(place)
    try:
        server.start()
        return torture(server.new_database("torture"), count, server=server)
    finally:
        server.stop()


def run() -> list[tuple[str, str, str]]:
    count = int(os.environ.get("EAVELIGHT_TORTURE_COUNT", str(COUNT)))
    only = os.environ.get("EAVELIGHT_TORTURE_ONLY", "")
    tallies: dict[str, Tally | None] = {}
    if only in {"", "sqlite"}:
        folder = Path(tempfile.mkdtemp(prefix="eavelight-torture-"))
        try:
            tallies["SQLite"] = sqlite_run(count, folder)
        finally:
            shutil.rmtree(folder)
    if only in {"", "postgresql"}:
        tallies["PostgreSQL"] = postgresql_run(count)
    rows = []
    for name, tally in tallies.items():
        if tally is None:
            rows.append((name, "not tried: no server here", f"{COUNT} kills"))
            continue
        for line in (*tally.lost[:5], *tally.problems[:5]):
            print(line, file=sys.stderr)
        kills = f"{tally.kills} writers, {tally.server_kills} of them with the server"
        rows += [
            (f"{name}: killed", f"{kills}, in {tally.seconds:.0f} s", f"{COUNT}"),
            (
                f"{name}: acknowledged observations lost",
                f"{len(tally.lost)} of {tally.acknowledged}",
                "0",
            ),
            (f"{name}: problems that verify tells", f"{len(tally.problems)}", "0"),
        ]
    return rows
