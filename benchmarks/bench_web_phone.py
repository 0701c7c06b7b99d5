"""The first pages on a slow telephone: bytes, and seconds until they can be used.

The profile is that of the usual mobile audits: 150 ms there and back, 1.6 Mbit/s down,
0.75 Mbit/s up, a processor four times slower (common practice, no source).
"""

import shutil
import statistics
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PROFILE = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
SLOWER = 4
TIMES = 5
USABLE = """() => { const n = performance.getEntriesByType("navigation")[0];
return [n.domContentLoadedEventEnd, performance.getEntriesByType("resource")
.reduce((sum, r) => sum + r.transferSize, n.transferSize)]; }"""


def phone_rows(base: str, pages: dict[str, str]) -> list[tuple[str, str, str]]:
    """Median of a few first visits of each page, nothing kept from before."""
    if CHROMIUM is None:
        return [
            ("first page on a slow telephone", "not measured: no chromium", "< 2 s")
        ]
    from playwright.sync_api import sync_playwright

    rows = []
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=CHROMIUM,
            args=["--disable-background-networking"],
            chromium_sandbox=False,
        )
        for name, path in pages.items():
            found = [_first_visit(browser, base + path) for _ in range(TIMES)]
            usable = statistics.median(ms for ms, _ in found)
            size = max(size for _, size in found)
            rows.append(
                (f"{name}, slow telephone, usable", f"{usable / 1000:.2f} s", "< 2 s")
            )
            rows.append((f"{name}, all told", f"{size / 1000:.0f} kB", "< 300 kB"))
        browser.close()
    return rows


def _first_visit(browser: Any, url: str) -> tuple[float, float]:
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, device_scale_factor=2, is_mobile=True
    )
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", PROFILE)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto(url, wait_until="load")
    usable, size = page.evaluate(USABLE)
    context.close()
    return usable, size
