"""What the two bodies write into their files and what judging adds: Exif, XMP, and JPEG or DNG around them."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PIL import Image

from sample_library.cast import Cast, Lens
from sample_library.shots import PICTURE_PX, Shot
from sample_library.tiff import (
    BYTE,
    LONG,
    SHORT,
    Directory,
    Field,
    ascii_field,
    numbers,
    rationals,
    tiff_bytes,
    undefined,
)

__all__ = ["dng_bytes", "exif_block", "jpeg_with", "xmp_packet"]

# Tags of Exif 3.0 (CIPA DC-008) and TIFF 6.0, by the standard's names.
MAKE, MODEL, ORIENTATION, SOFTWARE, DATE_TIME, ARTIST = 0x010F, 0x0110, 0x0112, 0x0131, 0x0132, 0x013B
EXIF_IFD, EXPOSURE_TIME, F_NUMBER, SENSITIVITY, EXIF_VERSION = 0x8769, 0x829A, 0x829D, 0x8827, 0x9000
DATE_TIME_ORIGINAL, OFFSET_TIME_ORIGINAL, MAX_APERTURE, SUBJECT_DISTANCE = 0x9003, 0x9011, 0x9205, 0x9206
FLASH, FOCAL_LENGTH, SUB_SEC_TIME_ORIGINAL, PIXEL_X, PIXEL_Y = 0x9209, 0x920A, 0x9291, 0xA002, 0xA003
GPS_IFD, GPS_VERSION, GPS_STATUS = 0x8825, 0x0000, 0x0009
LATITUDE_REF, LATITUDE, LONGITUDE_REF, LONGITUDE = 0x0001, 0x0002, 0x0003, 0x0004
FOCAL_LENGTH_35MM, BODY_SERIAL, LENS_SPECIFICATION, LENS_MAKE, LENS_MODEL = 0xA405, 0xA431, 0xA432, 0xA433, 0xA434

PHOTOGRAPHER = "Maren Oake"
NOT_KNOWN = (0, 0)
FULL_FRAME_DIAGONAL_MM = 43.2666
NEW_FIRMWARE_MONTH = 7
"""From July both bodies run newer firmware, which leaves out what it does not know in another way."""

_XMP_HEADER = b"http://ns.adobe.com/xap/1.0/\0"
_JFIF_END = 20  # SOI and the JFIF segment that Pillow writes; an Exif file begins with Exif instead
_RAW_LEVELS_BIT = 8


def _of_lens(shot: Shot, lens: Lens) -> list[Field]:
    """Return what the body knows about a lens: all from its contacts, else what was typed, else next to nothing."""
    segment, is_new = shot.segment, shot.taken_at.month >= NEW_FIRMWARE_MONTH
    if lens.contacts:
        focal, widest = round(lens.focal_mm[0]), round(10 * lens.max_aperture)
        apex = round(200 * float(np.log2(lens.max_aperture)))
        return [
            rationals(F_NUMBER, (round(10 * segment.aperture), 10)),
            rationals(FOCAL_LENGTH, (10 * focal, 10)),
            rationals(MAX_APERTURE, (apex, 100)),
            rationals(
                SUBJECT_DISTANCE, (round(100 * segment.distance_m), 100) if segment.distance_m < 50 else (0xFFFFFFFF, 1)
            ),
            rationals(LENS_SPECIFICATION, (focal, 1), (focal, 1), (widest, 10), (widest, 10)),
            ascii_field(LENS_MAKE, "LUMBRY"),
            ascii_field(LENS_MODEL, lens.exif_names[0]),
        ]
    typed = round(segment.typed or 0)
    if segment.body == "one":
        return [
            rationals(F_NUMBER, NOT_KNOWN),
            rationals(FOCAL_LENGTH, (10 * typed, 10)),
            rationals(SUBJECT_DISTANCE, NOT_KNOWN),
            rationals(LENS_SPECIFICATION, NOT_KNOWN, NOT_KNOWN, NOT_KNOWN, NOT_KNOWN),
            ascii_field(LENS_MODEL, " " * 32 if is_new else "----"),
        ]
    known = [rationals(FOCAL_LENGTH, (typed, 1)), ascii_field(LENS_MODEL, segment.listed or "")]
    return [*known, rationals(F_NUMBER, (0, 1))] if is_new else known


def _of_time(shot: Shot) -> list[Field]:
    if shot.is_odd("no-date"):
        return []
    clock = shot.clock_at
    month = 0 if shot.is_odd("month-zero") else clock.month
    text = f"{clock:%Y}:{month:02d}:{clock:%d %H:%M:%S}"
    fields = [
        ascii_field(DATE_TIME_ORIGINAL, text),
        ascii_field(SUB_SEC_TIME_ORIGINAL, f"{clock.microsecond // 10000:02d}"),
    ]
    if shot.segment.body == "two":
        hours, minutes = divmod(shot.offset_minutes, 60)
        fields.append(ascii_field(OFFSET_TIME_ORIGINAL, f"+{hours:02d}:{minutes:02d}"))
    return fields


def _exposure(shot: Shot, cast: Cast) -> Directory:
    segment, body, lens = shot.segment, cast.bodies[shot.segment.body], cast.lenses[shot.segment.lens]
    crop = FULL_FRAME_DIAGONAL_MM / float(np.hypot(*body.sensor_mm))
    equivalent = round(crop * (segment.typed or lens.focal_mm[0]))
    exposure = Fraction(1) / Fraction(shot.shutter)
    return Directory(
        (
            rationals(EXPOSURE_TIME, (exposure.numerator, exposure.denominator)),
            numbers(SENSITIVITY, SHORT, segment.iso),
            undefined(EXIF_VERSION, b"0232"),
            numbers(FLASH, SHORT, 0x19 if segment.flash else 0x10),
            numbers(PIXEL_X, LONG, PICTURE_PX[0]),
            numbers(PIXEL_Y, LONG, PICTURE_PX[1]),
            numbers(FOCAL_LENGTH_35MM, SHORT, equivalent),
            ascii_field(BODY_SERIAL, body.serial),
            *_of_time(shot),
            *_of_lens(shot, lens),
        )
    )


def _heading(shot: Shot, cast: Cast) -> tuple[Field, ...]:
    body = cast.bodies[shot.segment.body]
    firmware = "1.3" if shot.taken_at.month >= NEW_FIRMWARE_MONTH else "1.2"
    return (
        ascii_field(MAKE, body.make),
        ascii_field(MODEL, body.model),
        numbers(ORIENTATION, SHORT, 6 if shot.vertical else 1),
        ascii_field(SOFTWARE, f"Ver.{firmware}"),
        ascii_field(ARTIST, PHOTOGRAPHER),
    )


def _of_place(shot: Shot) -> dict[int, Directory]:
    """Return the GPS directory of a frame of the black body: each a few metres from the one before."""
    at = shot.segment.at
    if shot.segment.body != "two" or at is None:
        return {}
    north, east = (degrees + (7 * shot.number % 10 - 4) * 0.0006 for degrees in at)
    return {
        GPS_IFD: Directory(
            (
                numbers(GPS_VERSION, BYTE, 2, 3, 0, 0),
                ascii_field(LATITUDE_REF, "N" if north >= 0 else "S"),
                rationals(LATITUDE, *_degrees_minutes_seconds(north)),
                ascii_field(LONGITUDE_REF, "E" if east >= 0 else "W"),
                rationals(LONGITUDE, *_degrees_minutes_seconds(east)),
                ascii_field(GPS_STATUS, "A"),
            )
        )
    }


def _degrees_minutes_seconds(degrees: float) -> tuple[tuple[int, int], ...]:
    hundredths = round(abs(degrees) * 360_000)
    minutes, seconds = divmod(hundredths, 6_000)
    return (minutes // 60, 1), (minutes % 60, 1), (seconds, 100)


def exif_block(shot: Shot, cast: Cast) -> bytes:
    """Return the TIFF block of a shot's Exif: little-endian from the silver body, big-endian from the black one."""
    root = Directory(_heading(shot, cast), {EXIF_IFD: _exposure(shot, cast), **_of_place(shot)})
    return tiff_bytes(root, big_endian=shot.segment.body == "two")


def xmp_packet(rating: int, *, as_element: bool = False) -> bytes:
    """
    Return an XMP packet with a rating, as an attribute or as an element: both forms are RDF's.

    Examples
    --------
    >>> b'xmp:Rating="3"' in xmp_packet(3)
    True
    """
    opening = (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/"'
    )
    stars = f"><xmp:Rating>{rating}</xmp:Rating></rdf:Description>" if as_element else f' xmp:Rating="{rating}"/>'
    head = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    return f'{head}{opening}{stars}</rdf:RDF></x:xmpmeta>\n<?xpacket end="w"?>\n'.encode()


def _segment(marker: int, content: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(content) + 2).to_bytes(2, "big") + content


def jpeg_with(picture: bytes, exif: bytes, xmp: bytes | None) -> bytes:
    """Return a JPEG with its Exif, and its XMP where there is some, in the place of the JFIF segment."""
    extra = _segment(0xE1, _XMP_HEADER + xmp) if xmp else b""
    return picture[:2] + _segment(0xE1, b"Exif\0\0" + exif) + extra + picture[_JFIF_END:]


def dng_bytes(picture: Image.Image, shot: Shot, cast: Cast, xmp: bytes | None) -> bytes:
    """
    Return a raw file: a small preview in front and the full mosaic of red, green and blue below it (DNG 1.4).

    It is what readers of metadata need, not a picture for developing: eight bits a pixel and no colour matrix
    worth the name.
    """
    stored = picture.transpose(Image.Transpose.ROTATE_90) if shot.vertical else picture
    colours = np.asarray(stored)
    mosaic = colours[:, :, 1].copy()  # green where neither of the others is
    mosaic[0::2, 0::2], mosaic[1::2, 1::2] = colours[0::2, 0::2, 0], colours[1::2, 1::2, 2]
    preview = np.asarray(stored.resize((PICTURE_PX[0] // 4, PICTURE_PX[1] // 4), Image.Resampling.BOX))
    full = Directory(
        (
            numbers(0x00FE, LONG, 0),  # NewSubfileType: the full picture
            *_raster(mosaic.shape[1], mosaic.shape[0], 32803, 1, mosaic.size),  # PhotometricInterpretation: CFA
            numbers(0x828D, SHORT, 2, 2),  # CFARepeatPatternDim
            numbers(0x828E, BYTE, 0, 1, 1, 2),  # CFAPattern: red green, green blue
        ),
        strip=mosaic.tobytes(),
    )
    root = Directory(
        (
            numbers(0x00FE, LONG, 1),  # NewSubfileType: reduced
            *_raster(preview.shape[1], preview.shape[0], 2, 3, preview.size),
            *_heading(shot, cast),
            *((Field(0x02BC, BYTE, xmp),) if xmp else ()),
            numbers(0xC612, BYTE, 1, 4, 0, 0),  # DNGVersion
            numbers(0xC613, BYTE, 1, 1, 0, 0),  # DNGBackwardVersion
            ascii_field(0xC614, cast.bodies[shot.segment.body].model),  # UniqueCameraModel
        ),
        {0x014A: full, EXIF_IFD: _exposure(shot, cast), **_of_place(shot)},
        preview.tobytes(),
    )
    return tiff_bytes(root, big_endian=shot.segment.body == "two")


def _raster(width: int, height: int, photometric: int, samples: int, length: int) -> tuple[Field, ...]:
    return (
        numbers(0x0100, LONG, width),
        numbers(0x0101, LONG, height),
        numbers(0x0102, SHORT, *([_RAW_LEVELS_BIT] * samples)),
        numbers(0x0103, SHORT, 1),  # Compression: none
        numbers(0x0106, SHORT, photometric),
        numbers(0x0115, SHORT, samples),
        numbers(0x0116, LONG, height),  # RowsPerStrip: all in one
        numbers(0x0117, LONG, length),
    )
