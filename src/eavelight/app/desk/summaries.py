"""One line per visit for the queue: a file beside the record that may be deleted.

It is filled as visits are assessed. A visit whose record grew since is assessed again
before its line is believed.
"""

import sqlite3
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from threading import RLock

from eavelight import __version__
from eavelight.app.desk.decide import decision_of
from eavelight.app.desk.live import LiveRecord, LiveVisit
from eavelight.assess.exceptions import UNASKED, weight
from eavelight.model.finding import Finding, Verdict
from eavelight.model.recorded import VisitLine

STATES = ("not ready", "undecided", "ready", "")
FLAGS = "evidence."


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What the queue shows of a visit; an empty state was not assessed yet."""

    visit: str
    site: str
    crew: str
    purpose: str
    started: str
    ended: str = ""
    sealed_at: str = ""
    observations: int = 0
    state: str = ""
    worst: str = ""
    worst_at: str = ""
    worst_nm: int = 0
    fails: int = 0
    open: int = 0
    exceptions: int = 0
    flags: int = 0
    decision: str = ""
    rank: int = 3

    @property
    def plain(self) -> bool:
        """Whether nothing in it asks for a look: ready, no exception, nothing alike."""
        noted = self.exceptions or self.flags or self.fails or self.open
        return self.state == "ready" and not noted

    def stale(self, line: VisitLine) -> bool:
        """Whether the record went on since."""
        now = (line.observations, line.sealed_at)
        return not self.state or (self.observations, self.sealed_at) != now


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueFilters:
    """What the queue is narrowed by; an empty text narrows nothing."""

    state: str = ""
    crew: str = ""
    purpose: str = ""
    decision: str = ""
    flags: bool = False
    search: str = ""
    offset: int = 0
    limit: int = 50


ORDER = "rank, started DESC, visit"
COLUMNS = tuple(f.name for f in fields(Summary))
NUMBERS = {"observations", "worst_nm", "fails", "open", "exceptions", "flags", "rank"}


def summary_of(live: LiveRecord, visit: LiveVisit) -> Summary:
    """The line of an assessed visit."""
    assessment = visit.assessed.assessment
    worst = worst_finding(assessment.findings)
    decision = decision_of(live.record.store, visit.id)
    notes = [
        note
        for note in visit.stored.visit.exceptions
        if weight(note.what, assessment.findings) < UNASKED
    ]
    waiting = sum(note.accepted_by is None for note in notes)
    fails = [f for f in assessment.findings if f.verdict is Verdict.FAIL]
    flags = sum(f.requirement.startswith(FLAGS) for f in fails)
    return _lined(
        visit.line,
        state=assessment.state,
        worst=worst.requirement if worst else "",
        worst_at=worst.subject if worst else "",
        worst_nm=(worst.wavelength_nm or 0) if worst else 0,
        fails=len(fails),
        open=sum(
            f.required and f.verdict not in {Verdict.PASS, Verdict.FAIL}
            for f in assessment.findings
        ),
        exceptions=len(notes),
        flags=flags,
        decision=decision.answer if decision else "",
        rank=_rank(
            assessment.state,
            waiting=waiting + flags,
            decision=decision.answer if decision else "",
        ),
    )


def _lined(line: VisitLine, **more: object) -> Summary:
    return Summary(
        visit=line.visit,
        site=line.site,
        crew=line.crew,
        purpose=line.purpose,
        started=line.started,
        ended=line.ended,
        sealed_at=line.sealed_at,
        observations=line.observations,
        **more,  # type: ignore[arg-type]
    )


def worst_finding(findings: Iterable[Finding]) -> Finding | None:
    """What keeps a visit from ready: failing before open, required before others."""
    order = {Verdict.FAIL: 0, Verdict.UNDECIDED: 1, Verdict.NOT_MEASURED: 2}
    found = [
        f
        for f in findings
        if f.verdict is Verdict.FAIL or (f.required and f.verdict in order)
    ]
    return min(
        found,
        key=lambda f: (order[f.verdict], f.advisory, not f.required),
        default=None,
    )


def _rank(state: str, *, waiting: int, decision: str) -> int:
    """Exceptions first; what the desk decided goes to the end."""
    if decision in {"accept", "send back"}:
        return 8
    if decision == "hold":
        return 6
    if state == "not ready" or waiting:
        return 0 if waiting else 1
    return 2 if state == "undecided" else 4


class Summaries:
    """The file of lines."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._lock = RLock()
        self._base = sqlite3.connect(path, check_same_thread=False, timeout=30)
        self._base.execute("PRAGMA journal_mode=wal")
        self._base.execute("PRAGMA synchronous=off")
        self._prepare()

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._base.close()

    def _prepare(self) -> None:
        kinds = (
            f"{name} {'INTEGER' if name in NUMBERS else 'TEXT'}" for name in COLUMNS
        )
        with self._lock, self._base as base:
            made_by = f"{__version__} {' '.join(COLUMNS)}"
            base.execute("CREATE TABLE IF NOT EXISTS about (made_by TEXT)")
            row = base.execute("SELECT made_by FROM about").fetchone()
            if row is None or row[0] != made_by:
                base.execute("DROP TABLE IF EXISTS line")
                base.execute("DELETE FROM about")
                base.execute("INSERT INTO about VALUES (?)", (made_by,))
            base.execute(
                f"CREATE TABLE IF NOT EXISTS line ({', '.join(kinds)}, "
                "PRIMARY KEY (visit))"
            )
            base.execute(f"CREATE INDEX IF NOT EXISTS in_order ON line({ORDER})")
            base.execute(f"CREATE INDEX IF NOT EXISTS of_crew ON line(crew, {ORDER})")
            base.execute("CREATE INDEX IF NOT EXISTS in_state ON line(state)")

    @property
    def count(self) -> int:
        """How many visits have a line."""
        with self._lock:
            found: int = self._base.execute("SELECT COUNT(*) FROM line").fetchone()[0]
        return found

    def put(self, items: Iterable[Summary]) -> None:
        """Write lines."""
        rows = [tuple(asdict(item).values()) for item in items]
        marks = ", ".join("?" * len(COLUMNS))
        with self._lock, self._base as base:
            base.executemany(f"INSERT OR REPLACE INTO line VALUES ({marks})", rows)

    def put_new(self, lines: Iterable[VisitLine]) -> int:
        """Lines of visits that are new or grew, not assessed yet; how many."""
        with self._lock:
            known = dict(
                self._base.execute("SELECT visit, observations FROM line").fetchall()
            )
        fresh = [
            _lined(line) for line in lines if known.get(line.visit) != line.observations
        ]
        self.put(fresh)
        return len(fresh)

    def line(self, visit: str) -> Summary | None:
        """The line of one visit."""
        query = f"SELECT {', '.join(COLUMNS)} FROM line WHERE visit = ?"
        with self._lock:
            row = self._base.execute(query, (visit,)).fetchone()
        return Summary(**dict(zip(COLUMNS, row, strict=True))) if row else None

    def set_aside(self, visit: str, problem: str) -> None:
        """A visit that cannot be assessed: it is shown as such, and not tried again."""
        query = "UPDATE line SET state = 'unreadable', worst_at = ? WHERE visit = ?"
        with self._lock, self._base as base:
            base.execute(query, (problem[:200], visit))

    def waiting(self, limit: int) -> list[str]:
        """Visits not assessed yet, newest first."""
        query = "SELECT visit FROM line WHERE state = '' ORDER BY started DESC LIMIT ?"
        with self._lock:
            return [row[0] for row in self._base.execute(query, (limit,))]

    def queue(self, filters: QueueFilters) -> tuple[Summary, ...]:
        """Lines of the queue, exceptions first, then the newest."""
        where, values = _where(filters)
        query = (
            f"SELECT {', '.join(COLUMNS)} FROM line {where} "
            f"ORDER BY {ORDER} LIMIT ? OFFSET ?"
        )
        limits = (filters.limit, filters.offset)
        with self._lock:
            rows = self._base.execute(query, (*values, *limits)).fetchall()
        return tuple(Summary(**dict(zip(COLUMNS, row, strict=True))) for row in rows)

    def counts(self) -> dict[str, int]:
        """How many visits are in each state, and how many in all."""
        query = "SELECT state, COUNT(*) FROM line GROUP BY state"
        with self._lock:
            found = dict(self._base.execute(query).fetchall())
        return {state: found.get(state, 0) for state in STATES}

    def crews(self) -> list[str]:
        """Names of the crews."""
        query = (
            "SELECT DISTINCT crew FROM line WHERE crew <> '' ORDER BY crew LIMIT 200"
        )
        with self._lock:
            return [row[0] for row in self._base.execute(query)]


def _where(filters: QueueFilters) -> tuple[str, list[object]]:
    parts: list[str] = []
    values: list[object] = []
    for name in ("state", "crew", "purpose", "decision"):
        wanted = getattr(filters, name)
        if wanted:
            parts.append(f"{name} = ?")
            values.append("" if wanted == "none" else wanted)
    if filters.flags:
        parts.append("flags > 0")
    if filters.search:
        parts.append("(visit LIKE ? ESCAPE '!' OR site LIKE ? ESCAPE '!')")
        text = filters.search
        for sign in "!%_":
            text = text.replace(sign, f"!{sign}")
        values += [f"{text}%"] * 2
    return (f"WHERE {' AND '.join(parts)}" if parts else ""), values
