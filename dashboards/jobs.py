"""Work that takes longer than a page may: reading the archives and auditing again, in a thread, watched by a page."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from auditor.errors import SteadykeepError
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace
from auditor.pipeline.indexing import IndexSummary, index_archives
from auditor.pipeline.questioning import ask
from auditor.storage.manifest import load_manifest
from auditor.storage.places import place_at
from dashboards.apart import apart
from dashboards.words import count_of

__all__ = ["Job", "Standing", "progress_in_words", "workspace_job"]

Index = Callable[[Path, Callable[[int, int], None]], IndexSummary]
Step = Callable[[Path], None]


@dataclass(frozen=True)
class Standing:
    """
    Where a job stands.

    Parameters
    ----------
    stage : str
        idle, reading, auditing, asking, done, failed.
    done, total : int
        Frames read, of how many; 0 of what was found so far while the archive is walked.
    said : str
        What came of it, or why it failed.
    since_s : float
        When the stage began, on the monotonic clock. [s]
    """

    stage: str = "idle"
    done: int = 0
    total: int = 0
    said: str = ""
    since_s: float = 0.0

    @property
    def is_running(self) -> bool:
        """Whether it is worth asking again."""
        return self.stage in {"reading", "auditing", "asking"}


@dataclass(frozen=True)
class Job:
    """
    A job of one workspace, one run at a time.

    Parameters
    ----------
    start : callable
        Given whether to read the archives first, begins and returns the standing; while one runs, it only
        returns where that stands.
    standing : callable
        Returns where it stands.
    """

    start: Callable[[bool], Standing]
    standing: Callable[[], Standing]


def _index(folder: Path, progress: Callable[[int, int], None]) -> IndexSummary:
    workspace = open_workspace(folder)
    return index_archives(workspace.archive_places, workspace.store, progress=progress)


def _audit_all(folder: Path) -> None:
    audit_workspace(open_workspace(folder))


def _ask_all(folder: Path) -> None:
    ask(open_workspace(folder))


def _audit(folder: Path) -> None:
    apart(_audit_all, folder, frames=_frames_in(folder))


def _ask(folder: Path) -> None:
    apart(_ask_all, folder, frames=_frames_in(folder))


def _frames_in(folder: Path) -> int:
    return sum(part.rows for part in load_manifest(place_at(open_workspace(folder).store).within("frames")).parts)


def workspace_job(folder: Path, index: Index = _index, audit: Step = _audit, question: Step = _ask) -> Job:
    """
    Return the job that reads a workspace's archives and audits what it holds.

    Parameters
    ----------
    folder : Path
        The workspace.
    index, audit, question : callable
        What is run, in this order; a test gives its own.
    """
    lock = threading.Lock()
    held = [Standing()]

    def start(reading_first: bool) -> Standing:
        with lock:
            if not held[0].is_running:
                held[0] = Standing("reading" if reading_first else "auditing", since_s=time.monotonic())
                threading.Thread(target=run, args=(reading_first,), name="job", daemon=True).start()
            return held[0]

    def told(done: int, total: int) -> None:
        held[0] = replace(held[0], done=done, total=total)

    def run(reading_first: bool) -> None:
        try:
            said = _read_in_words(index(folder, told)) if reading_first else ""
            held[0] = Standing("auditing", since_s=time.monotonic())
            audit(folder)
            held[0] = Standing("asking", since_s=time.monotonic())
            question(folder)
            held[0] = Standing("done", said=f"{said} The audit is new.".strip())
        except SteadykeepError as error:
            held[0] = Standing("failed", said=str(error))
        except Exception as error:
            held[0] = Standing(
                "failed", said=f"It ended in a way the program does not know: {error!r}. Please report it."
            )

    return Job(start=start, standing=lambda: held[0])


def _read_in_words(summary: IndexSummary) -> str:
    parts = [count_of(summary.frames, "frame")]
    parts += [
        f"{number} {word}"
        for number, word in ((summary.new, "new"), (summary.changed, "changed"), (summary.gone, "gone"))
        if number
    ]
    return f"{', '.join(parts)}; read in {summary.seconds:.0f} s."


def progress_in_words(standing: Standing, now_s: float) -> str:
    """
    Say where a job stands, with speed and time left while it reads.

    Examples
    --------
    >>> progress_in_words(Standing("reading", done=500, total=2000, since_s=100.0), now_s=105.0)
    '500 of 2 000 frames read, 100 a second, about 15 s left.'
    >>> progress_in_words(Standing("reading", total=800), now_s=1.0)
    'Looking through the archives: 800 frames found so far.'
    """
    if standing.stage == "reading":
        if not standing.done:
            return f"Looking through the archives: {count_of(standing.total, 'frame')} found so far."
        rate = standing.done / max(now_s - standing.since_s, 0.1)
        left_s = (standing.total - standing.done) / rate
        left = f"{left_s:.0f} s" if left_s < 90 else f"{left_s / 60:.0f} min"
        return f"{standing.done} of {count_of(standing.total, 'frame')} read, {rate:,.0f} a second, about {left} left."
    if standing.stage == "auditing":
        return "Working out lens, setting and shake of each frame."
    if standing.stage == "asking":
        return "Looking for the questions whose answers settle the most."
    return standing.said
