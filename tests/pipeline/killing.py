"""An index run that is killed: one run in a process of its own, and what is left of the store."""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from auditor.storage.datasets import load_manifest, read_table
from tests.readers import making

RUN = """
import sys
import pandas  # pyarrow asks for it at its first table: not while the clock of the kill runs
from pathlib import Path
from auditor.pipeline import index_writer, indexing
index_writer._COMMIT_ROWS, indexing._TASK_FRAMES = 64, 32
def told(done, total):
    if done:
        print("at", done, flush=True)
        sys.stdin.readline()  # waits for leave to go on, so that a kill comes where it is meant on any machine
indexing.index_archives({"main": Path(sys.argv[1])}, Path(sys.argv[2]), jobs=1, progress=told)
print("done", flush=True)
"""


def make_archive(root: Path, frames: int) -> None:
    """Make an archive of small pictures."""
    for number in range(frames):
        when = (0x9003, 2, f"2026:05:{1 + number // 3600:02} 14:{number // 60 % 60:02}:{number % 60:02}")
        block = making.tiff("<", [making.MAKE, making.MODEL], [*making.EXPOSURE, when])
        file = root / f"day{number % 5}" / f"{number:05}.jpg"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(making.jpeg(making.app1(block)))


def touch_some(root: Path, dice: random.Random) -> None:
    """Change some files, so that the next run replaces their rows."""
    files = sorted(root.rglob("*.jpg"))
    for file in dice.sample(files, len(files) // 3):
        about = file.stat()
        os.utime(file, ns=(about.st_atime_ns, about.st_mtime_ns + dice.randrange(1, 10**9)))


def committed(store: Path) -> set[str]:
    """Return the paths of the rows that are committed; fails on a store that cannot be read or holds a frame twice."""
    paths = read_table(store, "frames").column("path").to_pylist()
    assert len(paths) == len(set(paths)) == load_manifest(store / "frames").rows
    return set(paths)


def run_and_kill(root: Path, store: Path, steps: int, after_s: float) -> bool:
    """Start an index run, kill it a while after so many of its steps; return whether it was done before."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, str(root), str(store)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert process.stdin is not None
    is_done = False
    for _ in range(steps):
        if not process.stdout.readline().startswith("at"):
            is_done = True
            break
        process.stdin.write("\n")
        process.stdin.flush()
    time.sleep(after_s)
    os.killpg(process.pid, signal.SIGKILL)
    is_done = "done" in process.stdout.read() or is_done
    process.stdout.close()
    with contextlib.suppress(BrokenPipeError):
        process.stdin.close()
    process.wait()
    return is_done


def main() -> None:
    """Kill runs at random moments; the arguments are a folder, how many kills, and a seed."""
    folder, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    print(json.dumps(kill_often(folder, kills, seed)))


def kill_often(folder: Path, kills: int, seed: int, frames: int = 1500) -> dict[str, int]:
    """
    Kill index runs at random moments of their work.

    Returns
    -------
    dict
        How many runs were killed before they were done, how many of these after a commit, and rows lost of those that
        were committed before.
    """
    dice = random.Random(seed)  # noqa: S311
    root, store = folder / "archive", folder / "store"
    make_archive(root, frames)
    before: set[str] = set()
    killed = lost = between = 0
    for _ in range(kills):
        parts = load_manifest(store / "frames")
        was_done = run_and_kill(root, store, dice.randint(1, 9), dice.uniform(0, 0.05))
        killed += not was_done
        between += not was_done and load_manifest(store / "frames") != parts
        now = committed(store)
        lost += len(before - now)
        before = now
        if len(now) == frames:
            touch_some(root, dice)
    return {"kills": kills, "before they were done": killed, "rows lost": lost, "between two commits": between}


if __name__ == "__main__":
    main()
