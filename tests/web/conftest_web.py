"""A server of its own for browser tests, and pages that collect what goes wrong."""

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CHROMIUM = next(
    (
        found
        for name in ("chromium", "chromium-browser")
        if (found := shutil.which(name))
    ),
    None,
)
SHOTS = Path(os.environ.get("EAVELIGHT_SHOTS", ROOT / ".shots"))
PHONE = {"width": 360, "height": 740}
SIZES = {
    360: PHONE,
    768: {"width": 768, "height": 1024},
    1280: {"width": 1280, "height": 860},
}


class Served:
    """`eavelight serve` in a process of its own, with a data folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = 0
        self.process: subprocess.Popen[str] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> "Served":
        environment = {**os.environ, "XDG_DATA_HOME": str(self.folder / "data")}
        store = str(self.folder / "record.db")
        self.process = subprocess.Popen(
            [
                sys.executable, "-m", "eavelight", "serve",
                "--port", str(self.port), "--store", store,
            ],
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )  # fmt: skip
        line = self.process.stdout.readline()
        found = re.search(r"127\.0\.0\.1:(\d+)", line)
        assert found, line
        self.port = int(found[1])
        return self

    def kill(self) -> None:
        """The power goes: no chance to finish anything."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        self._end(signal.SIGTERM)

    def _end(self, how: int) -> None:
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(20)
            self.process.stdout.close()
            self.process = None


def new_page(browser: Any, served: Served, **options: Any) -> Any:
    """A page in a context of its own; anything that goes wrong in it is collected."""
    options.setdefault("viewport", PHONE)
    options.setdefault("locale", "en-GB")
    context = browser.new_context(base_url=served.url, **options)
    context.set_default_timeout(60_000)
    page = context.new_page()
    page.problems = []
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    page.on(
        "console",
        lambda told: (
            page.problems.append(told.text)
            if "Content Security Policy" in told.text
            else None
        ),
    )
    return page


def open_demo(page: Any) -> None:
    """The invented crew, one click from the first page."""
    page.goto("/")
    page.get_by_role("button", name="Open the invented crew").click(timeout=60_000)
    page.wait_for_url("**/demo/", timeout=60_000)
