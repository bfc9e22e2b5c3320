from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.cli import main
from tests.pipeline.archives import contents, workspace_of


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return workspace_of(tmp_path, [f"{number:03d}.jpg" for number in range(30)]).folder


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["sidecar", *arguments]) == 0
    return capsys.readouterr().out


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    found = json.loads(said(capsys, *arguments, "--json"))
    assert isinstance(found, dict)
    return found


def test_it_shows_first_then_writes_then_undoes(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = contents(folder)
    shown = said(capsys, str(folder))
    assert "2026-05-02 10:00 to 10:04" in shown
    assert "Orla 50 mm f/1.4, M42 plain" in shown
    assert "Would be written in" in shown
    assert "30 new sidecars, 0 changed; 0 say so already" in shown
    assert "Nothing was written." in shown
    assert contents(folder) == before
    written = said(capsys, str(folder), "--write")
    assert "Written in" in written
    assert "Nothing was written." not in written
    assert "30 say so already" in said(capsys, str(folder))
    assert "30 removed that had not been there" in said(capsys, str(folder), "--undo")
    assert {name: content for name, content in contents(folder).items() if name != "journal/lock"} == before


def test_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shown = document(capsys, str(folder))
    assert (shown["written"], shown["new"], shown["problems"]) == (False, 30, [])
    [run] = shown["runs"]
    assert (run["lens"], run["sidecars"], run["first"]) == ("orla-50", 30, "2026-05-02 10:00:00")
    assert document(capsys, str(folder), "--write", "--beside")["beside"] is True
    undone = document(capsys, str(folder), "--undo")
    assert undone == {"put_back": 0, "removed": 30, "as_they_were": 0, "problems": []}


def test_many_problems_are_not_all_listed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    archive = folder.parent / "archive"
    for number in range(25):
        (archive / f"{number:03d}.xmp").write_bytes(b"no XML")
    assert main(["sidecar", str(folder), "--write", "--beside"]) == 0
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 21
    assert lines[0].startswith("main/000.xmp: is not XML")
    assert lines[-1] == "... and 5 more; --json lists them all"
    assert len(document(capsys, str(folder), "--beside")["problems"]) == 25


def test_who_was_left_alone_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    archive = folder.parent / "archive"
    theirs = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<rdf:Description rdf:about="" xmlns:aux="http://ns.adobe.com/exif/1.0/aux/" aux:Lens="My Orla"/>'
        b"</rdf:RDF></x:xmpmeta>"
    )
    (archive / "004.xmp").write_bytes(theirs)
    assert "Left to another program: aux:Lens in 1 sidecar, where it says otherwise." in said(capsys, str(folder))
    said(capsys, str(folder), "--write")
    settings = folder / "settings.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace("0.5", "1.0"), encoding="utf-8")
    (folder / "log.csv").write_text("start,body,lens\n", encoding="utf-8")
    assert main(["audit", str(folder), "--quiet"]) == 0
    shown = said(capsys, str(folder))
    assert "Would be taken back: 30, whose lens is not sure any more." in shown
    assert "Left alone: 30 frames" in shown


def test_write_and_undo_at_once_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sidecar", str(folder), "--write", "--undo"]) == 1
    assert "choose one" in capsys.readouterr().err
