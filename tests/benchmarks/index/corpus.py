"""Files to measure on: copies of the real frames, each long enough that a read of 64 KiB is one."""

from __future__ import annotations

import os
from pathlib import Path

from auditor.readers.frames import File, Frame, read_frame
from auditor.readers.records import Record

LONG_BYTES = 128 * 1024


def real_frames() -> Path:
    """Return the folder of the real frames, or stop."""
    folder = Path(os.environ.get("STEADYKEEP_FRAMES", Path(__file__).parents[3].parent / "shared" / "frames"))
    if not folder.is_dir():
        raise SystemExit(f"the real frames are not at {folder}; set STEADYKEEP_FRAMES")
    return folder


def row_of(file: Path) -> Record | None:
    """Return the row that a file gives."""
    rows = read_frame(str(file.parent), Frame(File(file.name, 0, 0)))
    return rows[0] if rows else None


def copies(into: Path, count: int, wanted: set[str]) -> list[Path]:
    """
    Write copies of the real frames of some formats that hold an exposure.

    Parameters
    ----------
    into : Path
        An empty folder.
    count : int
        How many files.
    wanted : set of str
        Formats.
    """
    tail = os.urandom(LONG_BYTES)
    sources = []
    for file in sorted(real_frames().rglob("*")):
        row = row_of(file) if file.is_file() else None
        if row is not None and row.format in wanted and row.make and row.exposure_time_s:
            sources.append(file)
    written = []
    for number in range(count):
        source = sources[number % len(sources)]
        content = source.read_bytes()[: 2 * LONG_BYTES]
        copy = into / f"{number:06}-{source.name}"
        copy.write_bytes(content + tail[: max(0, LONG_BYTES - len(content))])
        written.append(copy)
    return written
