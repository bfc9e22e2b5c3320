"""
An unchanged pass over 100,000 files against scandir and stat alone, in CPU time.

    python -m tests.benchmarks.index.unchanged [FILES]

Target: at most 1.5 times.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from auditor.pipeline.indexing import index_archives


def fill(archive: Path, count: int) -> None:
    """Make an archive of empty files, 500 in a folder."""
    for number in range(count):
        folder = archive / f"day{number // 500:04}"
        folder.mkdir(exist_ok=True, parents=True)
        (folder / f"P{number:07}.JPG").touch()


def stat_all(root: str) -> int:
    """List every folder and stat every file, and nothing else."""
    count, folders = 0, [root]
    while folders:
        with os.scandir(folders.pop()) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    folders.append(entry.path)
                else:
                    entry.stat(follow_symlinks=False)
                    count += 1
    return count


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        archive, store = Path(name) / "archive", Path(name) / "store"
        fill(archive, count)
        index_archives({"main": archive}, store)
        bare, whole = [], []
        for _ in range(7):
            started = time.process_time()
            stat_all(str(archive))
            bare.append(time.process_time() - started)
            started = time.process_time()
            summary = index_archives({"main": archive}, store)
            whole.append(time.process_time() - started)
            assert summary.unchanged == count
        ours, base = statistics.median(whole), statistics.median(bare)
        print(f"{count} files unchanged: {ours:.3f} s, scandir and stat {base:.3f} s CPU: x{ours / base:.2f}")


if __name__ == "__main__":
    main()
