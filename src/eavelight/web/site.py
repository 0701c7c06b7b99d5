"""What the running application holds: records, decoder, secret, people."""

import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock

from eavelight.app.desk import LiveRecord, LiveVisit, Summaries
from eavelight.app.desk.ahead import Ahead
from eavelight.app.desk.pictures import Pictures
from eavelight.app.desk.summaries import summary_of
from eavelight.app.intake import LimitedDecoder
from eavelight.web.people import Door

OWN, DEMO = "own", "demo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How the application is served."""

    store: str | None = None
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "[::1]")
    folder: Path | None = None
    shared: bool = False


class Shelf:
    """One record with its queue and pictures: the own one, or the invented crew's."""

    def __init__(self, name: str, live: LiveRecord, lines: Path) -> None:
        self.name = name
        self.live = live
        path = lines / f"queue-{live.id}.db"
        self.summaries = Summaries(path)
        self.pictures = Pictures()
        if not self.summaries.count:
            self.summaries.put_new(live.lines())
        self.ahead = Ahead(path, live.url)
        self.ahead.nudge()

    def visit(self, id: str) -> LiveVisit | None:
        """A visit, its line in the queue brought up to date."""
        found = self.live.visit(id)
        if found is not None:
            self.note(found)
        return found

    def note(self, visit: LiveVisit) -> None:
        """Write the line of an assessed visit."""
        known = self.summaries.line(visit.id)
        if known is None or known.stale(visit.line):
            self.summaries.put([summary_of(self.live, visit)])

    def look_ahead(self) -> bool:
        """Have what nobody looked at yet assessed beside; true when nothing is left."""
        if self.live.count() != self.summaries.count:
            self.summaries.put_new(self.live.lines())
        self.ahead.nudge()
        return not self.summaries.waiting(1)

    def close(self) -> None:
        """Let go of the record."""
        self.ahead.close()
        self.summaries.close()
        self.live.close()


@dataclass(slots=True, kw_only=True)
class Site:
    """Everything that handlers share."""

    settings: Settings
    secret: bytes
    own: Shelf
    folder: Path
    decoder: LimitedDecoder = field(default_factory=LimitedDecoder)
    door: Door | None = None
    _demo: Shelf | None = None
    _demo_folder: Path | None = None
    _lock: RLock = field(default_factory=RLock)

    def shelf(self, name: str) -> Shelf | None:
        """The shelf of a name; the invented one only once it was opened."""
        return self.own if name == OWN else self._demo if name == DEMO else None

    def open_demo(self) -> Shelf:
        """Build the invented crew's record in a folder that goes with the server."""
        with self._lock:
            if self._demo is None:
                from eavelight.web.demo_shelf import fill_demo

                folder = Path(tempfile.mkdtemp(prefix="eavelight-demo-"))
                live = LiveRecord(str(folder / "invented.db"))
                fill_demo(live, folder)
                self._demo_folder = folder
                self._demo = Shelf(DEMO, live, folder)
            return self._demo

    def close(self) -> None:
        """Let go of everything."""
        self.decoder.close()
        self.own.close()
        if self._demo is not None:
            self._demo.close()
        if self._demo_folder is not None:
            shutil.rmtree(self._demo_folder, ignore_errors=True)
