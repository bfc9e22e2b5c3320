"""What libexiv2 reads of a file, and what our two lanes read of it, in one form."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from auditor.readers.containers import find
from auditor.readers.guarded import read_block_tolerantly
from auditor.readers.picture import decode
from auditor.readers.places import read_place
from auditor.readers.tags import Tags, Value
from auditor.readers.tiff import byte_order
from auditor.readers.window import HEAD_BYTES, Window

# Tag numbers of CIPA DC-008-2023 and libexiv2's names for them.
PHOTO = {
    0x829A: "ExposureTime",
    0x829D: "FNumber",
    0x8827: "ISOSpeedRatings",
    0x8831: "StandardOutputSensitivity",
    0x8832: "RecommendedExposureIndex",
    0x8833: "ISOSpeed",
    0x9003: "DateTimeOriginal",
    0x9011: "OffsetTimeOriginal",
    0x9291: "SubSecTimeOriginal",
    0x9205: "MaxApertureValue",
    0x9206: "SubjectDistance",
    0x9209: "Flash",
    0x920A: "FocalLength",
    0xA002: "PixelXDimension",
    0xA003: "PixelYDimension",
    0xA405: "FocalLengthIn35mmFilm",
    0xA431: "BodySerialNumber",
    0xA432: "LensSpecification",
    0xA433: "LensMake",
    0xA434: "LensModel",
    0xA435: "LensSerialNumber",
}
IMAGE = {0x010F: "Make", 0x0110: "Model", 0x0112: "Orientation"}
PLACE = {0x8825: "GPSInfo"}
RATIOS = {0x829A, 0x829D, 0x9205, 0x9206, 0x920A}
TEXTS = {0x010F, 0x0110, 0x9003, 0x9011, 0x9291, 0xA431, 0xA433, 0xA434, 0xA435}


def window_on(content: bytes) -> Window:
    return Window(content[:HEAD_BYTES], len(content), lambda offset, length: content[offset : offset + length])


def read_with_exiv2(files: Sequence[Path]) -> list[dict[str, str] | None]:
    """Return libexiv2's values for each file; None where it refuses or the process ends on it."""
    answers: list[dict[str, str] | None] = []
    while len(answers) < len(files):
        asked = "".join(json.dumps(str(file)) + "\n" for file in files[len(answers) :])
        done = subprocess.run(
            [sys.executable, "-m", "tests.readers.exiv2_process"],
            input=asked,
            capture_output=True,
            text=True,
            check=False,
        )
        got = [json.loads(line) for line in done.stdout.splitlines()]
        answers.extend(got)
        if len(got) < asked.count("\n"):
            answers.append(None)  # the file it ended on
    return answers


def our_tags(content: bytes, lane: str) -> Tags | None:
    """Return what a lane reads of the main block (and, in CR3, of the Exif block), None where there is none."""
    window = window_on(content)
    found = find(window)
    if found.exif is None:
        return None
    tags: Tags = {}
    for place, first in ((found.exif_ifd, "exif"), (found.exif, "")):
        if place is None:
            continue
        recognised = byte_order(window, *place)
        if recognised is None:
            return None
        block, magic = recognised
        if lane == "tolerant":
            read, _ = read_block_tolerantly(window, block, first or magic)
            pointer = read.get(0x8825)
            if isinstance(pointer, int):
                read[0x8825], _ = read_place(window, block, pointer)
        else:
            decoded = decode(window, place, first)
            if decoded is None or decoded.lane != "fast":
                return None
            read = decoded.tags
        tags.update({tag: value for tag, value in read.items() if value is not None})
    return tags


def as_ratio(text: str) -> float | None:
    above, _, below = text.partition("/")
    number = float(below or 1)
    return float(above) / number if number else None


def their_value(tag: int, text: str) -> Value:
    """Return libexiv2's value in the form that our lanes give for a tag."""
    if tag in TEXTS:
        text = text.partition("\0")[0].strip()
        # Bytes that are not UTF-8 come as surrogates; ours come as Latin-1.
        raw = text.encode("utf-8", "surrogateescape")
        return (raw.decode("latin-1") if any("\udc80" <= sign <= "\udcff" for sign in text) else text) or None
    if tag in RATIOS:
        return as_ratio(text.split()[0]) if text else None
    if tag == 0xA432:
        return tuple(as_ratio(part) for part in text.split())
    return int(text.split()[0]) if text.split() and text.split()[0].lstrip("-").isdigit() else None


def theirs(values: dict[str, str]) -> Tags:
    """Return libexiv2's values by tag number, absent ones left out."""
    found: Tags = {}
    for tag, name in (*PHOTO.items(), *IMAGE.items()):
        keys = [f"Exif.Photo.{name}", f"Exif.Image.{name}"] if tag in PHOTO else [f"Exif.Image.{name}"]
        text = next((values[key] for key in keys if key in values), None)
        if text is not None and (value := their_value(tag, text)) is not None:
            found[tag] = value
    if (place := their_place(values)) is not None:
        found[0x8825] = place
    return found


def their_place(values: dict[str, str]) -> tuple[float, float] | None:
    """Return the place that libexiv2's texts tell, to 0.01°, None where a part is absent, void or 0/0."""
    sides = []
    for name, positive in (("Latitude", "N"), ("Longitude", "E")):
        parts = [as_ratio(part) for part in values.get(f"Exif.GPSInfo.GPS{name}", "").split()]
        reference = values.get(f"Exif.GPSInfo.GPS{name}Ref", "")
        if len(parts) != 3 or None in parts or not reference:
            return None
        degrees = sum(part / 60**power for power, part in enumerate(parts) if part is not None)
        sides.append(round(degrees if reference == positive else -degrees, 2))
    void = values.get("Exif.GPSInfo.GPSStatus") == "V" or sides == [0, 0]
    return None if void else (sides[0], sides[1])
