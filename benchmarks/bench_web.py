"""The web application on a record of many visits: pages, queue, upload to findings.

`EAVELIGHT_BENCH_VISITS` and `EAVELIGHT_BENCH_SECONDS` change the size of the trial;
`EAVELIGHT_BENCH_FOLDER` keeps the record there for the next one.
"""

import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.bench_web_phone import phone_rows

VISITS = int(os.environ.get("EAVELIGHT_BENCH_VISITS", "20000"))
SECONDS = float(os.environ.get("EAVELIGHT_BENCH_SECONDS", "300"))
USERS, PAUSE_S = 20, 2.0


def fill(url: str, count: int) -> None:
    """Many visits: the invented house with its readings, without files."""
    from eavelight.app.record import entry_to_record, line_of, stamp
    from eavelight.app.record_bodies import entries_of
    from eavelight.app.record_place import open_record
    from eavelight.demo.plans import start_of, visit_table
    from eavelight.demo.readings import full_log
    from eavelight.demo.truth import House, Tools
    from eavelight.model.recorded import Batch
    from eavelight.seal import Head, link

    rng = np.random.default_rng(5)
    with open_record(url) as place:
        for number in range(count):
            table = visit_table(1 + number % 5)
            name = f"B-{number:05d}"
            start = start_of(0) - timedelta(minutes=17 * number)
            table["visit"] |= {"id": name, "started": start, "crew": f"c-{number % 40}"}
            table["visit"]["ended"] = start + timedelta(hours=2)
            table["site"]["key"] = f"S-{number:05d}"
            house = House(drop_m=30.0 + 6.0 * (1 + number % 5))
            table["reading"] = full_log(start, house, Tools(rng), table).entries
            head, links, personal = Head(), [], []
            for entry in entries_of(table):
                item = entry_to_record(entry, visit=name)
                personal += item.body.personal
                made = link(
                    place.key,
                    head,
                    visit=name,
                    kind=item.kind,
                    body=item.body.body,
                    recorded_at=stamp(),
                )
                head = Head(number=made.number, id=made.id)
                links.append(made)
            line = line_of(name, tuple(links))
            rest = Batch(personal=tuple(personal), lines=(line,))
            place.store.append(tuple(links), rest)


class User:
    """Somebody who asks for a page every two seconds."""

    def __init__(self, base: str) -> None:
        self.base = base
        jar = urllib.request.HTTPCookieProcessor(CookieJar())
        self.open = urllib.request.build_opener(jar).open
        self.times: list[tuple[str, float]] = []
        self.failed: list[str] = []

    def get(self, path: str, kind: str) -> bytes:
        began = time.perf_counter()
        try:
            with self.open(self.base + path, timeout=30) as answer:
                data: bytes = answer.read()
        except OSError as error:
            self.failed.append(f"{path}: {error}")
            return b""
        self.times.append((kind, time.perf_counter() - began))
        return data

    def work(self, paths: Iterator[tuple[str, str]], until: float) -> None:
        while time.perf_counter() < until:
            began = time.perf_counter()
            self.get(*next(paths))
            time.sleep(max(0.0, PAUSE_S - (time.perf_counter() - began)))


def paths(seed: int, known: list[str]) -> Iterator[tuple[str, str]]:
    """Half queue, half visits that were seen before."""
    rng = np.random.default_rng(seed)
    while True:
        if rng.random() < 0.5:
            page = int(rng.integers(0, 5)) * 50
            yield (f"/own/?from={page}", "queue")
        else:
            yield (f"/own/visits/{rng.choice(known)}", "visit")


def p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1] if len(values) > 1 else values[0]


def serve(folder: Path) -> tuple[subprocess.Popen[str], str]:
    environment = {**os.environ, "XDG_DATA_HOME": str(folder / "data")}
    process = subprocess.Popen(
        [sys.executable, "-m", "eavelight", "serve", "--port", "0",
         "--store", str(folder / "record.db")],
        stdout=subprocess.PIPE, text=True, env=environment,
    )  # fmt: skip
    line = process.stdout.readline() if process.stdout else ""
    return process, line.split()[1].rstrip("/")


def upload_s(user: User, visit: str) -> float:
    """A trace sent, and the page with its findings shown."""
    from eavelight.demo.evidence import trace_bytes
    from eavelight.demo.plans import start_of
    from eavelight.demo.truth import House

    times = []
    for seed in range(5):
        data = trace_bytes(
            House(),
            1550,
            visit=visit,
            time=start_of(0),
            rng=np.random.default_rng(seed),
        )
        page = user.get(f"/own/visits/{visit}/ladder/trace-1550", "question").decode()
        token = re.findall(r'name="token" value="(\w+)"', page)[0]
        body, kind = multipart({"token": token, "lead_m": "150"}, data)
        asked = urllib.request.Request(
            f"{user.base}/own/visits/{visit}/ladder/trace-1550",
            data=body,
            headers={"Content-Type": kind},
        )
        began = time.perf_counter()
        with user.open(asked, timeout=60) as answer:
            if b"told" not in answer.read():
                raise RuntimeError("the findings are not shown")
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def multipart(fields: dict[str, str], data: bytes) -> tuple[bytes, str]:
    edge = "edge-of-the-parts"
    parts = [
        (
            f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n'
            f"{value}\r\n"
        ).encode()
        for name, value in fields.items()
    ]
    head = (
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="t"\r\n'
        "Content-Type: application/octet-stream\r\n\r\n"
    ).encode()
    body = b"".join([*parts, head, data, f"\r\n--{edge}--\r\n".encode()])
    return body, f"multipart/form-data; boundary={edge}"


def filled(folder: Path) -> None:
    """A record of many visits in a folder, made once."""
    done = folder / f"filled-{VISITS}"
    if done.exists():
        return
    before = os.environ.get("XDG_DATA_HOME")
    os.environ["XDG_DATA_HOME"] = str(folder / "data")
    try:
        fill(str(folder / "record.db"), VISITS)
        done.touch()
    finally:
        if before is None:
            del os.environ["XDG_DATA_HOME"]
        else:
            os.environ["XDG_DATA_HOME"] = before


def run() -> list[tuple[str, str, str]]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(os.environ.get("EAVELIGHT_BENCH_FOLDER", name))
        filled(folder)
        process, base = serve(folder)
        try:
            return _measured(base)
        finally:
            process.terminate()
            process.wait(30)


def _measured(base: str) -> list[tuple[str, str, str]]:
    first = User(base)
    known = [f"B-{number:05d}" for number in range(100)]
    cold = []
    for name in known:
        began = time.perf_counter()
        first.get(f"/own/visits/{name}", "first view")
        cold.append(time.perf_counter() - began)
    upload = upload_s(first, known[0])
    users = [User(base) for _ in range(USERS)]
    until = time.perf_counter() + SECONDS
    threads = [
        threading.Thread(target=user.work, args=(paths(n, known), until))
        for n, user in enumerate(users)
    ]
    for number, thread in enumerate(threads):
        thread.start()
        time.sleep(PAUSE_S / USERS * (number < USERS - 1))
    for thread in threads:
        thread.join()
    times: dict[str, list[float]] = {}
    for user in users:
        for kind, seconds in user.times:
            times.setdefault(kind, []).append(seconds)
    failed = sum(len(user.failed) for user in users)
    rows: list[tuple[str, str, str]] = [
        (f"first view of a visit, {VISITS} visits, p95", _ms(p95(cold)), "< 700 ms"),
        ("upload of a trace to findings shown, median", _ms(upload), "< 1000 ms"),
    ]
    rows += [
        (f"{kind} page, {USERS} users, p95", _ms(p95(found)), "< 120 ms")
        for kind, found in sorted(times.items())
    ]
    asked = sum(map(len, times.values()))
    rows += phone_rows(
        base,
        {
            "first page": "/",
            "steps of a visit": f"/own/visits/{known[0]}/ladder",
            "one question": f"/own/visits/{known[0]}/ladder/loop",
        },
    )
    rows.append((f"failing of {asked} in {SECONDS:.0f} s", str(failed), "0"))
    return rows


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"


def show(rows: list[Any]) -> None:
    for row in rows:
        print(" | ".join(row))


if __name__ == "__main__":
    show(run())
