"""Where a frame was made: rounded, and absent wherever anything is not certain."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import exiv2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from auditor.readers.frames import File, Frame, read_frame
from auditor.readers.picture import decode
from auditor.readers.places import written_place
from auditor.readers.problems import Problem
from auditor.readers.records import Record
from auditor.readers.xmp import place
from tests.readers import making
from tests.readers.making import AT_SEA, Entry, app1, app1_xmp, exposure_block, jpeg
from tests.readers.reference import our_tags, read_with_exiv2, theirs, window_on
from tests.readers.test_containers import jxl_codestream, row, rw2

THERE = (46.21, -11.62)
"""`making.AT_SEA` to 0.01°: 46 + 12/60 + 34.56/3600 = 46.2096, 11 + 37/60 + 5/3600 = 11.6181."""

BLOCK = exposure_block(gps=AT_SEA)
IN_EVERY_FORMAT = {
    "jpeg": jpeg(app1(BLOCK)),
    "jpeg, other order": jpeg(app1(exposure_block(">", gps=AT_SEA))),
    "tiff": exposure_block(first=[(0x0100, 4, 900), (0x0101, 4, 600)], gps=AT_SEA),
    "orf": exposure_block(magic=0x4F52, gps=AT_SEA),
    "rw2": rw2(AT_SEA),
    "heif": making.heif([(2, BLOCK)], properties=[making.ispe(6000, 4000)]),
    "cr3": making.cr3(
        making.tiff("<", [making.MAKE]), making.tiff("<", making.EXPOSURE), b"", making.tiff("<", AT_SEA)
    ),
    "raf": making.raf(jpeg(app1(BLOCK)), 6160, 4128),
    "webp": making.webp((b"EXIF", BLOCK)),
    "png": making.png((b"eXIf", BLOCK)),
    "jxl": b"\0\0\0\x0cJXL \r\n\x87\n"
    + making.box(b"Exif", bytes(4) + BLOCK)
    + making.box(b"jxlc", jxl_codestream(600, 400, 1)),
}


def found(read: Record) -> tuple[float | None, float | None]:
    return read.latitude_deg, read.longitude_deg


@pytest.mark.parametrize("content", IN_EVERY_FORMAT.values(), ids=IN_EVERY_FORMAT.keys())
def test_the_place_is_read_from_every_format(content: bytes) -> None:
    read = row(content)
    assert read.problem is None
    assert found(read) == THERE


def test_the_fast_lane_reads_it_and_a_block_without_place_stays_fast() -> None:
    for block in (BLOCK, exposure_block()):
        decoded = decode(window_on(block), (0, len(block)))
        assert decoded is not None
        assert (decoded.lane, decoded.is_whole, decoded.is_placed) == ("fast", True, True)


def with_gps(**changed: Entry | None) -> Record:
    """Return what is read with some entries replaced, named t1, t2, …; None leaves one out."""
    entries = {f"t{tag}": (tag, kind, value) for tag, kind, value in AT_SEA} | changed
    gps = [entry for entry in entries.values() if entry is not None]
    return row(jpeg(app1(exposure_block(gps=gps))))


def dms(*parts: tuple[int, int]) -> list[tuple[int, int]]:
    return list(parts)


# CIPA DC-008, GPSLatitude: "dd/1, mm/1, ss/1", or with fractions of minutes "dd/1, mmmm/100, 0/1".
@pytest.mark.published
@pytest.mark.parametrize(
    ("latitude", "expected"),
    [
        (dms((46, 1), (12, 1), (34, 1)), 46.21),
        (dms((46, 1), (1257, 100), (0, 1)), 46.21),
        (dms((4621, 100), (0, 1), (0, 1)), 46.21),
        (dms((89, 1), (60, 1), (0, 1)), 90.0),
        (dms((0, 1), (0, 1), (0, 1)), 0.0),
    ],
)
def test_degrees_minutes_and_seconds_in_each_form(latitude: object, expected: float) -> None:
    assert found(with_gps(t2=(2, 5, latitude))) == (expected, -11.62)


@pytest.mark.parametrize(
    "changed",
    [
        {"t1": None},
        {"t3": None},
        {"t2": None},
        {"t4": None},
        {"t1": (1, 2, "")},
        {"t1": (1, 2, "E")},
        {"t3": (3, 2, "N")},
        {"t1": (1, 7, b"N\0")},
        {"t1": (1, 2, "north by night")},
        {"t2": (2, 5, dms((46, 0), (12, 1), (0, 1)))},
        {"t2": (2, 5, dms((46, 1), (12, 1), (0, 0)))},
        {"t2": (2, 5, dms((0, 0), (0, 0), (0, 0)))},
        {"t2": (2, 5, dms((90, 1), (1, 1), (0, 1)))},
        {"t2": (2, 5, dms((46, 1), (61, 1), (0, 1)))},
        {"t2": (2, 5, dms((46, 1), (0, 1), (4677, 1)))},
        {"t2": (2, 10, dms((-46, 1), (12, 1), (0, 1)))},
        {"t2": (2, 5, dms((46, 1), (12, 1)))},
        {"t2": (2, 5, dms((46, 1), (12, 1), (0, 1), (0, 1)))},
        {"t2": (2, 2, "46.2 degrees")},
        {"t2": (2, 12, [46.0, 12.0, float("nan")])},
        {"t4": (4, 5, dms((180, 1), (0, 1), (1, 1)))},
        {"t4": (4, 5, dms((0xFFFFFFFF, 1), (0, 1), (0, 1)))},
        {"t9": (9, 2, "V")},
        {"t2": (2, 5, dms((0, 1), (0, 1), (0, 1))), "t4": (4, 5, dms((0, 9), (0, 9), (0, 9)))},
    ],
)
def test_what_is_not_certain_is_absent_and_no_damage(changed: dict[str, Entry | None]) -> None:
    read = with_gps(**changed)
    assert found(read) == (None, None)
    assert read.problem is None
    assert read.lens_model == "Orla 50 mm f/1.4"


def test_signed_ratios_small_letters_and_the_far_side_of_the_world() -> None:
    assert found(with_gps(t2=(2, 10, dms((46, 1), (12, 1), (0, 1))))) == (46.2, -11.62)
    assert found(with_gps(t1=(1, 2, "s"))) == (-46.21, -11.62)
    assert found(with_gps(t4=(4, 5, dms((180, 1), (0, 1), (0, 1))))) == (46.21, 180.0)
    assert found(with_gps(t4=(4, 5, dms((179, 1), (59, 1), (59, 1))))) == (46.21, 180.0)
    west = with_gps(t4=(4, 5, dms((0, 1), (0, 1), (3, 1))))
    assert str(west.longitude_deg) == "0.0"
    assert found(with_gps(t9=None)) == THERE


def test_nothing_finer_than_a_hundredth_of_a_degree_leaves_the_reader() -> None:
    decoded = decode(window_on(BLOCK), (0, len(BLOCK)))
    assert decoded is not None
    assert decoded.tags[0x8825] == THERE


def pointing(to: int, behind: bytes = b"") -> bytes:
    block = making.tiff("<", [making.MAKE, (0x8825, 4, to)], making.EXPOSURE)
    return jpeg(app1(block + behind))


@pytest.mark.parametrize(("to", "problem"), [(0, None), (4, None), (60_000, Problem.DAMAGED_EXIF)])
def test_a_pointer_to_nothing_costs_the_place_alone(to: int, problem: Problem | None) -> None:
    read = row(pointing(to))
    assert (*found(read), read.problem) == (None, None, problem)
    assert (read.exposure_time_s, read.lens_model) == (1 / 250, "Orla 50 mm f/1.4")


@pytest.mark.parametrize("entry", [(0x8825, 2, "nowhere at all"), (0x8825, 5, (26, 1)), (0x8825, 4, [26, 26])])
def test_a_pointer_that_is_none_costs_neither_time_nor_a_complaint(entry: Entry) -> None:
    block = making.tiff("<", [making.MAKE, entry], making.EXPOSURE)
    decoded = decode(window_on(block), (0, len(block)))
    assert decoded is not None
    assert (decoded.lane, decoded.is_whole, decoded.tags[0x8825]) == ("fast", True, None)
    assert our_tags(block, "tolerant") == our_tags(block, "fast")


def test_an_empty_directory_is_no_damage_and_one_that_claims_too_much_is() -> None:
    at = len(making.tiff("<", [making.MAKE, (0x8825, 4, 0)], making.EXPOSURE))
    assert row(pointing(at, bytes(6))).problem is None
    assert row(pointing(at, b"\5\0" + bytes(12))).problem == Problem.DAMAGED_EXIF
    far = struct.pack("<HHHII", 1, 2, 5, 3, 0x00FFFFFF)
    assert row(pointing(at, far)).problem == Problem.DAMAGED_EXIF


@given(st.binary(max_size=200), st.sampled_from("<>"))
def test_any_bytes_as_a_directory(content: bytes, order: str) -> None:
    mark = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HI", 42, 8)
    block = mark + making.ifd(order, 8, [(0x8825, 4, 26)]) + content
    read = row(jpeg(app1(block)))
    both = [value is None for value in found(read)]
    assert both[0] == both[1]
    assert read.latitude_deg is None or abs(read.latitude_deg) <= 90
    assert read.longitude_deg is None or abs(read.longitude_deg) <= 180


# ---- XMP ------------------------------------------------------------------------------------------------------------


def packet(
    latitude: str = "46,12.576N", longitude: str = "11,37,5W", form: str = "attribute", prefix: str = "exif"
) -> str:
    names = f'xmlns:{prefix}="http://ns.adobe.com/exif/1.0/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="3"'
    values = {f"{prefix}:GPSLatitude": latitude, f"{prefix}:GPSLongitude": longitude}
    if form == "attribute":
        inner = f"<rdf:Description {names} {' '.join(f'{key}={value!r}' for key, value in values.items())}/>"
    else:
        elements = "".join(f"<{key}>{value}</{key}>" for key, value in values.items())
        inner = f"<rdf:Description {names}>{elements}</rdf:Description>"
    rdf = f'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">{inner}</rdf:RDF>'
    return f'<x:xmpmeta xmlns:x="adobe:ns:meta/">{rdf}</x:xmpmeta>'


@pytest.mark.parametrize(
    "content",
    [
        packet().encode(),
        packet(form="element").encode(),
        packet(prefix="e").encode(),
        b"<!-- a note -->" + packet().encode(),
        packet().encode("utf-16"),
        packet().replace('"http://ns.adobe.com/exif/1.0/"', "'http://ns.adobe.com/exif/1.0/'").encode(),
    ],
)
def test_a_place_however_it_is_written(content: bytes) -> None:
    assert place(content) == THERE


# XMP specification part 2, GPSCoordinate: "DDD,MM,SSk" or "DDD,MM.mmk"; MM.mm with at least two digits is recommended.
@pytest.mark.published
@pytest.mark.parametrize(
    ("latitude", "longitude", "expected"),
    [
        ("46,12,34N", "11,37,05W", (46.21, -11.62)),
        ("46,12.57N", "011,37.08W", (46.21, -11.62)),
        ("46,12.576000S", "11,37.083333E", (-46.21, 11.62)),
        (" 46,12,34.56N ", "11,37,5W", (46.21, -11.62)),
        ("0,0,0N", "0,0,0E", None),
        ("91,0,0N", "11,37,5W", None),
        ("46,61,0N", "11,37,5W", None),
        ("46,12.5,3N", "11,37,5W", None),
        ("46,12,34", "11,37,5W", None),
        ("46,12,34E", "11,37,5W", None),
        ("46.21N", "11,37,5W", None),
        ("-46,12,34N", "11,37,5W", None),
        ("٤٦,12,34N", "11,37,5W", None),
        ("", "11,37,5W", None),
        (None, None, None),
    ],
)
def test_coordinates_of_xmp(latitude: str | None, longitude: str | None, expected: tuple[float, float] | None) -> None:
    assert written_place(latitude, longitude) == expected


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GPSLongitude",
        packet(latitude="somewhere").encode(),
        packet().replace("GPSLatitude", "Latitude").encode(),
        packet().replace("adobe.com/exif", "example.com/exif").encode(),
        packet().encode()[:-40] + b"<!",
        b"\xff\xfeGPSLongitude",
        b'<!DOCTYPE a [<!ENTITY r "4">]>' + packet().encode(),
    ],
)
def test_what_is_no_place(content: bytes) -> None:
    assert place(content) is None


def test_exif_outranks_the_packet_inside_the_file_which_stands_in_for_it() -> None:
    other = app1_xmp(packet("10,0,0S", "20,0,0E").encode())
    assert found(row(jpeg(app1(BLOCK), other))) == THERE
    assert found(row(jpeg(app1(exposure_block()), other))) == (-10.0, 20.0)
    assert found(row(jpeg(other))) == (-10.0, 20.0)


def test_a_sidecar_outranks_both_and_a_companion_fills_in(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(jpeg(app1(BLOCK)))
    (tmp_path / "a.jpg.xmp").write_text(making.xmp_packet(4).decode())
    (tmp_path / "a.xmp").write_text(packet("10,0,0S", "20,0,0E"))
    beside = File("a.jpg", 1, 1, ("a.jpg.xmp", "a.xmp", "gone.xmp"))
    [read] = read_frame(str(tmp_path), Frame(beside))
    assert (*found(read), read.rating) == (-10.0, 20.0, 4)
    (tmp_path / "a.orf").write_bytes(exposure_block(magic=0x4F52))
    [read] = read_frame(str(tmp_path), Frame(File("a.orf", 1, 1), File("a.jpg", 1, 1)))
    assert found(read) == THERE


# ---- against libexiv2 -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "PNG", "WEBP"])
@pytest.mark.parametrize(
    ("latitude", "longitude", "status"),
    [
        ("N 46/1 12/1 3456/100", "W 11/1 37/1 5/1", "A"),
        ("S 33/1 515/10 0/1", "E 151/1 1254/100 0/1", ""),
        ("N 59/1 59/1 59/1", "E 0/1 0/1 1/1", ""),
        ("S 0/1 0/1 18/1", "W 178/1 59/1 59/1", ""),
        ("N 46/1 12/1 0/0", "W 11/1 37/1 5/1", ""),
        ("N 0/1 0/1 0/1", "E 0/1 0/1 0/1", "V"),
        ("N 46/1 12/1 3456/100", "W 11/1 37/1 5/1", "V"),
    ],
)
def test_places_that_exiv2_wrote(kind: str, latitude: str, longitude: str, status: str, tmp_path: Path) -> None:
    file = tmp_path / "picture"
    stream = io.BytesIO()
    Image.new("RGB", (64, 48)).save(stream, kind)
    file.write_bytes(stream.getvalue())
    image = exiv2.ImageFactory.open(str(file))
    image.readMetadata()
    exif = image.exifData()
    for name, text in (("Latitude", latitude), ("Longitude", longitude)):
        exif[f"Exif.GPSInfo.GPS{name}Ref"], exif[f"Exif.GPSInfo.GPS{name}"] = text.split(" ", 1)
    if status:
        exif["Exif.GPSInfo.GPSStatus"] = status
    image.setExifData(exif)
    image.writeMetadata()
    [values] = read_with_exiv2([file])
    assert values is not None
    reference = theirs(values).get(0x8825)
    for lane in ("fast", "tolerant"):
        tags = our_tags(file.read_bytes(), lane)
        assert tags is not None
        assert tags.get(0x8825) == reference
    assert (reference is None) == (status == "V" or "0/0" in latitude)
