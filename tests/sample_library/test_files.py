"""The files on disk, read by Pillow and by libexiv2: what the scenario says is what is in them."""

from __future__ import annotations

import datetime as dt
import math
import os
import re
from pathlib import Path
from typing import Any

import exiv2
import pytest
from defusedxml import ElementTree
from PIL import Image

from sample_library import SampleLibrary, generate
from sample_library.darkroom import Darkroom, take_picture
from sample_library.layout import _files_of
from sample_library.shots import PICTURE_PX, Shot
from sample_library.tiff import SHORT, Directory, ascii_field, numbers, rationals, tiff_bytes
from tests.sample_library.conftest import Scenario, file_of

NOT_PICTURES = {"zero-byte", "truncated-header", "text-named-jpg", "not-a-picture"}


def _jpegs(scenario: Scenario) -> list[Shot]:
    return [shot for shot in scenario.shots if not shot.path.endswith(".DNG")]


def _exif(path: Path) -> tuple[dict[int, Any], dict[int, Any]]:
    with Image.open(path) as picture:
        exif = picture.getexif()
        return dict(exif), dict(exif.get_ifd(0x8769))


def test_the_archive_is_small(library: SampleLibrary) -> None:
    files = [path for path in library.archive.rglob("*") if path.is_file()]

    assert 600 < len(files) < 900
    assert sum(path.stat().st_size for path in files) < 25e6
    assert not list(library.archive.parent.glob("*.unfinished"))


def test_bytes_follow_from_the_seed(library: SampleLibrary, first_scenario: Scenario, room: Darkroom) -> None:
    """Scenes painted and pictures taken anew are the ones on disk, byte for byte."""
    story, cast, seed = first_scenario.story, first_scenario.cast, first_scenario.seed
    for shot in first_scenario.shots[::23]:
        for written in _files_of(shot, story, cast, take_picture(shot, room, seed)):
            path = file_of(library, written.path)
            assert path.read_bytes() == written.content, written.path
            utc = (shot.taken_at - dt.datetime(1970, 1, 1)).total_seconds() - 60 * shot.offset_minutes
            assert path.stat().st_mtime == pytest.approx(utc, abs=1e-3)


@pytest.mark.parametrize(
    "there", ["archive", "archive.unfinished", "kit.toml", "log.csv", "settings.toml", "expected.csv"]
)
def test_nothing_of_the_users_is_overwritten(tmp_path: Path, there: str) -> None:
    (tmp_path / there).write_text("mine")

    with pytest.raises(FileExistsError, match=re.escape(there)):
        generate(tmp_path)

    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


def test_every_jpeg_opens_and_has_the_size_that_its_exif_says(library: SampleLibrary, first_scenario: Scenario) -> None:
    for shot in _jpegs(first_scenario):
        path = file_of(library, shot.path)
        with Image.open(path) as picture:
            assert picture.size == PICTURE_PX
            inside = picture.getexif().get_ifd(0x8769)
            assert (inside[0xA002], inside[0xA003]) == PICTURE_PX
            if shot.is_odd("truncated-picture"):
                with pytest.raises(OSError, match="truncated"):
                    picture.load()
            elif shot.number % 5 == 0:
                picture.load()


def test_exif_as_pillow_reads_it_is_the_scenario(library: SampleLibrary, first_scenario: Scenario) -> None:
    cast = first_scenario.cast
    for shot in _jpegs(first_scenario):
        segment, body, lens = shot.segment, cast.bodies[shot.segment.body], cast.lenses[shot.segment.lens]
        outside, inside = _exif(file_of(library, shot.path))
        assert (outside[0x010F], outside[0x0110], inside[0xA431]) == (body.make, body.model, body.serial)
        assert outside[0x0112] == (6 if shot.vertical else 1)
        assert float(inside[0x829A]) == pytest.approx(1 / shot.shutter, rel=1e-12)
        assert inside[0x8827] == segment.iso
        assert float(inside[0x920A]) == (segment.typed if segment.typed is not None else lens.focal_mm[0])
        assert bool(inside[0x9209] & 1) == segment.flash
        if not shot.is_odd("no-date"):
            assert inside[0x9003][11:] == f"{shot.clock_at:%H:%M:%S}"
            assert inside[0x9291] == f"{shot.clock_at.microsecond // 10000:02d}"
        if segment.body == "two" and not shot.is_odd("no-date"):
            assert inside[0x9011] == f"+0{shot.offset_minutes // 60}:00"
        else:
            assert 0x9011 not in inside


def test_the_forms_of_not_known_all_occur(library: SampleLibrary, first_scenario: Scenario) -> None:
    """F-number 0/0, 0/1 and absent; lens name ``----``, blanks, typed and native; dates with month 0 and none."""
    f_numbers, names, dates = set(), set(), set()
    for shot in _jpegs(first_scenario):
        _, inside = _exif(file_of(library, shot.path))
        value = inside.get(0x829D)
        f_numbers.add(
            "absent" if value is None else "0/0" if math.isnan(float(value)) else "0" if value == 0 else "set"
        )
        names.add(str(inside[0xA434]).strip())
        dates.add("none" if 0x9003 not in inside else "month 0" if inside[0x9003][5:7] == "00" else "date")

    assert f_numbers == {"absent", "0/0", "0", "set"}
    assert names >= {"", "----", "HALE35R 25mm", "LUMBRY CLEAR 25mm F1.7"}
    assert dates == {"none", "month 0", "date"}


def test_exif_and_ratings_as_libexiv2_reads_them(library: SampleLibrary, first_scenario: Scenario) -> None:
    for shot in [shot for shot in first_scenario.shots if shot.number in (0, 2, 12)]:
        image = exiv2.ImageFactory.open(str(file_of(library, shot.path)))
        image.readMetadata()
        exif = {datum.key(): datum.toString() for datum in image.exifData()}
        exposure = exif["Exif.Photo.ExposureTime"].split("/")
        assert int(exposure[0]) / int(exposure[1]) == pytest.approx(1 / shot.shutter)
        assert exif["Exif.Photo.DateTimeOriginal"] == f"{shot.clock_at:%Y:%m:%d %H:%M:%S}"
        if shot.segment.listed:
            assert exif["Exif.Photo.LensModel"] == shot.segment.listed
        rating = [datum.toString() for datum in image.xmpData() if datum.key() == "Xmp.xmp.Rating"]
        if first_scenario.story.trips[shot.segment.trip].ratings == "embedded" and shot.rating is not None:
            assert rating == [str(shot.rating)], shot.path


def test_sidecars_follow_both_habits_and_hold_the_rating(library: SampleLibrary, first_scenario: Scenario) -> None:
    sidecars = {path.relative_to(library.archive).as_posix() for path in library.archive.rglob("*.xmp")}
    habits = set()
    for shot in first_scenario.shots:
        for habit, name in (("whole name", f"{shot.path}.xmp"), ("stem", shot.path.rsplit(".", 1)[0] + ".xmp")):
            if name in sidecars:
                text = file_of(library, name).read_text(encoding="utf-8")
                tree = ElementTree.fromstring(text.encode())
                found = [
                    value
                    for node in tree.iter()
                    for key, value in [(node.tag, node.text), *node.attrib.items()]
                    if key.endswith("}Rating")
                ]
                assert found == [str(shot.rating)], name
                habits.add((habit, shot.segment.body))
                sidecars.remove(name)

    assert habits == {("stem", "one"), ("whole name", "two")}
    assert not sidecars


def test_raw_files_stand_beside_their_jpeg_or_alone(library: SampleLibrary, first_scenario: Scenario) -> None:
    raws = [shot for shot in first_scenario.shots if shot.path.endswith(".DNG")]

    assert len(raws) == 4
    for shot in raws:
        path = file_of(library, shot.path)
        assert path.with_suffix(".JPG").exists() != shot.is_odd("raw-alone")
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
        exif = {datum.key(): datum.toString() for datum in image.exifData()}
        assert (image.pixelWidth(), image.pixelHeight()) == PICTURE_PX
        assert exif["Exif.SubImage1.PhotometricInterpretation"] == "32803"
        assert exif["Exif.Image.DNGVersion"] == "1 4 0 0"
        assert exif["Exif.Photo.DateTimeOriginal"] == f"{shot.clock_at:%Y:%m:%d %H:%M:%S}"
        with Image.open(path) as preview:
            # Pillow turns a TIFF upright by itself.
            assert sorted(preview.size) == [PICTURE_PX[1] // 4, PICTURE_PX[0] // 4]


def test_strays_are_what_their_kind_says(library: SampleLibrary, first_scenario: Scenario) -> None:
    content = {stray.kind: file_of(library, stray.path).read_bytes() for stray in first_scenario.story.strays}

    assert set(content) == NOT_PICTURES
    assert content["zero-byte"] == b""
    assert content["truncated-header"][:4] == b"\xff\xd8\xff\xe1"
    assert len(content["truncated-header"]) < int.from_bytes(content["truncated-header"][4:6], "big")
    assert content["text-named-jpg"].decode().startswith("Vell hills")


def test_names_that_trouble_spreadsheets_and_old_systems_are_there(library: SampleLibrary) -> None:
    names = [path.name for path in library.archive.rglob("*")]

    assert any(name.startswith("=") for name in names)
    assert any(not name.isascii() for name in names)
    assert not any(set(name) & set('<>:"\\|?*') for name in names), "the archive can be laid out on every system"


def test_settings_name_the_archive(library: SampleLibrary) -> None:
    assert f'main = "{library.archive.as_posix()}"' in library.settings.read_text(encoding="utf-8")
    assert os.path.isabs(library.archive)  # noqa: PTH117


@pytest.mark.parametrize("big_endian", [False, True])
def test_the_tiff_writer_against_pillow(tmp_path: Path, big_endian: bool) -> None:
    inner = Directory((rationals(0x829A, (1, 125)), rationals(0x829D, (0, 0)), numbers(0x8827, SHORT, 400)))
    outer = Directory((ascii_field(0x010F, "OSTERLY"), ascii_field(0x0110, "N7")), {0x8769: inner})
    path = tmp_path / "block.jpg"
    Image.new("L", (8, 8)).save(path, exif=b"Exif\0\0" + tiff_bytes(outer, big_endian=big_endian))

    outside, inside = _exif(path)

    assert (outside[0x010F], outside[0x0110]) == ("OSTERLY", "N7")
    assert (float(inside[0x829A]), inside[0x8827]) == (1 / 125, 400)
    assert math.isnan(float(inside[0x829D]))
