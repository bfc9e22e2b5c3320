"""
A million frames: memory while they are indexed, bytes a frame in the store, and an unchanged pass.

    python -m tests.benchmarks.index.million [FRAMES ...]

The archive is hard links to a few hundred different files, so that it fits on a disk; each count runs in a process of
its own, and the peak of its memory should not grow with the count.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from auditor.pipeline.indexing import index_archives
from tests.benchmarks.index.corpus import copies
from tests.benchmarks.index.processes import links


def once(archive: Path, store: Path) -> None:
    """Index twice and print what it took."""
    started = time.process_time()
    summary = index_archives({"main": archive}, store, jobs=2)
    cpu_s = time.process_time() - started
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    worker_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    size = sum(file.stat().st_size for file in (store / "frames").iterdir())
    started = time.process_time()
    again = index_archives({"main": archive}, store, jobs=2)
    print(
        f"{summary.frames} frames in {summary.seconds:.0f} s ({cpu_s:.0f} s CPU of the parent): peak {peak_mb:.0f} MB, "
        f"a worker {worker_mb:.0f} MB, {size / summary.frames:.1f} bytes a frame; unchanged: {again.unchanged} "
        f"in {time.process_time() - started:.1f} s CPU"
    )


def main() -> None:
    """Measure each count in a process of its own."""
    if len(sys.argv) == 4 and sys.argv[1] == "once":
        once(Path(sys.argv[2]), Path(sys.argv[3]))
        return
    for count in [int(text) for text in sys.argv[1:]] or [100_000, 1_000_000]:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            (folder / "originals").mkdir()
            links(copies(folder / "originals", 400, {"jpeg", "arw", "nef"}), folder / "archive", count)
            subprocess.run(
                [sys.executable, "-m", "tests.benchmarks.index.million", "once", folder / "archive", folder / "store"],
                check=True,
            )


if __name__ == "__main__":
    main()
