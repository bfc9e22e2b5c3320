"""
How long each page takes over many frames as a browser sees it, and what the server holds.

Run by hand: ``python -m tests.benchmarks.pages.browser 1000000``. Chromium opens each page several times, with a warm
cache; told are the medians of how long the slowest answer took (the one that lays the page), of the first paint and of
the time until the page's heading stands there, and the memory of the server, a process of its own. By the clock: on a
machine with other work, compare and do not conclude.
"""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Page, Request, sync_playwright

from dashboards.pages import PAGES
from tests.benchmarks.pages.__main__ import lay
from tests.dashboards.browser.conftest import ARGUMENTS, CHROMIUM
from tests.dashboards.servers import free_port

TIMES = 5
_PAINT = """() => performance.getEntriesByName("first-contentful-paint").map((one) => one.startTime)"""


def visit(page: Page, address: str) -> tuple[float, float, float]:
    """Return a fresh visit's slowest answer, its first paint, and when its heading stood there. [ms]"""
    answers: list[float] = []

    def finished(request: Request) -> None:
        if "/_dash-update-component" in request.url:
            answers.append(request.timing["responseEnd"] - request.timing["requestStart"])

    page.on("requestfinished", finished)
    page.goto(address)
    page.locator("main h1").wait_for(timeout=60_000)
    laid = page.evaluate("() => performance.now()")
    page.wait_for_timeout(300)
    page.remove_listener("requestfinished", finished)
    return max(answers, default=float("nan")), min(page.evaluate(_PAINT), default=float("nan")), laid


def memory_mb(process: int) -> str:
    status = Path(f"/proc/{process}/status")
    if not status.exists():
        return "memory not known"
    found = re.findall(r"Vm(RSS|HWM):\s+(\d+) kB", status.read_text())
    return ", ".join(f"{'now' if name == 'RSS' else 'at most'} {int(kb) // 1024} MB" for name, kb in sorted(found))


def measure(folder: Path) -> None:
    port = free_port()
    command = [sys.executable, "-m", "auditor", "dashboard", str(folder), "--port", str(port), "--no-open", "--quiet"]
    server = subprocess.Popen(command, env={**os.environ, "PYTHONWARNINGS": "ignore"})
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            try:
                urllib.request.urlopen(address).close()
                break
            except OSError:
                time.sleep(0.2)
        print(f"server laid: {memory_mb(server.pid)}")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
            page = browser.new_page()
            for view in ("", "?lens=orla-50"):
                for each in PAGES:
                    seen = [visit(page, address + each.path + view) for _ in range(TIMES)]
                    answer, paint, shown = (statistics.median(values) for values in zip(*seen, strict=True))
                    told = f"answer {answer:5.0f} ms, first paint {paint:5.0f} ms, heading {shown:5.0f} ms"
                    print(f"{each.path:14s} {view or 'all frames':16s} {told}", flush=True)
            browser.close()
        print(f"server after all: {memory_mb(server.pid)}")
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    if Path(sys.argv[1]).is_dir():
        measure(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as laid:
            lay(Path(laid), int(sys.argv[1]))
            measure(Path(laid))
