"""A private PostgreSQL server in a temporary folder, reachable by this machine only.

PostgreSQL refuses to run as root: it then runs as Debian's `postgres` or as `nobody`.
"""

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

WAIT_S = 30.0


def binaries() -> Path | None:
    """The folder with initdb and postgres, newest version first."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    found = shutil.which("initdb")
    if found:
        places.append(Path(found).resolve().parent)
    for place in places:
        if (place / "initdb").exists() and (place / "postgres").exists():
            return place
    return None


def _account() -> dict[str, Any]:
    """What subprocess needs to leave root behind."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            user = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    raise RuntimeError("no account to run PostgreSQL as: add a user named postgres")


class ServerExitedError(RuntimeError):
    """The server ended instead of starting."""


def _children(pid: int) -> list[int]:
    """Processes whose parent is this one, where the system lists them."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            fields = path.read_text().rpartition(")")[2].split()
            if int(fields[1]) == pid:
                found.append(int(path.parent.name))
    return found


class Server:
    """One server; `kill` is for real, `start` recovers what it can."""

    def __init__(self, bin_folder: Path, *, durable: bool = False) -> None:
        self._bin = bin_folder
        self._account = _account()
        self._durable = durable
        self.folder = Path(tempfile.mkdtemp(prefix="eavelight-pg-"))
        self._process: subprocess.Popen[bytes] | None = None
        if self._account:
            os.chown(self.folder, self._account["user"], self._account["group"])
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._run(
            "initdb", "-D", str(self.data), "-A", "trust", "-U", "owner",
            "--no-sync", "-E", "UTF8", "--locale", "C",
        )  # fmt: skip

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self._bin / program, *arguments],
            check=True,
            capture_output=True,
            cwd=self.folder,
            **self._account,
        )

    def url(self, database: str = "postgres", user: str = "owner") -> str:
        return f"postgresql+psycopg://{user}@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start, again where a killed server's last child still holds its memory."""
        end = time.monotonic() + WAIT_S
        while True:
            self._launch()
            try:
                self._wait(end)
            except ServerExitedError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.05)
            else:
                return

    def _launch(self) -> None:
        options = ["-c", f"fsync={'on' if self._durable else 'off'}"]
        options += ["-c", "shared_buffers=32MB", "-c", "max_connections=40"]
        log = self.folder / "log"
        with log.open("ab") as stream:
            self._process = subprocess.Popen(
                [
                    self._bin / "postgres", "-D", str(self.data), "-p", str(self.port),
                    "-c", "listen_addresses=127.0.0.1",
                    "-c", f"unix_socket_directories={self.folder}", *options,
                ],
                stdout=stream,
                stderr=stream,
                cwd=self.folder,
                start_new_session=True,
                **self._account,
            )  # fmt: skip

    def _wait(self, end: float) -> None:
        import psycopg

        address = self.url().replace("+psycopg", "")
        assert self._process is not None
        while True:
            if self._process.poll() is not None:
                raise ServerExitedError((self.folder / "log").read_text()[-400:])
            try:
                psycopg.connect(address, connect_timeout=5).close()
            except psycopg.OperationalError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.02)
            else:
                return

    def kill(self) -> None:
        """SIGKILL to the server and all its children at once."""
        assert self._process is not None
        # its children have sessions of their own
        children = _children(self._process.pid)
        for pid in (self._process.pid, *children):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self._process.wait()
        (self.data / "postmaster.pid").unlink(missing_ok=True)

    def stop(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            self._process.wait(WAIT_S)
        shutil.rmtree(self.folder, ignore_errors=True)

    def new_database(self, name: str) -> str:
        import psycopg

        address = self.url().replace("+psycopg", "")
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
            connection.execute(f'CREATE DATABASE "{name}"')
        return self.url(name)
