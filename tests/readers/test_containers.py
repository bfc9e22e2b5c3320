"""What is read from which container, on files made by hand after each container's standard."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from auditor.readers.picture import decode, read_picture
from auditor.readers.problems import Problem
from auditor.readers.records import Record, record
from tests.readers import making
from tests.readers.making import app1, app1_xmp, exposure_block, jpeg, segment, xmp_packet
from tests.readers.reference import window_on


def row(content: bytes) -> Record:
    picture = read_picture(window_on(content))
    return record(("a", len(content), 0), picture.tags, picture.fixed)


def assert_exposure(read: Record) -> None:
    """The fields of `making.EXPOSURE`."""
    assert read.problem is None
    assert (read.make, read.model, read.body_serial_number) == ("Silverline", "Silverline 2", "BX00417")
    assert (read.lens_make, read.lens_model, read.lens_serial_number) == ("Orla", "Orla 50 mm f/1.4", "L0093")
    assert (read.lens_min_focal_mm, read.lens_max_focal_mm) == (50.0, 50.0)
    assert read.captured_at == int(np.datetime64("2026-05-02T14:20:31.25", "us").astype(np.int64))
    assert read.offset_minutes == 120
    assert (read.exposure_time_s, read.f_number, read.photographic_sensitivity) == (1 / 250, 2.8, 200)
    assert (read.focal_length_mm, read.focal_length_35mm_mm, read.subject_distance_m) == (50.0, 100.0, 2.5)
    assert read.max_aperture_f_number == pytest.approx(2 ** (97 / 64))
    assert read.flash_fired is True


BEFORE = {
    "nothing": b"",
    "JFIF": segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0"),
    "a colour profile of 60 KB": segment(0xE2, b"ICC_PROFILE\0\1\1" + bytes(60_000)),
    "two colour profiles, past the first 64 KiB": segment(0xE2, bytes(60_000)) * 2,
    "XMP of 9 KB": app1_xmp(xmp_packet(3) + b" " * 9000),
    "quantisation tables": segment(0xDB, bytes(65)),
    "fill bytes": b"\xff" * 7,
    "a comment": segment(0xFE, b"by hand"),
}


@pytest.mark.parametrize("before", BEFORE.values(), ids=BEFORE.keys())
@pytest.mark.parametrize("order", ["<", ">"])
def test_exif_is_found_behind_any_segment(before: bytes, order: str) -> None:
    read = row(jpeg(before, app1(exposure_block(order))))
    assert_exposure(read)
    assert (read.format, read.orientation) == ("jpeg", 6)
    assert (read.image_width_px, read.image_height_px) == (4000, 3000)


def test_the_pictures_own_size_wins_over_a_stale_one_in_exif() -> None:
    block = exposure_block(extra=[(0xA002, 4, 9999), (0xA003, 4, 8888)])
    assert row(jpeg(app1(block), width=800, height=600))[24:26] == (800, 600)


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", Problem.EMPTY),
        (b"Dear diary, today", Problem.NOT_A_PICTURE),
        (b"II is how this text begins", Problem.NOT_A_PICTURE),
        (jpeg(), Problem.NO_EXIF),
        (b"\xff\xd8", Problem.DAMAGED_CONTAINER),
        (b"\xff\xd8" + segment(0xE2, bytes(9))[:-4], Problem.DAMAGED_CONTAINER),
        (jpeg(app1(b"nonsense")), Problem.DAMAGED_EXIF),
        (b"II\x1a\0\0\0HEAPCCDR" + bytes(20), Problem.NOT_READABLE_FORMAT),
        (b"FOVb" + bytes(40), Problem.NOT_READABLE_FORMAT),
        (b"II+\0\x08\0\0\0" + bytes(20), Problem.NOT_READABLE_FORMAT),
        (making.box(b"ftyp", b"isom\0\0\0\0isommp42") + bytes(40), Problem.NOT_A_PICTURE),
        (making.png(), Problem.NO_EXIF),
        (b"\xff\x0a" + bytes(40), Problem.NO_EXIF),
    ],
)
def test_every_empty_result_has_its_reason(content: bytes, problem: Problem) -> None:
    assert row(content).problem == problem.value


def heif_row(turn: bytes = b"", **options: Any) -> Record:
    properties = [making.ispe(6000, 4000), *([turn] if turn else [])]
    return row(making.heif([(2, exposure_block())], properties=properties, **options))


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"avif", b"avis", b"mif1"])
@pytest.mark.parametrize("base_offset", [False, True])
def test_heif_brands_and_base_offsets(brand: bytes, base_offset: bool) -> None:
    read = heif_row(brand=brand, base_offset=base_offset)
    assert_exposure(read)
    assert read.format == ("avif" if brand.startswith(b"av") else "heif")
    assert (read.image_width_px, read.image_height_px) == (6000, 4000)
    assert read.orientation == 1, "irot and imir govern in HEIF (ISO/IEC 23008-12), not Exif Orientation"


def test_of_two_exif_items_the_one_that_describes_the_primary_picture_counts() -> None:
    other = making.tiff("<", [(0x010F, 2, "Another")], [(0x829A, 5, (1, 2))])
    content = making.heif(
        [(2, other), (3, exposure_block())], describes=[(2, 9), (3, 1)], properties=[making.ispe(9, 9)]
    )
    assert_exposure(row(content))


# ISO/IEC 23008-12 6.5.10 and 6.5.12: irot turns counter-clockwise by quarter turns; imir then exchanges top and bottom
# (0) or left and right (1). What that does to a picture must be what Pillow does for the Exif Orientation we give.
@pytest.mark.published
@pytest.mark.parametrize("turns", [0, 1, 2, 3])
@pytest.mark.parametrize("mirror", [None, 0, 1])
def test_irot_and_imir_as_exif_orientation(turns: int, mirror: int | None) -> None:
    properties = [making.ispe(3, 2), making.box(b"irot", bytes([turns]))]
    if mirror is not None:
        properties.append(making.box(b"imir", bytes([mirror])))
    read = row(making.heif([(2, exposure_block())], properties=properties))
    stored = np.arange(6, dtype=np.uint8).reshape(2, 3)
    shown = np.rot90(stored, turns)
    if mirror is not None:
        shown = np.flipud(shown) if mirror == 0 else np.fliplr(shown)
    image = Image.fromarray(stored)
    image.getexif()[0x0112] = read.orientation
    assert np.array_equal(np.asarray(ImageOps.exif_transpose(image)), shown)


def test_cr3_keeps_its_blocks_apart() -> None:
    first = making.tiff("<", [making.MAKE, making.MODEL, (0x0100, 3, 6000), (0x0101, 3, 4000), (0x0112, 3, 8)])
    exif = making.tiff("<", [*making.EXPOSURE, (0xA002, 4, 6000), (0xA003, 4, 4000)])
    read = row(making.cr3(first, exif, making.tiff("<", [(0x0095, 2, "never read for this maker")])))
    assert_exposure(read)
    assert (read.format, read.orientation, read.image_width_px, read.image_height_px) == ("cr3", 8, 6000, 4000)


def test_raf_takes_exif_from_its_jpeg_and_the_size_from_its_sensor() -> None:
    read = row(making.raf(jpeg(app1(exposure_block()), width=1920, height=1280), 6160, 4128))
    assert_exposure(read)
    assert (read.format, read.image_width_px, read.image_height_px) == ("raf", 6160, 4128)


def rw2(gps: Sequence[making.Entry] = ()) -> bytes:
    preview = jpeg(app1(exposure_block(extra=[(0xA002, 4, 1920), (0xA003, 4, 1440)])), width=1920, height=1440)
    first: list[making.Entry] = [
        (0x0002, 3, 4700),
        (0x0003, 3, 3500),
        (0x0004, 3, 8),
        (0x0005, 3, 4),
        (0x0006, 3, 3472),
        (0x0007, 3, 4612),
        (0x0017, 3, 200),
        (0x002E, 7, preview),
        making.MAKE,
        making.MODEL,
        (0x0112, 3, 1),
    ]
    return making.tiff("<", first, magic=0x55, gps=gps)


def test_rw2_joins_its_first_directory_and_its_preview() -> None:
    read = row(rw2())
    assert_exposure(read)
    assert (read.format, read.orientation) == ("rw2", 1)
    assert (read.image_width_px, read.image_height_px) == (4608, 3464), "inside the borders, not the preview's"


def test_rw2_without_a_preview_has_the_sensitivity_of_its_own_tag() -> None:
    first = [(0x0017, 3, 400), making.MAKE, making.MODEL]
    read = row(making.tiff("<", first, [(0x829A, 5, (1, 60))], magic=0x55))
    assert (read.photographic_sensitivity, read.exposure_time_s, read.image_width_px) == (400, 1 / 60, None)


@pytest.mark.parametrize(("order", "magic"), [("<", 0x4F52), ("<", 0x5352), (">", 0x4F52)])
def test_orf_under_its_own_marks(order: str, magic: int) -> None:
    size = [(0x0100, 4, 4640), (0x0101, 4, 3472)]
    extra = [(0xA002, 4, 4608), (0xA003, 4, 3456)]
    read = row(exposure_block(order, extra=extra, first=size, magic=magic))
    assert_exposure(read)
    assert (read.format, read.image_width_px, read.image_height_px) == ("orf", 4608, 3456), "without the sensor's edge"


def raw_with_pictures(make: str, first: list[making.Entry], below: list[list[making.Entry]]) -> bytes:
    """A TIFF-based raw file with pictures below its first IFD."""
    head = [(0x010F, 2, make), (0x00FE, 4, 1), (0x0100, 4, 160), (0x0101, 4, 120), *first]
    offsets = [0] * len(below)
    for _ in range(2):
        at = 8 + len(making.ifd("<", 8, [*head, (0x014A, 4, offsets)]))
        blocks = []
        for number, entries in enumerate(below):
            offsets[number] = at
            blocks.append(making.ifd("<", at, entries))
            at += len(blocks[-1])
    return b"II*\0\x08\0\0\0" + making.ifd("<", 8, [*head, (0x014A, 4, offsets)]) + b"".join(blocks)


CFA: list[making.Entry] = [(0x00FE, 4, 0), (0x0100, 4, 6048), (0x0101, 4, 4024), (0x0106, 3, 32803)]
PREVIEW: list[making.Entry] = [(0x00FE, 4, 1), (0x0100, 4, 7000), (0x0101, 4, 5000), (0x0106, 3, 6)]


@pytest.mark.parametrize(
    ("make", "first", "kind"),
    [
        ("NIKON CORPORATION", [], "nef"),
        ("SONY", [], "arw"),
        ("RICOH IMAGING COMPANY, LTD.", [], "pef"),
        ("Silverline", [], "raw"),
        ("Silverline", [(0xC612, 1, [1, 4, 0, 0, 0])], "dng"),
    ],
)
def test_tiff_based_raw_by_content_with_the_size_of_its_main_picture(
    make: str, first: list[making.Entry], kind: str
) -> None:
    read = row(raw_with_pictures(make, first, [PREVIEW, CFA]))
    assert (read.format, read.image_width_px, read.image_height_px) == (kind, 6048, 4024)


def test_dng_names_the_crop_that_is_the_picture() -> None:
    crop: list[making.Entry] = [*CFA, (0xC620, 5, [(6000, 1), (4000, 1)])]
    read = row(raw_with_pictures("Silverline", [(0xC612, 1, [1, 4, 0, 0, 0])], [crop]))
    assert (read.image_width_px, read.image_height_px) == (6000, 4000)


def test_a_tiff_without_a_raw_picture_is_a_tiff() -> None:
    content = making.tiff("<", [making.MAKE, (0x0100, 3, 900), (0x0101, 3, 600), (0x0106, 3, 2)], making.EXPOSURE)
    assert row(content)[3] == "tiff"
    assert row(content)[24:26] == (900, 600)


@pytest.mark.parametrize("prefix", [b"", b"Exif\0\0"])
def test_webp_with_and_without_the_jpeg_prefix(prefix: bytes) -> None:
    canvas = bytes([8, 0, 0, 0]) + (639).to_bytes(3, "little") + (425).to_bytes(3, "little")
    read = row(making.webp((b"VP8X", canvas), (b"EXIF", prefix + exposure_block()), (b"XMP ", xmp_packet(5))))
    assert_exposure(read)
    assert (read.format, read.image_width_px, read.image_height_px, read.rating) == ("webp", 640, 426, 5)


def test_png_with_exif_and_xmp() -> None:
    text = b"XML:com.adobe.xmp\0\0\0\0\0" + xmp_packet(4)
    read = row(making.png((b"iTXt", text), (b"eXIf", exposure_block(">"))))
    assert_exposure(read)
    assert (read.format, read.image_width_px, read.image_height_px, read.rating) == ("png", 30, 20, 4)


def test_png_and_webp_sizes_as_pillow_wrote_them() -> None:
    picture = Image.new("RGB", (123, 77))
    for kind, options in (("PNG", {}), ("WEBP", {}), ("WEBP", {"lossless": True})):
        stream = io.BytesIO()
        picture.save(stream, kind, **options)
        assert row(stream.getvalue())[24:26] == (123, 77)


JXL_HEAD = b"\0\0\0\x0cJXL \r\n\x87\n" + making.box(b"ftyp", b"jxl \0\0\0\0jxl ")


def jxl_codestream(width: int, height: int, orientation: int) -> bytes:
    """ISO/IEC 18181-1 D.2 and D.3, lowest bit first: not small, both sides as 13 bits and less, ratio 0."""
    bits = "0" + f"{1:02b}"[::-1] + f"{height - 1:013b}"[::-1] + "000" + f"{1:02b}"[::-1] + f"{width - 1:013b}"[::-1]
    bits += "0" + "1" + f"{orientation - 1:03b}"[::-1]
    return b"\xff\x0a" + int(bits[::-1], 2).to_bytes(30, "little")


def test_jpeg_xl_boxes() -> None:
    exif = making.box(b"Exif", struct.pack(">I", 0) + exposure_block())
    stream = making.box(b"jxlc", jxl_codestream(6000, 4000, 3))
    read = row(JXL_HEAD + exif + making.box(b"xml ", xmp_packet(2)) + stream)
    assert_exposure(read)
    assert (read.format, read.image_width_px, read.image_height_px) == ("jxl", 6000, 4000)
    assert (read.orientation, read.rating) == (3, 2)


def test_jpeg_xl_whose_exif_is_compressed_says_so() -> None:
    read = row(JXL_HEAD + making.box(b"brob", b"Exif" + bytes(30)) + making.box(b"jxlc", jxl_codestream(64, 48, 1)))
    assert (read.problem, read.image_width_px) == (Problem.COMPRESSED_EXIF.value, 64)


def test_mrw() -> None:
    block = exposure_block(">")
    content = b"\0MRM" + struct.pack(">I", 8 + len(block)) + b"\0TTW" + struct.pack(">I", len(block)) + block
    assert_exposure(row(content))
    assert row(content).format == "mrw"


UNUSUAL: list[making.Entry] = [(0x829A, 10, (1, 250)), (0x829D, 11, 5.5), (0x8827, 1, 100), (0xA434, 129, "Hale ƒ/2")]


def test_types_that_break_the_standard_are_read_by_the_tolerant_lane() -> None:
    content = jpeg(app1(making.tiff("<", [making.MAKE], UNUSUAL)))
    decoded = decode(window_on(content), (12, len(content)))
    assert decoded is not None
    assert decoded.lane == "tolerant"
    read = row(content)
    assert (read.exposure_time_s, read.f_number, read.photographic_sensitivity) == (1 / 250, 5.5, 100)
    assert read.lens_model == "Hale ƒ/2", "Exif 3.0, type 129"


def test_text_in_another_code_page_is_kept_readable() -> None:
    read = row(jpeg(app1(making.tiff("<", [(0x010F, 2, b"F\xe4rg AB\0")]))))
    assert read.make == "Färg AB"


@pytest.mark.parametrize("value", [(0x0112, 2, "3"), (0x8769, 2, "here"), (0x0112, 3, 9)])
def test_values_of_another_nature_are_absent(value: making.Entry) -> None:
    read = row(jpeg(app1(making.tiff("<", [making.MAKE, value]))))
    assert (read.make, read.orientation, read.exposure_time_s) == ("Silverline", None, None)
