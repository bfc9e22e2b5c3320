"""
Kill the writing and the undoing of sidecars at random moments: each sidecar must be whole, old or new, at all times.

    python -m tests.benchmarks.records.kills --kills 200 --sidecars 2000
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from multiprocessing.synchronize import Event
from pathlib import Path

from auditor.model.workspace import open_workspace
from auditor.pipeline.sidecar_writing import undo_sidecars, write_sidecars
from tests.pipeline.archives import XMP, contents, workspace_of

ACTS = {"write": lambda workspace: write_sidecars(workspace, beside=True), "undo": undo_sidecars}


@dataclass
class Found:
    kills: int = 0  # while it was at work
    midway: int = 0  # killed when some sidecars were old and some new
    torn: int = 0
    orphans: int = 0  # unfinished files that a kill left behind, swept later
    turns: int = 0  # times that all were written, or all undone
    left_at_end: int = 0  # files that differ from before, after the last undo


def lay_out(folder: Path, count: int) -> Path:
    """Frames with and without a sidecar, of different lengths."""
    workspace = workspace_of(folder, [f"{number % 7}/{number:05d}.jpg" for number in range(count)])
    for number in range(0, count, 2):
        padding = b" " * (37 * (number % 40))
        path = workspace.archives["main"] / f"{number % 7}" / f"{number:05d}.xmp"
        path.write_bytes(XMP.replace(b"</rdf:RDF>", padding + b"</rdf:RDF>"))
    return workspace.folder


# Each process is forked from one that has loaded everything already, and has no threads yet.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["tests.benchmarks.records.kills"])


@contextmanager
def started(folder: Path, act: str) -> Iterator[BaseProcess]:
    ready = PROCESSES.Event()
    process = PROCESSES.Process(target=child, args=(folder, act, ready))
    process.start()
    assert ready.wait(60)
    try:
        yield process
    finally:
        process.kill()
        process.join()


def child(folder: Path, act: str, ready: Event) -> None:
    workspace = open_workspace(folder)
    ready.set()
    ACTS[act](workspace)


def finished(folder: Path, act: str) -> float:
    with started(folder, act) as process:
        begin = time.monotonic()
        process.join()
    return time.monotonic() - begin


def run(folder: Path, kills: int, sidecars: int, seed: int = 1) -> Found:
    chance, found = random.Random(seed), Found()  # noqa: S311
    own = lay_out(folder, sidecars)
    archive = open_workspace(own).archives["main"]
    old = contents(archive)
    spans = {"write": finished(own, "write")}
    new = contents(archive)
    spans["undo"] = finished(own, "undo")
    assert contents(archive) == old
    assert len(new) - len(old) == sidecars // 2
    act = "write"
    while found.kills < kills:
        with started(own, act) as process:
            time.sleep(chance.uniform(0, spans[act]))
            found.kills += process.is_alive()  # one that had come to its end was not killed
            process.kill()
        now = contents(archive)
        orphans = [name for name in now if "/.unfinished-" in name]
        found.orphans += len(orphans)
        whole = {name: content for name, content in now.items() if name not in orphans}
        found.torn += sum(content not in (old.get(name), new.get(name)) for name, content in whole.items())
        found.torn += len(old.keys() - whole.keys())
        if whole in (old, new):
            found.turns += whole == (new if act == "write" else old)
            act = "undo" if whole == new else "write"
        else:
            found.midway += 1
    finished(own, "undo")
    now = contents(archive)
    found.left_at_end = sum(now.get(name) != old.get(name) for name in {*now, *old})
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--sidecars", type=int, default=2000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print(run(Path(folder), asked.kills, asked.sidecars))


if __name__ == "__main__":
    main()
