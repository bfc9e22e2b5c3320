"""Lay the sample library on disk: pictures, sidecars, the odd files, and the photographer's own three files."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from PIL import Image

from sample_library.answers import answers_text
from sample_library.cast import Cast, data_text, load_cast
from sample_library.darkroom import Darkroom, encode, open_darkroom, take_picture
from sample_library.logbook import log_text, write_up
from sample_library.metadata import dng_bytes, exif_block, jpeg_with, xmp_packet
from sample_library.shots import Shot, take_shots
from sample_library.story import Story, Stray, load_story

__all__ = ["SampleLibrary", "generate"]

UNFINISHED = ".unfinished"
HEADER_CUT_AT_BYTE = 150
PICTURE_KEPT_SHARE = 0.45
_EPOCH = dt.datetime(1970, 1, 1)
_MICROSECOND = dt.timedelta(microseconds=1)


@dataclass(frozen=True)
class SampleLibrary:
    """Where the parts of a sample library are: a workspace's three files, its archive, and the answers."""

    archive: Path
    kit: Path
    log: Path
    settings: Path
    expected: Path


@dataclass(frozen=True)
class _Written:
    path: str
    content: bytes


def _embedded_rating(shot: Shot, story: Story) -> int | None:
    """Return the rating inside the file; the black body writes 0, unrated, into every file of July and later."""
    if shot.is_odd("sidecar-outranks-embedded"):
        return 5
    if story.trips[shot.segment.trip].ratings == "embedded":
        return shot.rating
    return 0 if shot.segment.body == "two" and shot.taken_at.month >= 7 else None


def _sidecar_path(shot: Shot) -> str:
    """Return the sidecar's path in one of the two habits: next to the name without its ending, or after all of it."""
    path = PurePosixPath(shot.path)
    return str(path.with_suffix(".xmp")) if shot.segment.body == "one" else f"{path}.xmp"


def _sidecar(shot: Shot, story: Story) -> _Written | None:
    by_sidecar = story.trips[shot.segment.trip].ratings in ("sidecar", "few") or shot.is_odd(
        "sidecar-outranks-embedded"
    )
    if not by_sidecar or shot.rating is None:
        return None
    return _Written(_sidecar_path(shot), xmp_packet(shot.rating, as_element=shot.segment.body == "two"))


def _files_of(shot: Shot, story: Story, cast: Cast, picture: Image.Image) -> Iterator[_Written]:
    rating = _embedded_rating(shot, story)
    xmp = None if rating is None else xmp_packet(rating, as_element=shot.number % 2 == 1)
    if shot.path.endswith(".DNG"):
        yield _Written(shot.path, dng_bytes(picture, shot, cast, xmp))
    if not shot.is_odd("raw-alone"):
        stored = picture.transpose(Image.Transpose.ROTATE_90) if shot.vertical else picture
        content = jpeg_with(encode(stored), exif_block(shot, cast), xmp)
        if shot.is_odd("truncated-picture"):
            content = content[: int(len(content) * PICTURE_KEPT_SHARE)]
        yield _Written(shot.path.removesuffix(".DNG") + ".JPG" if shot.path.endswith(".DNG") else shot.path, content)
    sidecar = _sidecar(shot, story)
    if sidecar:
        yield sidecar


def _stray_content(stray: Stray, whole: bytes) -> bytes:
    if stray.kind == "zero-byte":
        return b""
    if stray.kind == "truncated-header":
        return whole[:HEADER_CUT_AT_BYTE]
    return data_text("route.txt").encode()


def _write(archive: Path, written: _Written, at_ns: int) -> None:
    target = archive.joinpath(*written.path.split("/"))
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(written.content)
    os.utime(target, ns=(at_ns, at_ns))


def _fill_archive(archive: Path, shots: Sequence[Shot], story: Story, cast: Cast, room: Darkroom, seed: int) -> None:
    whole = b""
    for shot in shots:
        # UTC, so that a file's time is the same wherever the library is made.
        at_ns = ((shot.taken_at - _EPOCH) // _MICROSECOND - 60_000_000 * shot.offset_minutes) * 1000
        for written in _files_of(shot, story, cast, take_picture(shot, room, seed)):
            _write(archive, written, at_ns)
            whole = written.content if written.path.endswith(".JPG") else whole
    for stray in story.strays:
        _write(archive, _Written(stray.path, _stray_content(stray, whole)), at_ns)


def generate(folder: Path, *, seed: int = 7) -> SampleLibrary:
    """
    Make the sample library in a folder.

    Parameters
    ----------
    folder : Path
        Made when it is not there; may hold other things, but nothing of a sample library or workspace.
    seed : int
        Moves the moments, the shake and the opinions; the story and its special cases stay. Equal seeds give equal
        bytes with equal versions of numpy and Pillow.

    Returns
    -------
    SampleLibrary
        Paths inside the folder.

    Raises
    ------
    FileExistsError
        One of the files to be made is there already; nothing is overwritten.
    """
    folder = folder.resolve()
    made = SampleLibrary(
        *(folder / name for name in ("archive", "kit.toml", "log.csv", "settings.toml", "expected.csv"))
    )
    unfinished = made.archive.with_name(made.archive.name + UNFINISHED)
    for path in (made.archive, unfinished, made.kit, made.log, made.settings, made.expected):
        if path.exists():
            raise FileExistsError(f"{path} is there already; name a new folder")
    story, cast = load_story(), load_cast()
    shots = take_shots(story, cast, seed)
    entries = write_up(story.segments, shots, seed)
    unfinished.mkdir(parents=True)
    _fill_archive(unfinished, shots, story, cast, open_darkroom(shots, story, seed), seed)
    unfinished.rename(made.archive)
    made.kit.write_text(data_text("kit.toml"), encoding="utf-8", newline="\n")
    made.log.write_text(log_text(entries, cast), encoding="utf-8", newline="\n")
    settings = data_text("settings.toml").replace("{archive}", made.archive.as_posix())
    made.settings.write_text(settings, encoding="utf-8", newline="\n")
    made.expected.write_text(answers_text(shots, story, entries, cast), encoding="utf-8", newline="\n")
    return made
