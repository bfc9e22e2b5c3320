"""Maker notes: what each number means against libexiv2's words, what is read of real files, and damaged notes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.readers.containers import find
from auditor.readers.makernotes import LAYOUTS, NOTHING, MakerNote, layout_for, read_maker_note
from auditor.readers.makernotes.layout import Slot
from auditor.readers.picture import decode
from auditor.readers.tiff import Block
from tests.readers import making
from tests.readers.reference import read_with_exiv2, window_on

# libexiv2's key for a slot, and the type to give it a number in: make, field, position among the field's slots.
KEYS = {
    ("canon", "stabiliser_mode", 0): ("Exif.CanonCs.ImageStabilization", "unsignedShort"),
    ("canon", "drive_mode", 0): ("Exif.CanonCs.DriveMode", "unsignedShort"),
    ("canon", "shutter_type", 0): ("Exif.CanonFi.ShutterMode", "unsignedShort"),
    ("nikon", "stabiliser_mode", 0): ("Exif.NikonVr.VibrationReduction", "unsignedByte"),
    ("nikon", "drive_mode", 0): ("Exif.Nikon3.ShootingMode", "unsignedShort"),
    ("nikon", "shutter_type", 0): ("Exif.Nikon3.ShutterMode", "unsignedShort"),
    ("sony", "stabiliser_mode", 0): ("Exif.Sony1.ImageStabilization", "unsignedLong"),
    ("sony", "drive_mode", 0): ("Exif.Sony1.ReleaseMode", "unsignedShort"),
    ("sony", "shutter_type", 0): ("Exif.Sony1.ElectronicFrontCurtainShutter", "unsignedLong"),
    ("fujifilm", "drive_mode", 0): ("Exif.Fujifilm.Continuous", "unsignedShort"),
    ("fujifilm", "shutter_type", 0): ("Exif.Fujifilm.ShutterType", "unsignedShort"),
    ("olympus", "stabiliser_mode", 0): ("Exif.OlympusCs.ImageStabilization", "unsignedLong"),
    ("panasonic", "stabiliser_mode", 0): ("Exif.Panasonic.ImageStabilization", "unsignedShort"),
    ("panasonic", "drive_mode", 0): ("Exif.Panasonic.BurstMode", "unsignedShort"),
    ("panasonic", "shutter_type", 0): ("Exif.Panasonic.ShutterType", "unsignedShort"),
}
# What we call each of libexiv2's words (0.28).
WORDS = {
    "stabiliser_mode": {
        "off": {"Off", "Off (2)"},
        "on": {"On", "On (2)", "On, Mode 1", "On, Mode 2", "On, Mode 3", "S-IS 1"},
        "shoot-only": {"Shoot Only", "Shoot Only (2)"},
        "panning": {"Panning", "Panning (2)", "S-IS 2"},
        "panning-vertical": {"S-IS 3"},
        "dynamic": {"Dynamic", "Dynamic (2)"},
        "auto": {"S-IS AUTO"},
    },
    "drive_mode": {
        "single": {"Single-frame", "Normal", "Off", "Silent Single", "Single, Silent"},
        "continuous": {"Continuous", "Continuous, speed priority", "Continuous, Silent"},
        "continuous-low": {"Continuous, low"},
        "continuous-high": {"Continuous, high"},
        "burst": {"Low/High quality", "Infinite"},
        "movie": {"Movie"},
        "self-timer": {"Delay", "Single-frame, Self-timer"},
        "remote": {"IR Control"},
        "bracketing": {
            *(f"{how}, {what} Bracketing" for how in ("Single-frame", "Continuous") for what in ("Exposure",)),
            *(f"{how}, {what} Bracketing" for how in ("Single-frame", "Continuous") for what in ("White-Balance",)),
            *(f"{how}, {what} Bracketing" for how in ("Single-frame", "Continuous") for what in ("D-Lighting",)),
            "Exposure Bracketing",
            "White Balance Bracketing",
            "DRO Bracketing",
        },
    },
    "shutter_type": {
        "mechanical": {"Mechanical", "Auto (Mechanical)"},
        "electronic": {"Electronic", "Electronic (long shutter speed)"},
        "electronic-first-curtain": {
            "Electronic First Curtain",
            "Electronic Front Curtain",
            "Auto (Electronic Front Curtain)",
            "On",
        },
        "hybrid": {"Hybrid"},
    },
}
PRINT = """
import sys, json, exiv2
for key, kind, number in json.load(sys.stdin):
    exif = exiv2.ExifData()
    value = exiv2.Value.create(getattr(exiv2.TypeId, kind))
    value.read(str(number))
    exif.add(exiv2.ExifKey(key), value)
    print(json.dumps([datum.print(exif) for datum in exif][0]))
"""


def meanings() -> list[tuple[str, str, int, str, str, str]]:
    """Return make, field, number and our word, libexiv2's key and type, for every meaning that it has a word for."""
    return [
        (layout.makes[0], name, number, word, *KEYS[layout.makes[0], name, position])
        for layout in LAYOUTS
        for name, slots in layout.slots.items()
        for position, slot in enumerate(slots)
        if (layout.makes[0], name, position) in KEYS
        for number, word in (slot.meaning or {}).items()
        if isinstance(number, int)
    ]


@pytest.mark.published
def test_every_number_means_what_libexiv2_prints_for_it() -> None:
    rows = meanings()
    asked = json.dumps([(key, kind, number) for *_, number, _word, key, kind in rows])
    done = subprocess.run([sys.executable, "-c", PRINT], input=asked, capture_output=True, text=True, check=True)
    printed = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(printed) == len(rows) > 60
    for (make, name, number, word, _, _), label in zip(rows, printed, strict=True):
        assert label in WORDS[name][word], (make, name, number, word)


def note_of(content: bytes) -> MakerNote:
    window = window_on(content)
    found = find(window)
    assert found.exif is not None
    decoded = decode(window, found.exif)
    assert decoded is not None
    make = str(decoded.tags.get(0x010F) or "")
    if found.maker_note:
        return read_maker_note(window, found.maker_note, decoded.block, make, is_block=True)
    place = decoded.tags.get(0x927C)
    if not isinstance(place, tuple):
        return NOTHING
    start, length = int(place[0] or 0), int(place[1] or 0)
    return read_maker_note(window, (start, start + length), decoded.block, make)


def number_at(values: dict[str, str], key: str, element: int) -> int | None:
    parts = values.get(key, "").split()
    return int(parts[element]) if element < len(parts) and parts[element].lstrip("-").isdigit() else None


# Key and element in libexiv2's value for what the slot holds.
REAL = [
    ("canon", "stabiliser_mode", 0, "Exif.CanonCs.ImageStabilization", 0),
    ("canon", "drive_mode", 0, "Exif.CanonCs.DriveMode", 0),
    ("canon", "shutter_type", 0, "Exif.CanonFi.ShutterMode", 0),
    ("nikon", "stabiliser_mode", 0, "Exif.NikonVr.VibrationReduction", 0),
    ("nikon", "drive_mode", 0, "Exif.Nikon3.ShootingMode", 0),
    ("sony", "stabiliser_mode", 0, "Exif.Sony1.ImageStabilization", 0),
    ("sony", "drive_mode", 0, "Exif.Sony1.ReleaseMode", 0),
    ("sony", "shutter_type", 0, "Exif.Sony1.ElectronicFrontCurtainShutter", 0),
    ("fujifilm", "stabiliser_mode", 0, "Exif.Fujifilm.ImageStabilization", 1),
    ("fujifilm", "drive_mode", 0, "Exif.Fujifilm.Continuous", 0),
    ("fujifilm", "shutter_type", 0, "Exif.Fujifilm.ShutterType", 0),
    ("panasonic", "stabiliser_mode", 0, "Exif.Panasonic.ImageStabilization", 0),
    ("panasonic", "drive_mode", 0, "Exif.Panasonic.BurstMode", 0),
]


def expected(slot: Slot, number: int) -> str | None:
    return (slot.meaning or {}).get(number & slot.mask)


@pytest.mark.real_frames
def test_slots_of_the_real_frames_hold_what_libexiv2_reads(real_frames: Path) -> None:
    files = [file for file in sorted(real_frames.rglob("*")) if file.is_file() and file.suffix != ".md"]
    compared = 0
    for file, values in zip(files, read_with_exiv2(files), strict=True):
        layout = layout_for((values or {}).get("Exif.Image.Make", ""))
        if values is None or layout is None:
            continue
        note = note_of(file.read_bytes())
        for make, name, position, key, element in REAL:
            number = number_at(values, key, element)
            if make == layout.makes[0] and number is not None:
                compared += 1
                assert getattr(note, name) == expected(layout.slots[name][position], number), (file.name, key)
        distance = number_at(values, "Exif.CanonSi.SubjectDistance", 0)
        if distance not in (None, 65535):
            compared += 1
            assert note.focus_distance_m == pytest.approx(distance / 100), file.name
        words = values.get("Exif.Nikon3.ImageStabilization", "").strip()
        if words:
            compared += 1
            assert note.stabiliser_mode == {"VR-ON": "on", "VR-OFF": "off"}[words]
    assert compared > 45


def with_note(make: str, note: bytes, order: str = "<") -> bytes:
    block = making.tiff(order, [(0x010F, 2, make)], [(0x829A, 5, (1, 60)), (0x927C, 7, note)])
    return making.jpeg(making.app1(block))


def olympus(mark: bytes) -> bytes:
    """A note of the newer kinds: offsets count from its start; two directories below the first."""
    start = len(mark)
    first = [(0x2010, 13, 0), (0x2020, 13, 0), (0x2050, 13, 0)]
    equipment_at = start + len(making.ifd("<", start, first))
    equipment = making.ifd("<", equipment_at, [(0x0203, 2, "Hale 35-70 mm")])
    camera_at = equipment_at + len(equipment)
    camera = making.ifd(
        "<", camera_at, [(0x0600, 3, [1, 3, 0]), (0x0604, 4, 4), (0x0903, 8, [-12, 1]), (0x0904, 8, [5, 1])]
    )
    focus_at = camera_at + len(camera)
    focus = making.ifd("<", focus_at, [(0x0305, 5, (1500, 10))])
    first = [(0x2010, 13, equipment_at), (0x2020, 13, camera_at), (0x2050, 13, focus_at)]
    return mark + making.ifd("<", start, first) + equipment + camera + focus


@pytest.mark.parametrize(
    ("make", "mark"),
    [("OLYMPUS CORPORATION", b"OLYMPUS\0II\3\0"), ("OM Digital Solutions", b"OM SYSTEM\0\0\0II\4\0")],
)
def test_directories_below_the_first(make: str, mark: bytes) -> None:
    read = note_of(with_note(make, olympus(mark)))
    assert (read.stabiliser_mode, read.drive_mode, read.lens_name) == ("auto", "continuous", "Hale 35-70 mm")
    assert read.focus_distance_m == pytest.approx(1.5), "the denominator does not count"
    assert (read.roll_deg, read.pitch_deg) == (pytest.approx(-1.2), pytest.approx(0.5))


def test_panasonic_and_pentax_headers() -> None:
    rows = [(0x001A, 3, 3), (0x002A, 3, 0), (0x009F, 3, 1), (0x0090, 8, -25)]
    panasonic = note_of(with_note("Panasonic", b"Panasonic\0\0\0" + making.ifd("<", 0, rows)))
    assert (panasonic.stabiliser_mode, panasonic.drive_mode, panasonic.shutter_type) == ("off", "single", "electronic")
    assert panasonic.roll_deg == pytest.approx(-2.5)
    pentax = note_of(with_note("PENTAX", b"AOC\0MM" + making.ifd(">", 0, [(0x005C, 7, bytes([0, 1, 0, 0]))]), ">"))
    assert pentax.stabiliser_mode == "on"


@pytest.mark.parametrize("cut", range(0, 120, 7))
def test_a_note_that_is_cut_short_gives_less_and_never_something_else(cut: int) -> None:
    whole = olympus(b"OLYMPUS\0II\3\0")
    complete = note_of(with_note("OLYMPUS CORPORATION", whole))
    block = Block(0, cut, "<", 8)
    part = read_maker_note(window_on(whole[:cut]), (0, cut), block, "OLYMPUS CORPORATION")
    for name, value in part._asdict().items():
        assert value in (None, getattr(complete, name))


def test_what_is_not_understood_is_absent() -> None:
    assert note_of(with_note("Silverline", b"anything at all, long enough")) == NOTHING
    assert note_of(with_note("FUJIFILM", b"not the mark that is expected")) == NOTHING
    rows = [(0x001A, 3, 77), (0x0051, 4, 12345678), (0x0090, 3, 65535)]
    assert note_of(with_note("Panasonic", b"Panasonic\0\0\0" + making.ifd("<", 0, rows))).stabiliser_mode is None
