"""
Two reading processes against one, by CPU accounting, and the store that comes of it.

    python -m tests.benchmarks.index.processes [FILES]

The bound on two idle cores is 2 x (CPU of one in-process run) / (CPU of parent and children); wall clock on a busy
machine says nothing. Target: at least 1.8 for 20,000 files; at most 120 bytes a frame.
"""

from __future__ import annotations

import os
import resource
import shutil
import sys
import tempfile
from pathlib import Path

from auditor.pipeline import indexing
from auditor.pipeline.indexing import index_archives
from tests.benchmarks.index.corpus import copies


def cpu_s() -> float:
    """Return the CPU time of this process and its ended children. [s]."""
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def links(originals: list[Path], into: Path, count: int) -> None:
    """Fill an archive with hard links to some files: many files, little room."""
    for number in range(count):
        folder = into / f"day{number // 500:04}"
        folder.mkdir(exist_ok=True, parents=True)
        original = originals[number % len(originals)]
        os.link(original, folder / f"P{number:07}{original.suffix}")


def run(archive: Path, store: Path, jobs: int) -> float:
    """Index once into an empty store; return the CPU time. [s]."""
    shutil.rmtree(store, ignore_errors=True)
    started = cpu_s()
    index_archives({"main": archive}, store, jobs=jobs)
    return cpu_s() - started


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "originals").mkdir()
        originals = copies(folder / "originals", 400, {"jpeg", "arw", "cr2", "nef", "dng"})
        links(originals, folder / "archive", count)
        for _ in range(3):
            few, indexing._FEW_FRAMES = indexing._FEW_FRAMES, count
            alone = run(folder / "archive", folder / "store", 1)
            indexing._FEW_FRAMES = few
            two = run(folder / "archive", folder / "store", 2)
            print(f"{count} files: in-process {alone:.2f} s, two processes {two:.2f} s CPU: x{2 * alone / two:.2f}")
        size = sum(file.stat().st_size for file in (folder / "store" / "frames").iterdir())
        print(f"store: {size / count:.1f} bytes a frame")


if __name__ == "__main__":
    main()
