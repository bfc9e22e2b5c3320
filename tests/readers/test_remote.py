"""Archives behind URLs: how stores tell a file's time, and what is missing."""

from __future__ import annotations

import datetime as dt
import sys

import fsspec
import pytest

from auditor.errors import MissingExtra
from auditor.readers import remote
from auditor.readers.frames import File, Frame, read_frame
from auditor.readers.problems import Problem
from auditor.readers.remote import list_folder, open_remote
from tests.readers import making

MOMENT = dt.datetime(2026, 5, 2, 12, 20, 31, tzinfo=dt.UTC)
NS = 1_777_724_431_000_000_000


def test_the_moment_above_in_nanoseconds() -> None:
    assert (MOMENT - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)).total_seconds() * 1e9 == NS


# Names under which stores tell it: disks and SFTP, S3, others.
@pytest.mark.parametrize(
    ("info", "expected"),
    [
        ({"mtime": NS / 1e9}, NS),
        ({"mtime": 1777724431}, NS),
        ({"LastModified": MOMENT}, NS),
        ({"updated": "2026-05-02T12:20:31+00:00"}, NS),
        ({"created": MOMENT.replace(tzinfo=None)}, NS),
        ({"updated": "yesterday"}, 0),
        ({"mtime": None}, 0),
        ({}, 0),
    ],
)
def test_times(info: dict[str, object], expected: int) -> None:
    assert remote._time_ns(info) == expected


def test_reading_and_listing() -> None:
    memory = fsspec.filesystem("memory")
    content = making.jpeg(making.app1(making.exposure_block()))
    memory.pipe_file("/far/day/a.jpg", content)
    memory.pipe_file("/far/day/huge.xmp", bytes(2 << 20))
    assert {(name, is_folder) for name, is_folder, *_ in list_folder("memory://far", "")} == {("day", True)}
    opened = open_remote("memory://far", "day/a.jpg")
    assert (opened.size, opened.read_at(len(content) - 2, 9), opened.read_at(len(content), 9)) == (
        len(content),
        b"\xff\xd9",
        b"",
    )
    [row] = read_frame("memory://far", Frame(File("day/a.jpg", 1, 1, ("day/huge.xmp", "day/none.xmp"))))
    assert (row.model, row.rating, row.problem) == ("Silverline 2", None, None)
    [row] = read_frame("memory://far", Frame(File("day", 1, 1)))
    assert row.problem == Problem.VANISHED.value


def test_without_fsspec_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fsspec", None)
    with pytest.raises(MissingExtra, match="cluster"):
        next(list_folder("s3://nowhere/at/all", ""))
