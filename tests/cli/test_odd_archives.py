"""Every command over archives as careless as real ones: an answer or a message, never a traceback or a "nan"."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from auditor.cli.app import main
from tests.odd_archives import make_odd_archive, odd_kit, odd_log

_COMMANDS = (
    ("kit",), ("audit",), ("measure", "--jobs", "1"), ("audit", "--json"), ("trips",), ("questions",), ("ledger",),
    ("ledger", "--by", "pairing", "--fair"), ("ledger", "--lost"), ("ledger", "--by", "distance", "--explain"),
    ("plan", "--explain"), ("plan", "--json"), ("card", "--json"), ("calibrate", "hand"), ("sidecar",),
    ("sidecar", "--write"), ("sidecar", "--undo"), ("log", "show"),
)  # fmt: skip
_NOT_A_WORD = re.compile(r"\b(?:nan|inf|None|NaT)\b|<NA>|Traceback")


@pytest.mark.parametrize("seed", [0, 3, 5, 6, 7])
def test_every_command_has_an_answer_or_a_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    make_odd_archive(tmp_path / "archive", seed)
    folder = str(tmp_path / "ws")
    assert main(["init", folder, "--archive", str(tmp_path / "archive")]) == 0
    if seed:  # the first keeps the kit that init began
        (tmp_path / "ws" / "kit.toml").write_text(odd_kit(seed), encoding="utf-8")
        (tmp_path / "ws" / "log.csv").write_text(odd_log(seed), encoding="utf-8")
    for name, *options in _COMMANDS:
        given = [name, *options, folder] if name in ("calibrate", "log") else [name, folder, *options]
        assert main(given) in (0, 1), given
        said = capsys.readouterr()
        assert not _NOT_A_WORD.search(said.out + said.err), given
    for given in (["export", str(tmp_path / "x.csv")], ["season", str(tmp_path / "x.html")]):
        assert main([*given, folder]) in (0, 1)
    written = (tmp_path / "x.html").read_text(encoding="utf-8") if (tmp_path / "x.html").exists() else ""
    assert not re.search(r">[^<]*(?:\bnan\b|\bNone\b|NaT)[^<]*<", written)
