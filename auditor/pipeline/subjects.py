"""Set frames beside a sibling of about the same moment, to find subjects that moved while the shutter was open."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from auditor.audit.siblings import around, sibling_of
from auditor.model.looks import METHOD
from auditor.model.subjects import SUBJECT_METHOD
from auditor.pipeline.looking import PixelFile, work_through
from auditor.pipeline.looks_store import PrivateTable
from auditor.readers.pixels import Undecodable, read_pixels
from auditor.readers.problems import Problem

if TYPE_CHECKING:  # OpenCV is not needed to name it
    from auditor.vision.change import Reduced

__all__ = ["Beside", "Means", "SiblingTask", "compare_siblings", "small_picture_of", "subjects_of", "with_subjects"]

_PAIRS_A_TASK = 8
_MAY_HAVE_MOVED = ("sharp", "unknown", "subject-moved")


class Beside(NamedTuple):
    """A frame, the sibling that it is set beside, and the digest that says when this no longer holds."""

    frame: PixelFile
    sibling: PixelFile
    digest: str


class Means(NamedTuple):
    """How the work is done: processes, the address of a cluster, and who is told (done, of how many)."""

    jobs: int | None
    cluster: str | None
    progress: Callable[[int, int], None]


class SiblingTask(NamedTuple):
    """Frames to set beside their siblings, in the order of shooting: each small picture is decoded once."""

    pairs: tuple[Beside, ...]


def compare_siblings(
    files: Sequence[PixelFile],
    known: pd.DataFrame,
    looks: PrivateTable,
    subjects: PrivateTable,
    means: Means,
) -> int:
    """
    Set the frames that are new, or have new neighbours, beside their siblings, and keep what that tells.

    Parameters
    ----------
    files : sequence of PixelFile
        Of the frames, in their order.
    known : DataFrame
        The frames with what the audit knows of them.
    looks, subjects : PrivateTable
        What was measured, and what this adds to.
    means : Means

    Returns
    -------
    int
        How many frames were decoded for it.
    """
    pairs: list[Beside] = []
    try:
        for beside, digest in _to_compare(files, known, looks, subjects):
            if isinstance(beside, Beside):
                pairs.append(beside)
            else:
                subjects.add(_row(beside, digest))
        tasks = [SiblingTask(tuple(pairs[at : at + _PAIRS_A_TASK])) for at in range(0, len(pairs), _PAIRS_A_TASK)]
        _work(tasks, len(pairs), subjects, means)
    finally:
        subjects.flush()
    return len(pairs)


def _to_compare(
    files: Sequence[PixelFile], known: pd.DataFrame, looks: PrivateTable, subjects: PrivateTable
) -> Iterator[tuple[Beside | PixelFile, str]]:
    """Yield what is not known yet: frames with their siblings, and frames that have none; each with its digest."""
    rows = [looks.rows.get((file.archive, file.path)) for file in files]
    pictures = [small_picture_of(row) if row else None for row in rows]
    kinds = [str(row["blur_kind"]) if row else "unknown" for row in rows]
    for place, near in enumerate(around(known)):
        if pictures[place] is None or kinds[place] not in _MAY_HAVE_MOVED:
            continue
        digest = _digest([files[place], *(files[other] for other in near)])
        before = subjects.rows.get((files[place].archive, files[place].path))
        if before is None or before["beside"] != digest:
            sibling = sibling_of(place, near, pictures, kinds)
            yield files[place] if sibling is None else Beside(files[place], files[sibling], digest), digest


def _work(tasks: list[SiblingTask], total: int, subjects: PrivateTable, means: Means) -> None:
    done = 0
    for rows in work_through(subjects_of, tasks, _failed, jobs=means.jobs, cluster=means.cluster):
        for row in rows:
            subjects.add(row)
        done += len(rows)
        means.progress(done, total)


def _digest(files: Sequence[PixelFile]) -> str:
    """Return what tells a frame and its neighbours, as their files are, from any others."""
    told = "\n".join(f"{file.archive}/{file.path} {file.size} {file.mtime_ns}" for file in files)
    return blake2b(f"{SUBJECT_METHOD} {METHOD}\n{told}".encode(errors="surrogateescape"), digest_size=12).hexdigest()


def _row(file: PixelFile, digest: str, **told: Any) -> dict[str, Any]:
    return {"archive": file.archive, "path": file.path, "beside": digest, "moved": False, **told}


def _failed(task: SiblingTask, why: str) -> list[dict[str, Any]]:
    return [_row(pair.frame, pair.digest, sibling=_name(pair.sibling), problem=why) for pair in task.pairs]


def _name(file: PixelFile) -> str:
    return f"{file.archive}/{file.path}"


def small_picture_of(row: dict[str, Any]) -> NDArray[np.uint8] | None:
    """Return the small picture that a row of the looks table holds."""
    content, width = row.get("small_picture"), row.get("small_width_px")
    return np.frombuffer(content, np.uint8).reshape(-1, width) if content and width else None


def subjects_of(task: SiblingTask) -> list[dict[str, Any]]:
    """
    Compare frames with their siblings: the work of a measuring process.

    Returns
    -------
    list of dict
        Rows of the subjects table, one a frame.
    """
    seen: dict[str, Reduced] = {}
    rows = []
    for pair in task.pairs:
        row = _row(pair.frame, pair.digest, sibling=_name(pair.sibling))
        try:
            row.update(_compared(pair, seen))
        except Undecodable as why:
            row.update(problem=str(why))
        except MemoryError:
            row.update(problem="the picture is too large for this computer's memory")
        except Exception:  # a bug of ours, or of a library, on one picture must not cost the others
            row.update(problem=Problem.NOT_UNDERSTOOD.value)
        rows.append(row)
    return rows


def _compared(pair: Beside, seen: dict[str, Reduced]) -> dict[str, Any]:
    """Return what a pair tells; the full picture is decoded only where something changed and the camera stood still."""
    from auditor.vision.change import change
    from auditor.vision.drawn_out import MOST_PX, drawn_out, load_rule

    found = change(_small(pair.frame, seen), _small(pair.sibling, seen))
    if found is None or not found.is_worth_a_look:
        return {}
    step = next((step for step in (1, 2, 4) if pair.frame.pixels / step**2 <= MOST_PX), 8)
    judged = drawn_out(read_pixels(Path(pair.frame.place), pair.frame.format, reduced=step).grey, found)
    rule = load_rule()
    return {"moved": judged.score >= rule.answer_from, "confidence": rule.confidence(judged.score)}


def _small(file: PixelFile, seen: dict[str, Reduced]) -> Reduced:
    from auditor.vision.change import COMPARED_SIDE_PX, reduced

    if file.place not in seen:
        step = next((step for step in (8, 4, 2) if file.pixels / step**2 >= _LEAST_SHARE * COMPARED_SIDE_PX**2), 1)
        seen[file.place] = reduced(read_pixels(Path(file.place), file.format, reduced=step).grey)
    return seen[file.place]


_LEAST_SHARE = 0.65  # of a square: a frame is wider than high


def with_subjects(looks: dict[str, Any], subjects: PrivateTable) -> dict[str, Any]:
    """
    Return a row of the looks table, in which a subject moved where its sibling shows that.

    What one frame alone says of a moved subject counts no more: it says it of panned frames too.
    """
    row = subjects.rows.get((looks["archive"], looks["path"]))
    if row is not None and row["moved"] and looks["blur_kind"] in _MAY_HAVE_MOVED:
        return looks | {"blur_kind": "subject-moved", "blur_confidence": row["confidence"]}
    if looks["blur_kind"] == "subject-moved":
        return looks | {"blur_kind": "unknown", "blur_confidence": None}
    return looks
