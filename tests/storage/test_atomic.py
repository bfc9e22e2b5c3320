"""A written file is complete or absent."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import BinaryIO, NoReturn

import pytest

from auditor.storage.atomic import TEMPORARY_PREFIX, replacing, write_bytes, write_text


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_new_content_takes_the_place_of_the_old_and_the_mode_stays(tmp_path: Path) -> None:
    file = tmp_path / "kit.toml"
    file.write_text("old")
    file.chmod(0o640)
    write_text(file, "new: größer\r\n")
    assert file.read_bytes() == "new: größer\r\n".encode()
    assert file.stat().st_mode & 0o777 == 0o640
    assert names(tmp_path) == ["kit.toml"]


def test_a_new_file_has_the_mode_of_any_new_file(tmp_path: Path) -> None:
    write_bytes(tmp_path / "ours", b"1")
    (tmp_path / "plain").write_bytes(b"1")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    target = tmp_path / "elsewhere" / "kit.toml"
    target.write_text("old")
    link = tmp_path / "kit.toml"
    link.symlink_to(target)
    write_text(link, "new")
    assert link.is_symlink()
    assert target.read_text() == "new"


def fail_half_way(stream: BinaryIO, folder: Path) -> NoReturn:
    stream.write(b"half a fi")
    assert any(name.startswith(TEMPORARY_PREFIX) for name in names(folder))
    raise RuntimeError("half way")


def test_an_error_while_writing_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text("old")
    with pytest.raises(RuntimeError, match="half way"), replacing(file) as stream:
        fail_half_way(stream, tmp_path)
    assert file.read_text() == "old"
    assert names(tmp_path) == ["log.csv"]


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "log.csv"
    file.write_text("old")

    def full(_handle: int) -> NoReturn:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_text(file, "new")
    assert file.read_text() == "old"
    assert names(tmp_path) == ["log.csv"]
