"""Looks at visits that nobody looked at yet, in a process of its own and last in line.

Run as `python -m eavelight.app.desk.ahead LINES [STORE]`; the queue shows the rest.
"""

import os
import subprocess
import sys
from pathlib import Path
from threading import Lock
from time import monotonic

from eavelight.app.desk.live import LiveRecord
from eavelight.app.desk.summaries import Summaries, summary_of
from eavelight.errors import EavelightError

AGAIN_S = 5.0


def look(lines: Path, store: str | None) -> int:
    """Assess every visit that is new or grew; how many."""
    live = LiveRecord(store)
    summaries = Summaries(lines)
    done = 0
    try:
        summaries.put_new(live.lines())
        while names := summaries.waiting(1):
            try:
                found = live.visit(names[0])
            except EavelightError as error:
                summaries.set_aside(names[0], str(error))
                continue
            if found is None:
                summaries.set_aside(names[0], "")
            else:
                summaries.put([summary_of(live, found)])
            done += 1
    finally:
        summaries.close()
        live.close()
    return done


class Ahead:
    """Starts that process when it is due, and ends it with the server."""

    def __init__(self, lines: Path, store: str | None) -> None:
        self._command = [sys.executable, "-m", "eavelight.app.desk.ahead", str(lines)]
        self._command += [store] if store else []
        self._child: subprocess.Popen[bytes] | None = None
        self._ended_at = 0.0
        self._lock = Lock()

    def nudge(self) -> bool:
        """Start where it is due; true when nothing is at work."""
        with self._lock:
            if self._child is not None:
                if self._child.poll() is None:
                    return False
                self._child, self._ended_at = None, monotonic()
            if monotonic() - self._ended_at < AGAIN_S and self._ended_at:
                return True
            self._child = subprocess.Popen(
                self._command, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            return False

    def close(self) -> None:
        """End the process."""
        with self._lock:
            if self._child is not None and self._child.poll() is None:
                self._child.terminate()
                self._child.wait()
            self._child = None


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(15)
    look(Path(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else None)
