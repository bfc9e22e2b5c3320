"""Our two lanes against libexiv2, field by field, and against files that other libraries wrote."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import exiv2
import pytest
from PIL import Image, TiffImagePlugin

from auditor.readers.tags import Tags
from tests.readers.reference import IMAGE, PHOTO, PLACE, our_tags, read_with_exiv2, theirs

# Where the two differ, and who is right. Nothing else may differ.
SETTLED = {
    # The Exif item of both files holds a TIFF block at the offset its header gives, as ISO/IEC 23008-12 A.2.1 wants;
    # libexiv2 finds no Exif in them. Ours are right.
    ("samplefilehub.heif", "Orientation"): (1, None),
    ("spring_1440x960.heic", "DateTimeOriginal"): ("2020:12:03 15:04:31", None),
    ("spring_1440x960.heic", "SubSecTimeOriginal"): ("04", None),
}
# libexiv2 refuses a CR3 that is cut short after its metadata; there is nothing to compare with.
REFUSED = {"n-sample.cr3"}

PIEXIF = "piexif==1.1.3"
PIEXIF_SHA256 = "83cb35c606bf3a1ea1a8f0a25cb42cf17e24353fd82e87ae3884e74a302a5f1b"
"""Of the source package, which holds camera pictures; as the registry lists it."""


def differences(files: list[Path]) -> tuple[dict[tuple[str, str], tuple[object, object]], int, set[str]]:
    """Return what differs between us and libexiv2, how many values were compared, and files that it refuses."""
    names = {**PHOTO, **IMAGE, **PLACE}
    found: dict[tuple[str, str], tuple[object, object]] = {}
    compared, refused = 0, set()
    for file, values in zip(files, read_with_exiv2(files), strict=True):
        ours = our_tags(file.read_bytes(), "tolerant")
        if values is None:
            refused |= {file.name} if ours else set()
            continue
        reference = theirs(values)
        for tag, name in names.items():
            pair = (ours or {}).get(tag), reference.get(tag)
            compared += pair != (None, None)
            if pair[0] != pair[1]:
                found[file.name, name] = pair
    return found, compared, refused


def assert_lanes_agree(files: list[Path]) -> int:
    """Hold the fast lane to the tolerant one; return how many files the fast lane read."""
    fast_files = 0
    for file in files:
        content = file.read_bytes()
        fast = our_tags(content, "fast")
        if fast is not None:
            fast_files += 1
            assert fast == our_tags(content, "tolerant"), file.name
    return fast_files


@pytest.mark.real_frames
def test_every_field_of_the_real_frames(real_frames: Path) -> None:
    files = [file for file in sorted(real_frames.rglob("*")) if file.is_file() and file.suffix != ".md"]
    found, compared, refused = differences(files)
    assert compared > 700
    assert found == SETTLED
    assert refused == REFUSED
    assert assert_lanes_agree(files) > 60


@pytest.fixture(scope="session")
def piexif_pictures(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Fetch the source package with the registry's ordinary client, check its hash, take out its pictures."""
    folder = tmp_path_factory.mktemp("piexif")
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--no-binary", "piexif"]
    requirement = folder / "wanted.txt"
    requirement.write_text(f"{PIEXIF} --hash=sha256:{PIEXIF_SHA256}\n")
    done = subprocess.run(
        [*command, "-r", str(requirement), "-d", str(folder)],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    packages = list(folder.glob("piexif-*.zip"))
    if not packages:
        if os.environ.get("CI"):
            pytest.fail(f"the registry did not give {PIEXIF}: {done.stderr[-600:]}")
        pytest.skip(f"the package registry cannot be reached: {done.stderr.strip().splitlines()[-1:]}")
    content = packages[0].read_bytes()
    assert hashlib.sha256(content).hexdigest() == PIEXIF_SHA256
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        for name in package.namelist():
            if "/tests/images/" in name and not name.endswith("/"):
                (folder / Path(name).name).write_bytes(package.read(name))
    return sorted(file for file in folder.iterdir() if file.suffix in (".jpg", ".tif"))


def test_every_field_of_the_piexif_packages_pictures(piexif_pictures: list[Path]) -> None:
    found, compared, refused = differences(piexif_pictures)
    assert compared > 150
    assert found == {}
    assert refused == set()
    assert assert_lanes_agree(piexif_pictures) >= 10


def test_exif_that_pillow_wrote() -> None:
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Silverline", "Silverline 2", 6
    inner = exif.get_ifd(0x8769)
    ratio = TiffImagePlugin.IFDRational
    inner.update({0x829A: ratio(1, 250), 0x829D: ratio(28, 10), 0x920A: ratio(50, 1), 0x8827: 200})
    inner.update({0x9003: "2026:05:02 14:20:31", 0xA434: "Orla 50 mm f/1.4"})
    stream = io.BytesIO()
    Image.new("RGB", (64, 48)).save(stream, "JPEG", exif=exif)
    expected: Tags = {0x010F: "Silverline", 0x0110: "Silverline 2", 0x0112: 6, 0x829A: 1 / 250, 0x829D: 2.8}
    expected |= {0x920A: 50.0, 0x8827: 200, 0x9003: "2026:05:02 14:20:31", 0xA434: "Orla 50 mm f/1.4"}
    for lane in ("fast", "tolerant"):
        tags = our_tags(stream.getvalue(), lane)
        assert tags is not None
        assert {tag: tags[tag] for tag in expected} == expected


@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "PNG", "WEBP"])
def test_exif_that_exiv2_wrote(kind: str, tmp_path: Path) -> None:
    file = tmp_path / "picture"
    Image.new("RGB", (64, 48)).save(file, kind)
    image = exiv2.ImageFactory.open(str(file))
    image.readMetadata()
    exif = image.exifData()
    exif["Exif.Image.Make"] = "Silverline"
    exif["Exif.Photo.ExposureTime"] = "1/250"
    exif["Exif.Photo.LensSpecification"] = "35/1 70/1 35/10 45/10"
    exif["Exif.Photo.DateTimeOriginal"] = "2026:05:02 14:20:31"
    exif["Exif.Photo.FocalLengthIn35mmFilm"] = "70"
    image.setExifData(exif)
    image.writeMetadata()
    for lane in ("fast", "tolerant"):
        tags = our_tags(file.read_bytes(), lane)
        assert tags is not None
        assert (tags[0x010F], tags[0x829A], tags[0xA432]) == ("Silverline", 1 / 250, (35.0, 70.0, 3.5, 4.5))
        assert (tags[0x9003], tags[0xA405]) == ("2026:05:02 14:20:31", 70)
