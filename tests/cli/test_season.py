from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor.cli import main


def test_the_report_of_the_latest_year(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "season.html"
    assert main(["season", str(target), str(sample_workspace)]) == 0
    assert "the season 2026" in capsys.readouterr().out
    assert "<h1>The season 2026</h1>" in target.read_text(encoding="utf-8")
    assert main(["season", str(target), str(sample_workspace), "--year", "2026", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["year"], told["trips"], told["lenses"]) == (2026, 4, 6)


def test_a_year_without_frames(sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "season.html"
    assert main(["season", str(target), str(sample_workspace), "--year", "1999"]) == 1
    assert "there are frames of" in capsys.readouterr().err
    assert not target.exists()
