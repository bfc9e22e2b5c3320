"""Measuring a workspace of pictures drawn for it: what is decoded, what is kept, scenes, pairs and interruptions."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from PIL import Image

from auditor.errors import InputError, MissingExtra, WorkspaceError
from auditor.model.tables import MEASURES, OVERLAPS
from auditor.model.tried import COMPARING
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline import looking, measuring
from auditor.pipeline.auditing import to_frame
from auditor.pipeline.indexing import index_archives
from auditor.pipeline.looking import OverlapTask, PixelFile, look_at, overlaps_of, work_through
from auditor.pipeline.measuring import measure_workspace
from auditor.pipeline.overlapping import measure_pair
from auditor.storage.datasets import read_table, replace_table
from tests.kits import KIT_TEXT
from tests.pipeline.crashing import crash
from tests.vision.pictures import disc, squares
from tests.vision.test_focal_ratio import view


def write(place: Path, picture: np.ndarray, when: str = "", iso: int = 200, model: str = "Silverline 2") -> None:
    """Write a JPEG as a body without contacts would: no lens, no aperture."""
    exif = Image.Exif()
    exif[0x0110] = model
    details = exif.get_ifd(0x8769)
    if when:
        details[0x9003] = when
    details[0x8827] = iso
    exif[0x8769] = details
    place.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(np.clip(np.round(picture), 0, 255).astype(np.uint8)).save(place, quality=92, exif=exif)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an archive: a burst of three, a pair across a lens change, a wall, and a file that is no picture."""
    archive = tmp_path_factory.mktemp("drawn")
    burst = (squares(768), squares(768, disc(9)), squares(768, disc(5)))
    for number, picture in enumerate(burst):
        write(archive / f"burst-{number}.jpg", picture, f"2026:05:02 10:00:0{number}")
    write(archive / "wide.jpg", view(1300.0), "2026:05:02 11:00:00")
    write(archive / "long.jpg", view(2080.0, pan=0.05), "2026:05:02 11:01:00")
    write(archive / "wall.jpg", np.full((800, 1000), 120.0), "2026:05:02 12:00:00")
    whole = (archive / "wall.jpg").read_bytes()
    (archive / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    return archive


@pytest.fixture
def workspace(tmp_path: Path, drawn: Path) -> Workspace:
    (tmp_path / "kit.toml").write_text(KIT_TEXT)
    (tmp_path / "settings.toml").write_text(f'[archives]\nmain = "{drawn.as_posix()}"\n')
    opened = open_workspace(tmp_path)
    index_archives(opened.archives, opened.store)
    return opened


def measures(workspace: Workspace) -> pd.DataFrame:
    return to_frame(read_table(workspace.store, "measures")).set_index("path")


def test_a_workspace_is_measured(workspace: Workspace) -> None:
    told: list[tuple[int, int]] = []
    summary = measure_workspace(workspace, jobs=1, progress=lambda done, total: told.append((done, total)))
    found = measures(workspace)
    assert list(read_table(workspace.store, "measures").schema.names) == MEASURES.names
    assert (summary.frames, summary.decoded, summary.unreadable) == (7, 7, 1)
    assert told[-1] == (7, 7)
    assert len(found) == 7
    assert found.loc["burst-0.jpg", "blur_kind"] == "sharp"
    assert found.loc["burst-1.jpg", "blur_kind"] == "missed-focus"
    assert found.loc["burst-0.jpg", "edge_width_px"] < found.loc["burst-1.jpg", "edge_width_px"]
    assert found.loc["wall.jpg", "blur_kind"] == "unknown"
    assert pd.isna(found.loc["wall.jpg", "edge_width_px"])
    assert found.loc["cut.jpg", "problem"] == "the file is cut short"
    assert found.loc["cut.jpg", "blur_kind"] == "unknown"


def test_a_scene_ranks_its_frames_and_only_its_frames(workspace: Workspace) -> None:
    measure_workspace(workspace, jobs=1)
    found = measures(workspace)
    scene = found.loc[["burst-0.jpg", "burst-1.jpg", "burst-2.jpg"]]
    assert set(scene["scene"]) == {"main/burst-0.jpg"}
    assert scene.loc["burst-0.jpg", "sharpness_in_scene"] == 1.0
    assert scene.loc["burst-1.jpg", "sharpness_in_scene"] < scene.loc["burst-2.jpg", "sharpness_in_scene"] < 0.88
    alone = found.loc["wall.jpg"]
    assert alone["scene"] == "main/wall.jpg"
    assert pd.isna(alone["sharpness_in_scene"])


def test_a_pair_across_a_pause_shows_the_other_lens(workspace: Workspace) -> None:
    summary = measure_workspace(workspace, jobs=1)
    pairs = to_frame(read_table(workspace.store, "overlaps")).set_index(["path_a", "path_b"])
    assert list(read_table(workspace.store, "overlaps").schema.names) == OVERLAPS.names
    assert summary.pairs == len(pairs) == 1
    row = pairs.loc[("wide.jpg", "long.jpg")]
    assert row["focal_ratio"] == pytest.approx(1.6, rel=0.01)
    assert row["focal_ratio_low"] < 1.6 < row["focal_ratio_high"]
    assert row["overlap_verdict"] == "another"


def test_unchanged_files_are_not_decoded_again(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    measure_workspace(workspace, jobs=1)
    before = measures(workspace)

    def never(task: object) -> None:
        raise AssertionError(task)

    monkeypatch.setattr(measuring, "look_at", never)
    monkeypatch.setattr("auditor.pipeline.overlapping.overlaps_of", never)
    summary = measure_workspace(workspace, jobs=1)
    assert summary.decoded == 0
    assert summary.measured > 0
    pd.testing.assert_frame_equal(measures(workspace), before)


def test_some_frames_only(workspace: Workspace, drawn: Path) -> None:
    summary = measure_workspace(workspace, only=["wall.jpg", "main/wide.jpg", str(drawn / "burst-0.jpg")], jobs=1)
    assert (summary.frames, summary.decoded) == (3, 3)
    assert sorted(measures(workspace).index) == ["burst-0.jpg", "wall.jpg", "wide.jpg"]
    with pytest.raises(InputError, match="nowhere") as refused:
        measure_workspace(workspace, only=["nowhere.jpg", "no/where.jpg"], jobs=1)
    assert len(refused.value.problems) == 2


def test_nothing_indexed_is_said(tmp_path: Path) -> None:
    (tmp_path / "kit.toml").write_text(KIT_TEXT)
    with pytest.raises(WorkspaceError, match="steadykeep index"):
        measure_workspace(open_workspace(tmp_path))


def test_an_interruption_keeps_what_is_done(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = 0

    def interrupted(file: PixelFile) -> dict[str, object]:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise KeyboardInterrupt
        return look_at(file)

    monkeypatch.setattr(measuring, "look_at", interrupted)
    with pytest.raises(KeyboardInterrupt):
        measure_workspace(workspace, jobs=1)
    assert len(measures(workspace)) == 2
    monkeypatch.setattr(measuring, "look_at", look_at)
    assert measure_workspace(workspace, jobs=1).decoded == 5


def test_two_processes_give_the_same(workspace: Workspace) -> None:
    measure_workspace(workspace, jobs=1)
    before = measures(workspace).sort_index()
    for folder in ("looks", "measures", "overlaps"):
        for part in (workspace.store / folder).iterdir():
            part.unlink()
    measure_workspace(workspace, jobs=2)
    pd.testing.assert_frame_equal(measures(workspace).sort_index(), before)


def test_many_small_commits_become_few_parts(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("auditor.pipeline.looks_store._COMMIT_ROWS", 1)
    monkeypatch.setattr("auditor.pipeline.looks_store._MOST_PARTS", 3)
    measure_workspace(workspace, jobs=1)
    assert len(list((workspace.store / "looks").glob("part-*"))) <= 4
    assert len(measures(workspace)) == 7
    assert measure_workspace(workspace, jobs=1).decoded == 0


def test_one_pair_on_request(workspace: Workspace) -> None:
    row = measure_pair(workspace, "long.jpg", "main/wide.jpg")
    assert row["focal_ratio"] == pytest.approx(1 / 1.6, rel=0.01)
    assert read_table(workspace.store, "overlaps").num_rows == 1
    row = measure_pair(workspace, "cut.jpg", "wide.jpg")
    assert (row["overlap_verdict"], row["problem"]) == ("unknown", "the file is cut short")
    with pytest.raises(InputError, match="nowhere"):
        measure_pair(workspace, "nowhere.jpg", "wide.jpg")


def counted_pairs(monkeypatch: pytest.MonkeyPatch) -> list[OverlapTask]:
    """Return a list that grows by every task of pairs; no frame is measured from here on."""
    tasks: list[OverlapTask] = []

    def counting(task: OverlapTask) -> list[dict[str, object]]:
        tasks.append(task)
        return overlaps_of(task)

    def never(file: PixelFile) -> dict[str, object]:
        raise AssertionError(file)

    monkeypatch.setattr("auditor.pipeline.overlapping.overlaps_of", counting)
    monkeypatch.setattr(measuring, "look_at", never)
    return tasks


def old_answer(workspace: Workspace) -> None:
    """Put an answer in the store that a comparing of today would not give."""
    [row] = read_table(workspace.store, "overlaps").to_pylist()
    row["focal_ratio"], row["overlap_verdict"] = 9.0, "another"
    replace_table(workspace.store, "overlaps", pa.Table.from_pylist([row], schema=OVERLAPS))


@pytest.mark.parametrize("before", ["none", "another comparing", "another table version"])
def test_another_comparing_tries_the_pairs_anew_and_measures_no_frame(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch, before: str
) -> None:
    measure_workspace(workspace, jobs=1)
    tried = workspace.store / "tried"
    if before == "none":  # a store from before such notes were kept
        shutil.rmtree(tried)
    elif before == "another comparing":
        monkeypatch.setattr("auditor.pipeline.overlapping.COMPARING", COMPARING + 1)
    else:
        manifest = tried / "_manifest.json"
        manifest.write_text(manifest.read_text().replace('"schema_version": 1', '"schema_version": 9'))
    old_answer(workspace)
    tasks = counted_pairs(monkeypatch)
    summary = measure_workspace(workspace, jobs=1)
    assert (summary.decoded, summary.pairs, summary.pairs_anew) == (0, 1, 1)
    assert [len(task.pairs) for task in tasks] == [1]
    [row] = read_table(workspace.store, "overlaps").to_pylist()
    assert row["focal_ratio"] == pytest.approx(1.6, rel=0.01)
    assert measure_workspace(workspace, jobs=1).pairs_anew == 0
    assert len(tasks) == 1  # once is enough


def test_an_interruption_leaves_the_pairs_that_were_not_tried_anew(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_workspace(workspace, jobs=1)
    shutil.rmtree(workspace.store / "tried")
    old_answer(workspace)

    def interrupted(task: OverlapTask) -> list[dict[str, object]]:
        raise KeyboardInterrupt

    monkeypatch.setattr("auditor.pipeline.overlapping.overlaps_of", interrupted)
    with pytest.raises(KeyboardInterrupt):
        measure_workspace(workspace, jobs=1)
    [row] = read_table(workspace.store, "overlaps").to_pylist()
    assert row["focal_ratio"] == 9.0  # what was known is kept until it is known better
    tasks = counted_pairs(monkeypatch)
    measure_workspace(workspace, jobs=1)
    assert len(tasks) == 1


def test_an_interruption_after_a_changed_file_was_measured_leaves_no_old_answer(
    workspace: Workspace, drawn: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_workspace(workspace, jobs=1)
    changed = (drawn / "wide.jpg").stat().st_mtime_ns + 5_000_000_000
    os.utime(drawn / "wide.jpg", ns=(changed, changed))
    index_archives(workspace.archives, workspace.store)

    def interrupted(task: OverlapTask) -> list[dict[str, object]]:
        raise KeyboardInterrupt

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr("auditor.pipeline.overlapping.overlaps_of", interrupted)
        with pytest.raises(KeyboardInterrupt):
            measure_workspace(workspace, jobs=1)
    tasks = counted_pairs(monkeypatch)
    assert measure_workspace(workspace, jobs=1).decoded == 0  # its measures were kept
    assert len(tasks) == 1


def test_a_pair_on_request_counts_as_tried(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    measure_workspace(workspace, jobs=1)
    shutil.rmtree(workspace.store / "tried")
    measure_pair(workspace, "wide.jpg", "long.jpg")
    tasks = counted_pairs(monkeypatch)
    measure_workspace(workspace, jobs=1)
    assert tasks == []


def test_a_process_that_ends_costs_its_file_only() -> None:
    answers = sorted(work_through(crash, list(range(6)), lambda number, why: -number, jobs=2))
    assert answers == [-3, 0, 10, 20, 40, 50]


@pytest.mark.filterwarnings("ignore")  # the cluster's own, on being taken down
def test_a_cluster_gives_the_same() -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, silence_logs=50
    ) as cluster:
        answers = work_through(crash, [1, 2, 4], lambda number, why: -number, cluster=cluster.scheduler_address)
        assert sorted(answers) == [10, 20, 40]


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_that_is_not_there_is_named() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(InputError, match="no-such-place"):
        list(work_through(crash, [1], lambda number, why: -number, cluster="tcp://no-such-place.invalid:1"))


def test_the_extra_for_a_cluster_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MissingExtra, match=r"steadykeep\[cluster\]"):
        list(work_through(crash, [1], lambda number, why: -number, cluster="tcp://somewhere:1"))


def test_memory_that_runs_out_is_a_problem_of_the_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    def none_left(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(looking, "read_pixels", none_left)
    row = look_at(PixelFile("main", "a.jpg", "a.jpg", "jpeg", 1, 2, 3))
    assert "memory" in row["problem"]


@pytest.mark.parametrize("size", [(1, 1), (2, 9), (8, 8), (17, 900), (30, 30)])
def test_a_picture_too_small_to_be_measured_says_so(tmp_path: Path, size: tuple[int, int]) -> None:
    place = tmp_path / "small.jpg"
    write(place, np.full(size, 120.0))
    row = look_at(PixelFile("main", "small.jpg", str(place), "jpeg", 0, 0, size[0] * size[1]))
    assert row["problem"] == "the picture is too small to be measured"
    assert row["blur_kind"] == "unknown"


def test_whatever_goes_wrong_with_a_picture_costs_its_row_only(drawn: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def puzzled(*_: object, **__: object) -> None:
        raise cv2.error("an assertion of the library failed")

    monkeypatch.setattr(looking, "read_pixels", puzzled)
    one, other = (PixelFile("main", name, str(drawn / name), "jpeg", 0, 0, 700_000) for name in ("a.jpg", "b.jpg"))
    assert "please report" in look_at(one)["problem"]
    pair = overlaps_of(OverlapTask(((one, other, 1.3),)))[0]
    assert (pair["overlap_verdict"], "please report" in pair["problem"]) == ("unknown", True)


def test_real_camera_files_are_all_measured_or_say_why(tmp_path: Path, real_frames: Path) -> None:
    (tmp_path / "kit.toml").write_text(KIT_TEXT)
    (tmp_path / "settings.toml").write_text(f'[archives]\nmain = "{real_frames.as_posix()}"\n')
    opened = open_workspace(tmp_path)
    summary = index_archives(opened.archives, opened.store)
    measure_workspace(opened)
    found = measures(opened)
    assert len(found) == summary.frames
    unknown = found[found["edge_width_px"].isna()]
    assert not found["problem"].fillna("").str.contains("please report|reading process").any()
    assert len(unknown) < 0.5 * len(found), unknown["problem"].value_counts()


def test_each_file_of_some_pairs_is_decoded_once(drawn: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read = []
    plain = looking.read_pixels

    def counted(place: Path, *rest: object, **options: object) -> object:
        read.append(place.name)
        return plain(place, *rest, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(looking, "read_pixels", counted)
    wide, long = (
        PixelFile("main", name, str(drawn / name), "jpeg", 0, 0, 700_000) for name in ("wide.jpg", "long.jpg")
    )
    overlaps_of(OverlapTask(((wide, long, 1.3), (long, wide, 1.3))))
    assert sorted(read) == ["long.jpg", "wide.jpg"]


@pytest.fixture(autouse=True)
def one_thread() -> Iterator[None]:
    before = cv2.getNumThreads()
    yield
    cv2.setNumThreads(before)
