"""The parent's side of the limited process: one at a time, killed when it takes long.

Nothing but JSON comes back, so that a process that was taken over can say little.
"""

import base64
import json
import struct
import subprocess
import sys
from dataclasses import dataclass
from threading import Lock, Timer
from typing import Any

from eavelight.errors import EavelightError

HEAD = struct.Struct(">II")
SECONDS, MOST_ANSWER = 60.0, 4_000_000
SMALL = "small picture"


class TooMuchError(EavelightError):
    """A file that could not be decoded within time and memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What the limited process made of a file."""

    error: str | None
    summary: dict[str, Any]


class LimitedDecoder:
    """A process that decodes one file after the other, started when needed."""

    def __init__(self, *, seconds: float = SECONDS) -> None:
        self._seconds = seconds
        self._lock = Lock()
        self._child: subprocess.Popen[bytes] | None = None

    def warm(self) -> None:
        """Start the process before it is needed."""
        with self._lock:
            self._alive()

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._end()

    def look(self, data: bytes, about: dict[str, Any]) -> Looked:
        """Decode bytes as what they are said to be.

        Raises
        ------
        TooMuchError
            If the process died or had to be stopped.
        """
        with self._lock:
            child = self._alive()
            timer = Timer(self._seconds, child.kill)
            timer.daemon = True
            timer.start()
            try:
                answer = _asked(child, data, about)
            except (OSError, ValueError, struct.error) as error:
                self._end()
                raise TooMuchError("the file could not be decoded safely") from error
            finally:
                timer.cancel()
        summary = answer.get("summary")
        problem = answer.get("error")
        return Looked(
            error=None if problem is None else str(problem)[:400],
            summary=summary if isinstance(summary, dict) else {},
        )

    def small(self, data: bytes) -> bytes:
        """A photo small enough for a list, as JPEG; empty where it cannot be read.

        Raises
        ------
        TooMuchError
            If the process died or had to be stopped.
        """
        found = self.look(data, {"what": SMALL})
        try:
            made = base64.b64decode(str(found.summary.get("jpeg", "")), validate=True)
        except ValueError:
            return b""
        return made if made.startswith(b"\xff\xd8\xff") else b""

    def _alive(self) -> subprocess.Popen[bytes]:
        if self._child is None or self._child.poll() is not None:
            self._child = subprocess.Popen(
                [sys.executable, "-I", "-m", "eavelight.app.intake.worker"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                close_fds=True,
            )
        return self._child

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        child.kill()
        for stream in (child.stdin, child.stdout):
            if stream is not None:
                try:
                    stream.close()
                except OSError:
                    continue
        child.wait()


def _asked(
    child: subprocess.Popen[bytes], data: bytes, about: dict[str, Any]
) -> dict[str, Any]:
    if child.stdin is None or child.stdout is None:
        raise OSError("no pipes")
    head = json.dumps(about).encode()
    child.stdin.write(HEAD.pack(len(head), len(data)))
    child.stdin.write(head)
    child.stdin.write(data)
    child.stdin.flush()
    size, _ = HEAD.unpack(child.stdout.read(HEAD.size))
    if size > MOST_ANSWER:
        raise ValueError("answer too long")
    answer = json.loads(child.stdout.read(size))
    if not isinstance(answer, dict):
        raise ValueError("answer is no object")
    return answer
