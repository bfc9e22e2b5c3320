"""
CPU time per warm file: our reader with its row, exiv2's Python binding reading 18 keys, and a bare open and read.

    python -m tests.benchmarks.index.cpu_per_file

Targets: at most 1/8 of exiv2 and at most 6 times the bare read.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import exiv2

from auditor.readers.frames import File, Frame
from auditor.readers.worker import Task, read_task
from tests.benchmarks.index.corpus import copies

ROUNDS = 7
_PHOTO = (
    "ExposureTime FNumber FocalLength FocalLengthIn35mmFilm ISOSpeedRatings DateTimeOriginal OffsetTimeOriginal "
    "SubSecTimeOriginal LensModel LensSpecification MaxApertureValue BodySerialNumber PixelXDimension PixelYDimension "
    "SubjectDistance"
)
KEYS = [f"Exif.Image.{name}" for name in ("Make", "Model", "Orientation")]
KEYS += [f"Exif.Photo.{name}" for name in _PHOTO.split(" ")]


def _bare(files: list[Path]) -> None:
    for file in files:
        handle = os.open(file, os.O_RDONLY)
        os.read(handle, 65536)
        os.close(handle)


def _exiv2(files: list[Path]) -> None:
    for file in files:
        image = exiv2.ImageFactory.open(str(file))
        image.readMetadata()
        exif = image.exifData()
        for key in KEYS:
            if key in exif:
                str(exif[key].value())


def _cpu_ms(run: Callable[[], object], files: int) -> float:
    started = time.process_time()
    run()
    return (time.process_time() - started) / files * 1e3


def measure(name: str, files: list[Path]) -> None:
    """Print one line for a set of files."""
    exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
    task = Task(str(files[0].parent), [Frame(File(file.name, 0, 0)) for file in files])
    runs: dict[str, list[float]] = {"ours": [], "exiv2": [], "bare": []}
    for _ in range(ROUNDS):
        runs["ours"].append(_cpu_ms(lambda: read_task(task), len(files)))
        runs["exiv2"].append(_cpu_ms(lambda: _exiv2(files), len(files)))
        runs["bare"].append(_cpu_ms(lambda: _bare(files), len(files)))
    ours, theirs, bare = (statistics.median(runs[key]) for key in ("ours", "exiv2", "bare"))
    print(
        f"{name}: ours {ours:.4f} ms, exiv2 {theirs:.4f} ms (1/{theirs / ours:.1f}), "
        f"bare read {bare:.4f} ms (x{ours / bare:.1f})"
    )


def main() -> None:
    """Measure JPEG and TIFF-based raw files."""
    for name, wanted, count in (("JPEG", {"jpeg"}, 2000), ("raw", {"arw", "cr2", "nef", "dng", "pef", "orf"}, 1000)):
        with tempfile.TemporaryDirectory() as folder:
            measure(name, copies(Path(folder), count, wanted))


if __name__ == "__main__":
    main()
