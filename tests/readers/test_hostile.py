"""Broken and hostile files: no exception, no hang, no value that the whole file does not hold."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from tests.readers import making
from tests.readers.hostile import LONGEST_CPU_S, bombs, flipped, invented, prefixes, read
from tests.readers.test_containers import CFA, PREVIEW, jxl_codestream, raw_with_pictures, rw2
from tests.readers.test_makernotes import olympus

BOMBS = bombs()
MADE = {
    "jpeg": making.jpeg(making.app1(making.exposure_block()), making.app1_xmp(making.xmp_packet(4))),
    "jpeg, other order": making.jpeg(making.app1(making.exposure_block(">"))),
    "jpeg with a place": making.jpeg(making.app1(making.exposure_block(gps=making.AT_SEA))),
    "note": making.jpeg(
        making.app1(making.tiff("<", [(0x010F, 2, "OLYMPUS")], [(0x927C, 7, olympus(b"OLYMPUS\0II\3\0"))]))
    ),
    "tiff": making.exposure_block(first=[(0x0100, 4, 900), (0x0101, 4, 600)]),
    "tiff with a place": making.exposure_block(first=[(0x0100, 4, 900), (0x0101, 4, 600)], gps=making.AT_SEA),
    "nef": raw_with_pictures("NIKON CORPORATION", [], [PREVIEW, CFA]),
    "rw2": rw2(),
    "heif": making.heif([(2, making.exposure_block(gps=making.AT_SEA))], properties=[making.ispe(6000, 4000)]),
    "cr3": making.cr3(making.tiff("<", [making.MAKE]), making.tiff("<", making.EXPOSURE), b""),
    "cr3 with a place": making.cr3(
        making.tiff("<", [making.MAKE]), making.tiff("<", making.EXPOSURE), b"", making.tiff("<", making.AT_SEA)
    ),
    "raf": making.raf(making.jpeg(making.app1(making.exposure_block())), 6160, 4128),
    "webp": making.webp((b"EXIF", making.exposure_block()), (b"XMP ", making.xmp_packet(5))),
    "png": making.png((b"eXIf", making.exposure_block())),
    "jxl": b"\0\0\0\x0cJXL \r\n\x87\n"
    + making.box(b"Exif", bytes(4) + making.exposure_block())
    + making.box(b"jxlc", jxl_codestream(600, 400, 1)),
}


@pytest.mark.parametrize("content", MADE.values(), ids=MADE.keys())
def test_a_file_cut_anywhere_says_less_and_nothing_else(content: bytes) -> None:
    whole, _ = read(content)
    assert whole.problem is None
    for part in prefixes(content, 200):
        row, cpu_s = read(part)
        assert invented(whole, row) == {}, len(part)
        assert cpu_s < LONGEST_CPU_S
        assert row.problem is not None or invented(row, whole) == {}, "less than the whole, and no word of it"


@pytest.mark.real_frames
def test_real_files_cut_anywhere(real_frames: Path) -> None:
    files = [file for file in sorted(real_frames.rglob("*")) if file.is_file() and file.suffix != ".md"]
    for file in files:
        content = file.read_bytes()
        whole, _ = read(content)
        for part in prefixes(content, 12):
            row, cpu_s = read(part)
            assert invented(whole, row) == {}, (file.name, len(part))
            assert cpu_s < LONGEST_CPU_S


@pytest.mark.parametrize("content", MADE.values(), ids=MADE.keys())
def test_flipped_bytes_never_raise_or_hang(content: bytes) -> None:
    for mutant in flipped(content, 60, seed=len(content)):
        _, cpu_s = read(mutant)
        assert cpu_s < LONGEST_CPU_S


@pytest.mark.parametrize("content", BOMBS.values(), ids=BOMBS.keys())
def test_bombs(content: bytes) -> None:
    tracemalloc.start()
    row, cpu_s = read(content)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert cpu_s < LONGEST_CPU_S * 3, "tracing memory costs time"
    assert most < 20_000_000
    assert row.exposure_time_s is None or row.exposure_time_s > 0
