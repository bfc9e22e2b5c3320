"""``measure`` as a user meets it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from auditor.cli.app import main
from auditor.pipeline.indexing import index_archives
from tests.kits import KIT_TEXT
from tests.pipeline.test_measuring import write
from tests.vision.pictures import disc, squares
from tests.vision.test_focal_ratio import view


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    archive, workspace = tmp_path_factory.mktemp("archive"), tmp_path_factory.mktemp("workspace")
    write(archive / "a/sharp.jpg", squares(640), "2026:05:02 10:00:00")
    write(archive / "a/soft.jpg", squares(640, disc(9)), "2026:05:02 10:00:01")
    write(archive / "wide.jpg", view(1300.0), "2026:05:02 11:00:00")
    write(archive / "long.jpg", view(2080.0, pan=0.05), "2026:05:02 11:01:00")
    (archive / "torn.jpg").write_bytes((archive / "wide.jpg").read_bytes()[:30000])
    (workspace / "kit.toml").write_text(KIT_TEXT)
    (workspace / "settings.toml").write_text(f'[archives]\nmain = "{archive.as_posix()}"\n')
    index_archives({"main": archive}, workspace / "store")
    return workspace


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    capsys.readouterr()
    assert main([*arguments, "--json"]) == 0
    return dict(json.loads(capsys.readouterr().out))


def test_json_counts(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "measure", str(measured), "--jobs", "1")
    assert found["frames"] == 5
    assert found["unreadable"] == 1
    assert found["measured"] == 4
    assert found["pairs"] == 1
    assert document(capsys, "measure", str(measured), "--jobs", "1")["decoded"] == 0


def test_words(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", str(measured), "--jobs", "1"]) == 0
    said = capsys.readouterr().out
    assert "5 frames" in said
    assert "could not be decoded" in said
    assert "out of focus everywhere" in said
    assert main(["measure", str(measured), "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_pairs_that_an_older_version_compared_are_said(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["measure", str(measured), "--jobs", "1"])
    assert "anew" not in capsys.readouterr().out
    shutil.rmtree(measured / "store" / "tried")
    main(["measure", str(measured), "--jobs", "1"])
    assert "1  of them anew" in capsys.readouterr().out


def test_some_frames(measured: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    several = document(capsys, "measure", str(measured), "--only", "wide.jpg", "a/soft.jpg")
    assert several["frames"] == 2
    twice = document(capsys, "measure", str(measured), "--only", "wide.jpg", "--only", "a/soft.jpg")
    assert twice["frames"] == 2
    monkeypatch.chdir(measured)
    assert document(capsys, "measure", "--only", "wide.jpg", "a/soft.jpg")["frames"] == 2


def test_one_pair(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "measure", str(measured), "--pair", "wide.jpg", "long.jpg")
    assert found["pairs"] == 1
    assert found["focal_ratio"] == pytest.approx(1.6, rel=0.01)
    assert main(["measure", str(measured), "--pair", "wide.jpg", "a/soft.jpg"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Cannot be told: no overlap found")
    assert "nan" not in said


def test_a_path_that_is_not_indexed_is_one_message(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", str(measured), "--only", "nowhere.jpg"]) == 1
    said = capsys.readouterr().err
    assert "nowhere.jpg" in said
    assert "Traceback" not in said


def test_help_ends_with_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", "--help"]) == 0
    assert "Example: steadykeep measure" in capsys.readouterr().out.strip().splitlines()[-1]
