"""
How long each page takes over many frames, and what the server holds.

Run by hand: ``python -m tests.benchmarks.pages 1000000``. The frames are invented (``tests.dashboards.desks``), written
to a store and read from it in a process of its own, as the server does. Processor time, so that a busy machine counts
less; the target is 300 ms a page at 1 million frames.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from auditor.storage.datasets import replace_table
from dashboards.app import turn_to
from dashboards.flagged_grid import grid_rows
from dashboards.pages import PAGES
from dashboards.watched import workspace_desk
from tests.dashboards.desks import season_tables
from tests.dashboards.test_watched import KIT_TOML

VIEWS = ("", "?lens=orla-50", "?trip=Moor+in+the+rain&verdict=too-long")
TIMES = 5


def lay(folder: Path, frames: int) -> None:
    (folder / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"), encoding="utf-8")
    for name, table in zip(("frames", "audit"), season_tables(frames), strict=True):
        replace_table(folder / "store", name, table)


def measure(folder: Path) -> None:
    begun = time.perf_counter()
    now = workspace_desk(folder)
    print(f"{len(now())} frames, laid in {time.perf_counter() - begun:.1f} s")
    for view in VIEWS:
        for page in PAGES:
            took_ms = []
            for _ in range(TIMES):
                now().laid.clear()  # else a page that is held would cost nothing from the second time on
                begun = time.process_time()
                turn_to(now(), page.path, view)
                took_ms.append(1000 * (time.process_time() - begun))
            print(f"{page.path:14s} {view or 'all frames':40s} {sorted(took_ms)[TIMES // 2]:7.0f} ms")
    begun = time.process_time()
    grid_rows(now(), {"startRow": 10_000, "endRow": 10_100}, "")
    print(f"a block of the flagged frames {1000 * (time.process_time() - begun):.0f} ms")
    status = Path("/proc/self/status")
    if status.exists():
        print(*(line for line in status.read_text().splitlines() if line.startswith(("VmRSS", "VmHWM"))), sep="\n")


if __name__ == "__main__":
    if sys.argv[1] == "--measure":
        measure(Path(sys.argv[2]))
    else:
        with tempfile.TemporaryDirectory() as laid:
            lay(Path(laid), int(sys.argv[1]))
            subprocess.run([sys.executable, "-m", "tests.benchmarks.pages", "--measure", laid], check=True)
