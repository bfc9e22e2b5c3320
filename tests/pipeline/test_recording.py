"""Sidecars over a whole archive: shown, written, written again, undone."""

from __future__ import annotations

import math
import os
import shutil
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from auditor.corrections.journal import Spot
from auditor.corrections.properties import LENS
from auditor.corrections.statements import statements
from auditor.errors import StoreError, WorkspaceError
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.recording import plan_sidecars
from auditor.pipeline.sidecar_files import sidecar_at
from auditor.pipeline.sidecar_journal import journal_folder
from auditor.pipeline.sidecar_showing import show_sidecars
from auditor.pipeline.sidecar_writing import undo_sidecars, write_sidecars
from auditor.storage.lock import StoreLocked, locked
from tests.corrections.toolkit import toolkit
from tests.pipeline.archives import XMP, audited, contents, workspace_of

NAMES = [f"day/{number:03d}.jpg" for number in range(6)]


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("laid-out")
    day = workspace_of(folder, NAMES).archives["main"] / "day"
    (day / "001.xmp").write_bytes(XMP)
    (day / "002.jpg.xmp").write_bytes(XMP)
    return folder


@pytest.fixture
def workspace(laid_out: Path, tmp_path: Path) -> Workspace:
    shutil.copytree(laid_out, tmp_path, dirs_exist_ok=True)
    settings = tmp_path / "workspace" / "settings.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace(str(laid_out), str(tmp_path)), encoding="utf-8")
    return open_workspace(tmp_path / "workspace")


def archive_of(workspace: Workspace) -> Path:
    return workspace.archives["main"]


def mirror_of(workspace: Workspace) -> Path:
    return workspace.folder / "sidecars" / "main"


def lens_in(path: Path) -> object:
    return statements(path.read_bytes()).get(LENS.key)


ORLA = ["Orla 50 mm f/1.4"]


def test_showing_writes_nothing_and_counts_what_writing_does(workspace: Workspace) -> None:
    before = contents(workspace.folder.parent)
    shown = show_sidecars(plan_sidecars(workspace))
    assert contents(workspace.folder.parent) == before
    assert shown.counts == {"new": 6}
    [run] = shown.runs.to_dict("records")
    assert (run["lens"], run["adapter"], run["sidecars"], run["new"]) == ("orla-50", "m42-plain", 6, 6)
    assert run["recorded"] == "50 mm"
    written = write_sidecars(workspace)
    assert written.counts == shown.counts
    assert written.runs.equals(shown.runs)


def test_the_mirror_takes_what_lies_beside_the_frame_along_and_the_archive_stays(workspace: Workspace) -> None:
    before = contents(archive_of(workspace))
    write_sidecars(workspace)
    assert contents(archive_of(workspace)) == before
    assert sorted(contents(mirror_of(workspace))) == [
        "day/000.xmp", "day/001.xmp", "day/002.jpg.xmp", "day/003.xmp", "day/004.xmp", "day/005.xmp",
    ]  # fmt: skip
    for name in ("001.xmp", "002.jpg.xmp"):
        said = statements((mirror_of(workspace) / "day" / name).read_bytes())
        assert said[("urn:theirs#", "crop")] == ["1, 2"]
        assert said[LENS.key] == ORLA
    assert show_sidecars(plan_sidecars(workspace)).counts == {"as-it-is": 6}


def test_beside_changes_only_sidecars_in_the_archive(workspace: Workspace) -> None:
    before = contents(archive_of(workspace))
    assert write_sidecars(workspace, beside=True).counts == {"new": 4, "changed": 2}
    after = contents(archive_of(workspace))
    differing = {name for name in {*before, *after} if before.get(name) != after.get(name)}
    assert {name.rpartition(".")[2] for name in differing} == {"xmp"}
    assert len(differing) == 6
    assert not mirror_of(workspace).exists()
    undone = undo_sidecars(workspace)
    assert (undone.put_back, undone.removed, undone.problems) == (2, 4, ())
    assert contents(archive_of(workspace)) == before


def test_undoing_leaves_the_workspace_as_it_was(workspace: Workspace) -> None:
    before = contents(workspace.folder)
    write_sidecars(workspace)
    write_sidecars(workspace, beside=True)
    undo_sidecars(workspace)
    assert contents(workspace.folder) == {**before, "journal/lock": b""}
    assert not (workspace.folder / "sidecars").exists()
    assert undo_sidecars(workspace).removed == 0


def test_a_sidecar_edited_since_is_left_and_said(workspace: Workspace) -> None:
    write_sidecars(workspace, beside=True)
    edited = archive_of(workspace) / "day" / "000.xmp"
    edited.write_bytes(edited.read_bytes().replace(b"</rdf:RDF>", b"<!-- theirs --></rdf:RDF>"))
    theirs = edited.read_bytes()
    undone = undo_sidecars(workspace)
    assert [problem for problem in undone.problems if "day/000.xmp: another program has changed it" in problem]
    assert len(undone.problems) == 1
    assert edited.read_bytes() == theirs
    assert undone.removed == 3
    edited.write_bytes(theirs.replace(b"<!-- theirs -->", b""))  # the edit is taken back: now it can be undone
    assert undo_sidecars(workspace).removed == 1


def test_another_programs_work_in_the_mirror_is_built_upon(workspace: Workspace) -> None:
    write_sidecars(workspace)
    mirrored = mirror_of(workspace) / "day" / "001.xmp"
    mirrored.write_bytes(mirrored.read_bytes().replace(b'their:crop="1, 2"', b'their:crop="3, 4"'))
    (archive_of(workspace) / "day" / "002.jpg.xmp").write_bytes(XMP.replace(b"1, 2", b"5, 6"))
    rename_lens(workspace)
    renamed = open_workspace(workspace.folder)
    assert write_sidecars(renamed).counts == {"changed": 6}
    # 001 was worked on in the mirror, 002 in the archive: each keeps the newer work.
    for name, crop in (("001.xmp", "3, 4"), ("002.jpg.xmp", "5, 6")):
        said = statements((mirror_of(workspace) / "day" / name).read_bytes())
        assert said[("urn:theirs#", "crop")] == [crop]
        assert said[LENS.key] == ["Orla fifty"]


def rename_lens(workspace: Workspace) -> None:
    kit = workspace.folder / "kit.toml"
    kit.write_text(kit.read_text(encoding="utf-8").replace("Orla 50 mm f/1.4", "Orla fifty"), encoding="utf-8")


@pytest.mark.parametrize("beside", [True, False], ids=["beside", "mirror"])
def test_what_is_not_sure_any_more_is_taken_back(workspace: Workspace, beside: bool) -> None:
    before = contents(archive_of(workspace))
    write_sidecars(workspace, beside=beside)
    (workspace.folder / "log.csv").write_text("start,body,lens\n", encoding="utf-8")
    settings = workspace.folder / "settings.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace("0.5", "1.0"), encoding="utf-8")
    unsure = audited(workspace.folder)
    assert write_sidecars(unsure, beside=beside).counts == {"taken-back": 6}
    assert not list(mirror_of(workspace).rglob("*.xmp"))
    now = contents(archive_of(workspace))
    assert now.keys() == before.keys()  # those that we made are gone again
    assert statements(now["day/001.xmp"]) == statements(XMP)
    undo_sidecars(unsure)
    assert contents(archive_of(workspace)) == before


def test_one_clear_line_for_each_sidecar_that_cannot_be_changed(workspace: Workspace) -> None:
    day = archive_of(workspace) / "day"
    bad = {
        "000.xmp": b"\xff\xd8 a picture",
        "001.xmp": b"<x:xmpmeta",
        "002.jpg.xmp": b'<!DOCTYPE b [<!ENTITY a "a">]>' + XMP,
        "003.xmp": b"",
    }
    for name, content in bad.items():
        (day / name).write_bytes(content)
    os.mkfifo(day / "004.xmp")
    shown = write_sidecars(workspace, beside=True)
    assert shown.counts == {"problem": 5, "new": 1}
    assert all("\n" not in line for line in shown.problems)
    lines = dict(zip(["000", "001", "002", "003", "004"], sorted(shown.problems), strict=True))
    assert "000.xmp: is not UTF-8" in lines["000"]
    assert "001.xmp: is not XML" in lines["001"]
    assert "holds a document type or entities" in lines["002"]
    assert "is empty" in lines["003"]
    assert "is not a file" in lines["004"]
    for name, content in bad.items():
        assert (day / name).read_bytes() == content
    assert lens_in(day / "005.xmp") == ORLA


@pytest.mark.skipif(sys.platform != "linux", reason="names on this system are text")
def test_a_name_that_is_not_utf_8_has_its_sidecar(tmp_path: Path) -> None:
    opened = workspace_of(tmp_path, ["day/plain.jpg"])
    odd = os.fsencode(archive_of(opened) / "day") + b"/caf\xe9.jpg"
    shutil.copy(archive_of(opened) / "day" / "plain.jpg", os.fsdecode(odd))
    opened = audited(opened.folder)
    shown = write_sidecars(opened)
    assert (shown.counts, shown.problems) == ({"new": 2}, ())
    assert (mirror_of(opened) / "day" / "caf\udce9.xmp").is_file()
    assert undo_sidecars(opened).removed == 2


def test_a_disk_that_fills_up_stops_one_sidecar_and_not_the_others(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system itself refuses: no file of this process may grow beyond a limit, and one sidecar is larger."""
    import resource
    import signal

    large = XMP.replace(b"1, 2", b"1" * 200_000)
    (archive_of(workspace) / "day" / "001.xmp").write_bytes(large)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        shown = write_sidecars(workspace, beside=True)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
    assert shown.counts == {"new": 4, "changed": 1, "problem": 1}
    assert "001.xmp: File too large; left as it is" in shown.problems[0]
    assert (archive_of(workspace) / "day" / "001.xmp").read_bytes() == large
    assert not list((archive_of(workspace) / "day").glob(".*"))


def test_a_journal_that_cannot_grow_stops_everything(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    import auditor.pipeline.sidecar_journal as journalling

    before = contents(archive_of(workspace))

    def is_full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(journalling.os, "fsync", is_full)
    with pytest.raises(StoreError, match=r"sidecars\.jsonl: the journal cannot be written \(No space left on device\)"):
        write_sidecars(workspace, beside=True)
    assert contents(archive_of(workspace)) == before
    assert (journal_folder(workspace) / "sidecars.jsonl").read_bytes() == b""  # nothing half-written stays in it


def test_a_folder_that_must_not_be_written_is_said(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    # A test may run as the system's owner, whom no mode keeps out: the refusal itself is put in.
    import auditor.pipeline.sidecar_writing as writing

    def refuses(path: Path, *_: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(writing, "_replace", refuses)
    shown = write_sidecars(workspace, beside=True)
    assert shown.counts == {"problem": 6}
    assert shown.problems[0] == "main/day/000.xmp: Permission denied; left as it is"


def test_an_edit_in_the_last_moment_wins(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    import auditor.pipeline.sidecar_writing as writing

    target = archive_of(workspace) / "day" / "001.xmp"
    theirs = XMP.replace(b"1, 2", b"7, 8")
    monkeypatch.setattr(writing.os, "fsync", lambda _handle: target.write_bytes(theirs))
    shown = write_sidecars(workspace, beside=True)
    assert "main/day/001.xmp: another program changed it just now; left as it is" in shown.problems
    assert target.read_bytes() == theirs


def test_a_torn_line_of_a_killed_run_is_dropped(workspace: Workspace) -> None:
    journal = journal_folder(workspace) / "sidecars.jsonl"
    journal.parent.mkdir()
    journal.write_bytes(b'{"where": "beside", "arch')
    before = contents(archive_of(workspace))
    write_sidecars(workspace, beside=True)
    assert len(journal.read_bytes().splitlines()) == 6
    undo_sidecars(workspace)
    assert contents(archive_of(workspace)) == before


def test_a_damaged_line_stops_before_anything_is_touched(workspace: Workspace) -> None:
    journal = journal_folder(workspace) / "sidecars.jsonl"
    journal.parent.mkdir()
    journal.write_bytes(b"{}\n")
    with pytest.raises(StoreError, match="line 1 is damaged"):
        write_sidecars(workspace)


def test_what_a_killed_run_left_unfinished_is_swept(workspace: Workspace) -> None:
    orphan = archive_of(workspace) / "day" / (".unfinished-" + "0" * 32)
    orphan.write_bytes(b"half")
    others = archive_of(workspace) / "day" / ".unfinished-symphony"
    others.write_bytes(b"not ours")
    write_sidecars(workspace, beside=True)
    assert not orphan.exists()
    assert others.exists()


def test_of_two_runs_the_second_is_told_who_holds_the_journal(workspace: Workspace) -> None:
    with locked(journal_folder(workspace)):
        for act in (write_sidecars, undo_sidecars):
            with pytest.raises(StoreLocked, match="is being written by"):
                act(workspace)


def test_an_archive_that_is_not_there(workspace: Workspace) -> None:
    write_sidecars(workspace, beside=True)
    archive_of(workspace).rename(workspace.folder.parent / "unplugged")
    with pytest.raises(WorkspaceError, match=r"archive main: .* is not there"):
        plan_sidecars(workspace)
    undone = undo_sidecars(workspace)
    assert len(undone.problems) == 6
    (workspace.folder.parent / "unplugged").rename(archive_of(workspace))
    assert undo_sidecars(workspace).removed == 4  # nothing was forgotten meanwhile


def test_an_archive_that_left_the_settings_is_not_forgotten(workspace: Workspace) -> None:
    write_sidecars(workspace, beside=True)
    settings = workspace.folder / "settings.toml"
    settings.write_text("[keep]\n", encoding="utf-8")
    undone = undo_sidecars(open_workspace(workspace.folder))
    assert "archive main is not in settings.toml any more" in undone.problems[0]


def test_a_workspace_inside_its_archive_has_no_mirror(tmp_path: Path) -> None:
    opened = workspace_of(tmp_path, NAMES[:1])
    settings = opened.folder / "settings.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace(str(tmp_path / "archive"), str(tmp_path)))
    with pytest.raises(WorkspaceError, match="lies inside the archive"):
        plan_sidecars(audited(opened.folder))


def test_a_frame_or_folder_that_is_gone(workspace: Workspace) -> None:
    (archive_of(workspace) / "day" / "000.jpg").unlink()
    assert show_sidecars(plan_sidecars(workspace), None).problems == (
        "main/day/000.jpg: the frame is not there any more; left as it is",
    )
    shutil.rmtree(archive_of(workspace) / "day")
    assert show_sidecars(plan_sidecars(workspace)).problems == (
        "main/day: the folder cannot be read (No such file or directory); left as it is",
    )


@pytest.mark.parametrize("name", ["..", "a/b", "/etc", "x\\y", "Zürich 2026"])
def test_an_archives_name_never_leads_out_of_the_mirror(workspace: Workspace, name: str) -> None:
    path = sidecar_at(workspace, Spot("mirror", name, "day/a.xmp"))
    mirror = workspace.folder / "sidecars"
    assert path.resolve().relative_to(mirror.resolve()).parts[1:] == ("day", "a.xmp")
    assert (name == "Zürich 2026") == ("Zürich 2026" in str(path))


def test_the_toolkit_reads_the_whole_samples_sidecars_with_the_values_put_in(own_workspace: Path) -> None:
    opened = open_workspace(own_workspace)  # its archive is the sample's own, and only read
    written = write_sidecars(opened)
    plan = plan_sidecars(opened)
    meant = {}
    for frame in plan.frames[plan.frames["left_because"].isna()].to_dict("records"):
        meant |= {frame["path"]: frame, frame["path"].rpartition(".")[0]: frame}
    sidecars = sorted((own_workspace / "sidecars" / "main").rglob("*.xmp"))
    assert len(sidecars) == written.counts["new"] > 100
    with toolkit() as exiv2:
        for path in sidecars:
            inside = path.relative_to(own_workspace / "sidecars" / "main").as_posix().removesuffix(".xmp")
            frame = meant[inside]
            lens = opened.kit.lens(frame["lens"])
            factor = math.prod(opened.kit.adapter(part).factor for part in frame["adapter"].split("+") if part)
            said = {key: value for key, _, value in exiv2.read(path.read_bytes())}
            assert said["Xmp.aux.Lens"] == said["Xmp.exifEX.LensModel"] == lens.name
            assert lens.is_zoom or float(Fraction(said["Xmp.exif.FocalLength"])) == pytest.approx(
                lens.true_focal_mm[0] * factor,
                abs=0.0501,  # written to a tenth
            )


def test_progress_is_told(workspace: Workspace) -> None:
    told: list[tuple[int, int]] = []
    write_sidecars(workspace, progress=lambda done, total: told.append((done, total)))
    undo_sidecars(workspace, lambda done, total: told.append((done, total)))
    assert told[0] == (6, 6)
    assert told[-1] == (6, 6)
