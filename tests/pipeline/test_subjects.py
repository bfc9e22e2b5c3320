"""A made scene through which something walks: what `measure` says of it, and that it is compared only once."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest

from auditor.model.subjects import SUBJECTS
from auditor.model.tables import MEASURES
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline import subjects as subjects_module
from auditor.pipeline.auditing import to_frame
from auditor.pipeline.indexing import index_archives
from auditor.pipeline.looking import PixelFile
from auditor.pipeline.looks_store import PrivateTable
from auditor.pipeline.measuring import measure_workspace
from auditor.pipeline.subjects import Beside, SiblingTask, subjects_of, with_subjects
from auditor.readers.problems import Problem
from auditor.storage.datasets import read_table
from auditor.storage.places import place_at
from tests.kits import KIT_TEXT
from tests.pipeline.test_measuring import write
from tests.vision.pictures import leaves, level_motion, someone


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an archive: something walks through a scene and is drawn out in the second frame; a wall, alone."""
    archive = tmp_path_factory.mktemp("walk")
    height_px, width_px = 1500, 2000
    hill = np.linspace(-60, 60, width_px, dtype=np.float32)[None, :] * np.linspace(1, 0.2, height_px)[:, None]
    scene = leaves(height_px, width_px)
    frames = {
        "walk-0.jpg": someone(scene, (600, 700)),
        "walk-1.jpg": someone(scene, (1000, 720), level_motion(24)),
        "walk-2.jpg": someone(scene, (1450, 740)),
        "walk-3.jpg": scene,
    }
    random = np.random.default_rng(4)
    for number, (name, light) in enumerate(frames.items()):
        noisy = 0.7 * light + 40 + hill + random.normal(0, 1.2, light.shape)
        write(archive / name, noisy, f"2026:05:02 10:00:0{2 * number}")
    write(archive / "wall.jpg", np.full((800, 1000), 120.0), "2026:05:02 12:00:00")
    return archive


@pytest.fixture
def workspace(tmp_path: Path, walk: Path) -> Workspace:
    copy = tmp_path / "photos"
    copy.mkdir()
    for one in walk.iterdir():
        (copy / one.name).write_bytes(one.read_bytes())
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "kit.toml").write_text(KIT_TEXT)
    (folder / "settings.toml").write_text(f'[archives]\nmain = "{copy.as_posix()}"\n')
    opened = open_workspace(folder)
    index_archives(opened.archives, opened.store)
    return opened


def kinds(workspace: Workspace) -> dict[str, str]:
    found = to_frame(read_table(workspace.store, "measures"))
    assert list(found.columns) == MEASURES.names
    return dict(zip(found["path"], found["blur_kind"], strict=True))


MOVED = {
    "walk-0.jpg": "sharp",
    "walk-1.jpg": "subject-moved",
    "walk-2.jpg": "sharp",
    "walk-3.jpg": "sharp",
    "wall.jpg": "unknown",
}


def test_the_subject_that_walked_is_found_and_the_sharp_frames_beside_it_are_not_accused(workspace: Workspace) -> None:
    told: list[tuple[int, int]] = []
    summary = measure_workspace(workspace, jobs=1, progress=lambda done, total: told.append((done, total)))
    assert kinds(workspace) == MOVED
    assert (summary.decoded, summary.compared) == (5, 4)
    assert summary.by_kind["subject-moved"] == 1
    assert told[-1] == (9, 9)
    row = to_frame(read_table(workspace.store, "measures")).set_index("path").loc["walk-1.jpg"]
    assert 0.9 < row["blur_confidence"] <= 1
    assert pd.isna(row["shake_direction_deg"])  # the camera did not shake


def test_frames_are_compared_once_and_again_when_a_neighbour_changes(workspace: Workspace) -> None:
    measure_workspace(workspace, jobs=1)
    assert measure_workspace(workspace, jobs=1).compared == 0
    assert kinds(workspace) == MOVED
    lost = Path(workspace.archives["main"]) / "walk-3.jpg"
    lost.unlink()
    index_archives(workspace.archives, workspace.store)
    again = measure_workspace(workspace, jobs=1)
    assert (again.decoded, again.compared) == (0, 2)  # those of which it was a neighbour
    assert kinds(workspace) == {name: kind for name, kind in MOVED.items() if name != "walk-3.jpg"}


def test_a_frame_alone_is_not_accused(workspace: Workspace) -> None:
    summary = measure_workspace(workspace, only=["walk-1.jpg"], jobs=1)
    assert summary.compared == 0
    assert kinds(workspace)["walk-1.jpg"] in ("sharp", "unknown")
    assert measure_workspace(workspace, jobs=1).compared == 4
    assert kinds(workspace) == MOVED


def test_two_processes_tell_the_same(workspace: Workspace) -> None:
    measure_workspace(workspace, jobs=2)
    assert kinds(workspace) == MOVED


def test_an_interruption_keeps_what_was_compared(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subjects_module, "_PAIRS_A_TASK", 1)
    calls = 0

    def interrupted(task: SiblingTask) -> list[dict[str, object]]:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise KeyboardInterrupt
        return subjects_of(task)

    monkeypatch.setattr(subjects_module, "subjects_of", interrupted)
    with pytest.raises(KeyboardInterrupt):
        measure_workspace(workspace, jobs=1)
    assert kinds(workspace) == MOVED  # the second was compared; the measures tell of it
    monkeypatch.setattr(subjects_module, "subjects_of", subjects_of)
    assert measure_workspace(workspace, jobs=1).compared == 2


def test_what_one_frame_alone_says_of_a_moved_subject_is_not_repeated(workspace: Workspace) -> None:
    measure_workspace(workspace, jobs=1)
    place = place_at(workspace.store)
    subjects = PrivateTable(place, SUBJECTS)
    row = {"archive": "main", "path": "walk-0.jpg", "blur_kind": "subject-moved", "blur_confidence": 0.7}
    assert with_subjects(row, subjects)["blur_kind"] == "unknown"
    assert with_subjects(row, subjects)["blur_confidence"] is None
    assert with_subjects(row | {"path": "walk-1.jpg"}, subjects)["blur_kind"] == "subject-moved"
    assert with_subjects(row | {"path": "walk-1.jpg", "blur_kind": "shake"}, subjects)["blur_kind"] == "shake"
    assert with_subjects(row | {"blur_kind": "sharp"}, subjects)["blur_confidence"] == 0.7


def pixel_file(place: Path) -> PixelFile:
    return PixelFile("main", place.name, str(place), "jpeg", place.stat().st_size, 0, 3_000_000)


def test_a_file_that_went_bad_meanwhile_costs_one_reason(workspace: Workspace) -> None:
    folder = Path(workspace.archives["main"])
    cut = folder / "walk-0.jpg"
    cut.write_bytes(cut.read_bytes()[:20_000])
    names = ("walk-0.jpg", "walk-1.jpg", "walk-2.jpg")
    first, second, third = (pixel_file(folder / name) for name in names)
    rows = subjects_of(SiblingTask((Beside(first, second, "a"), Beside(second, third, "b"), Beside(third, first, "c"))))
    assert [bool(row.get("problem")) for row in rows] == [True, False, True]
    assert [row["moved"] for row in rows] == [False, True, False]
    assert [row["sibling"] for row in rows] == ["main/walk-1.jpg", "main/walk-2.jpg", "main/walk-0.jpg"]


@pytest.mark.parametrize(("failure", "reason"), [(MemoryError, "memory"), (ValueError, Problem.NOT_UNDERSTOOD.value)])
def test_whatever_goes_wrong_costs_one_reason(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch, failure: type[Exception], reason: str
) -> None:
    def fails(*_: object, **__: object) -> None:
        raise failure

    monkeypatch.setattr(subjects_module, "read_pixels", fails)
    file = pixel_file(Path(workspace.archives["main"]) / "walk-0.jpg")
    (row,) = subjects_of(SiblingTask((Beside(file, file, "a"),)))
    assert reason in str(row["problem"])
    assert row["moved"] is False


def test_a_process_that_ends_costs_its_frames_one_reason() -> None:
    file = PixelFile("main", "a.jpg", "a.jpg", "jpeg", 1, 1, 1)
    (row,) = subjects_module._failed(SiblingTask((Beside(file, file, "a"),)), "the reader ended")
    assert (row["problem"], row["moved"], row["beside"]) == ("the reader ended", False, "a")


def test_a_subject_on_a_large_frame_is_judged_at_half_size(workspace: Workspace, tmp_path: Path) -> None:
    folder = Path(workspace.archives["main"])
    files = []
    for name in ("walk-1.jpg", "walk-2.jpg"):
        grey = cv2.imread(str(folder / name), cv2.IMREAD_GRAYSCALE)
        large = tmp_path / name
        cv2.imwrite(str(large), cv2.resize(grey, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC))
        files.append(PixelFile("main", name, str(large), "jpeg", large.stat().st_size, 0, 12_000_000))
    (row,) = subjects_of(SiblingTask((Beside(files[0], files[1], "a"),)))
    assert row["moved"] is True
