"""How large is a report's page, and how fast does it open?

``python -m tests.studies.benchmark_page REPORT [REPORT ...]``

Opens each report's ``index.html`` from disk in Chromium, with no network, on a desk and on a phone, three times each,
and prints the bytes and the seconds until every chart is drawn: by the clock, and of the processor (which says more
on a busy machine).
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from statistics import median
from typing import Any

from playwright.sync_api import sync_playwright

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
WIDTHS = (1400, 390)
TIMES = 3


def opened(browser: Any, page: Path, width: int) -> tuple[float, ...]:
    """Return the clock's seconds until the list stands and until the charts do, and the processor's for both."""
    context = browser.new_context(viewport={"width": width, "height": 1000}, offline=True)
    tab = context.new_page()
    session = context.new_cdp_session(tab)
    session.send("Performance.enable")
    tab.goto(page.resolve().as_uri(), wait_until="commit")
    used = []
    for state in ("listed", "drawn"):
        tab.wait_for_selector(f"html[data-{state}]", state="attached", timeout=60_000)
        metrics = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        used.append(metrics["ProcessTime"])
    listed = tab.evaluate("performance.getEntriesByName('listed')[0].startTime") / 1000
    drawn = tab.evaluate("performance.now()") / 1000
    context.close()
    return listed, drawn, *used


def main() -> None:
    """Measure the reports named on the command line."""
    with sync_playwright() as driver:
        path = next(filter(None, map(shutil.which, BROWSERS)))
        for report in sys.argv[1:]:
            page = Path(report) / "index.html"
            for width in WIDTHS:
                took = []
                for _ in range(TIMES):
                    browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
                    took.append(opened(browser, page, width))
                    browser.close()
                listed, drawn, *used = (median(seconds) for seconds in zip(*took, strict=True))
                print(
                    f"{page}: {page.stat().st_size:,} bytes; {width} px: list {listed:.2f} s, charts {drawn:.2f} s; "
                    f"processor {used[0]:.2f} and {used[1]:.2f} s"
                )


if __name__ == "__main__":
    main()
