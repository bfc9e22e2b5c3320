"""From decoded tags to the fields of a frame's row: absent is None, and nothing impossible is kept."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from auditor.readers.tags import Tags, Value

__all__ = ["Record", "captured_us", "full_size", "named", "offset_minutes", "positive", "raw_format", "record"]


class Record(NamedTuple):
    """One row of the frames table without its archive; the fields are the table's columns, in their order."""

    path: str
    size: int
    mtime_ns: int
    format: str | None = None
    companion: str | None = None
    make: str | None = None
    model: str | None = None
    body_serial_number: str | None = None
    lens_make: str | None = None
    lens_model: str | None = None
    lens_serial_number: str | None = None
    lens_min_focal_mm: float | None = None
    lens_max_focal_mm: float | None = None
    captured_at: int | None = None
    offset_minutes: int | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    exposure_time_s: float | None = None
    f_number: float | None = None
    focal_length_mm: float | None = None
    focal_length_35mm_mm: float | None = None
    max_aperture_f_number: float | None = None
    subject_distance_m: float | None = None
    photographic_sensitivity: int | None = None
    image_width_px: int | None = None
    image_height_px: int | None = None
    orientation: int | None = None
    flash_fired: bool | None = None
    stabiliser_mode: str | None = None
    drive_mode: str | None = None
    shutter_type: str | None = None
    rating: int | None = None
    problem: str | None = None


def named(value: Value) -> str | None:
    """
    Return a text that says something: not blank, dashes or zeros, and nothing that cannot be shown.

    Examples
    --------
    >>> named("----"), named("0"), named("Orla 50 mm")
    (None, None, 'Orla 50 mm')
    """
    return value if isinstance(value, str) and value.strip("-0 ") and value.isprintable() else None


def positive(value: Any) -> float | None:
    """
    Return a number above zero and below infinity, else None.

    Examples
    --------
    >>> positive(0.0), positive(None), positive(0.004)
    (None, None, 0.004)
    """
    return float(value) if isinstance(value, (int, float)) and 0 < value < math.inf else None


_PADDED = re.compile("([0-9]{4}).([ 0-9][0-9]).([ 0-9][0-9]).([ 0-9][0-9]):([ 0-9][0-9]):([ 0-9][0-9])")
_OFFSET = re.compile(r"([+-])(\d\d):([0-5]\d)$")
_EPOCH = datetime(1970, 1, 1)


def _moment(when: str) -> datetime | None:
    if when[4] not in ":-/" or when[7] not in ":-/" or when[10] not in " T" or when[13] != ":" or when[16] != ":":
        return None
    try:
        return datetime.fromisoformat(f"{when[:4]}-{when[5:7]}-{when[8:10]}T{when[11:19]}")
    except ValueError:
        padded = _PADDED.match(when)  # some cameras write a space for a leading zero
    try:
        return datetime(*map(int, padded.groups())) if padded else None  # type: ignore[arg-type]
    except ValueError:
        return None


def captured_us(when: Value, sub_seconds: Value = None) -> int | None:
    """
    Return the camera's local time as microseconds from 1970-01-01 00:00 of the same clock, None when impossible.

    Examples
    --------
    >>> captured_us("1970:01:02 00:00:01", "25")
    86401250000
    >>> captured_us("0000:00:00 00:00:00") is None
    True
    """
    moment = _moment(when) if isinstance(when, str) and len(when) >= 19 else None
    if moment is None:
        return None
    since = moment - _EPOCH
    seconds = since.days * 86400 + since.seconds
    part = 0
    if isinstance(sub_seconds, str) and sub_seconds.isdecimal() and sub_seconds.isascii():
        part = int(f"{sub_seconds:0<6.6}")
    return seconds * 1_000_000 + part


def offset_minutes(text: Value) -> int | None:
    """
    Return an Exif offset from UTC in minutes, None when it is none.

    Examples
    --------
    >>> offset_minutes("-03:30"), offset_minutes("   :  ")
    (-210, None)
    """
    found = _OFFSET.match(text) if isinstance(text, str) else None
    if found is None:
        return None
    minutes = int(found.group(2)) * 60 + int(found.group(3))
    return (minutes if found.group(1) == "+" else -minutes) if minutes <= 14 * 60 else None


def _sensitivity(tags: Tags) -> int | None:
    value = tags.get(0x8827)
    if isinstance(value, int) and 0 < value < 65535:
        return value
    # 65535 is a full SHORT: the true value stands in one of the long tags (Exif 2.3, 4.6.5). RW2 has a tag of its own.
    for tag in (0x8833, 0x8832, 0x8831, 0x0017):
        value = tags.get(tag)
        if isinstance(value, int) and 0 < value < 2**31 and value != 65535:
            return value
    return None


def _pair(value: Any) -> tuple[float | None, float | None]:
    if not isinstance(value, tuple) or len(value) < 2:
        return None, None
    return positive(value[0]), positive(value[1])


_RAW = (
    ("nikon", "nef"),
    ("sony", "arw"),
    ("pentax", "pef"),
    ("ricoh", "pef"),
    ("samsung", "srw"),
    ("seiko epson", "erf"),
    ("hasselblad", "3fr"),
    ("eastman kodak", "kdc"),
    ("kodak", "kdc"),
    ("phase one", "iiq"),
    ("leaf", "mos"),
    ("mamiya", "mef"),
    ("canon", "tif-raw"),
)
_CFA, _LINEAR_RAW = 32803, 34892


def raw_format(tags: Tags, pictures: Sequence[Tags]) -> str:
    """
    Name the format of a TIFF file: dng, nef, arw, pef, …, or tiff when it holds no raw picture.

    Parameters
    ----------
    tags : dict
        Of the first IFD.
    pictures : sequence of dict
        Of the other IFDs.
    """
    if 0xC612 in tags:
        return "dng"
    if not any(picture.get(0x0106) in (_CFA, _LINEAR_RAW) for picture in (tags, *pictures)):
        return "tiff"
    make = str(tags.get(0x010F) or "").lower()
    return next((kind for name, kind in _RAW if make.startswith(name)), "raw")


def _size_of(tags: Tags) -> tuple[int, int] | None:
    crop = _pair(tags.get(0xC620))
    width, height = crop if None not in crop else (tags.get(0x0100), tags.get(0x0101))
    if isinstance(width, (int, float)) and isinstance(height, (int, float)) and width > 0 and height > 0:
        return int(width), int(height)
    return None


def full_size(tags: Tags, pictures: Sequence[Tags]) -> tuple[int | None, int | None]:
    """
    Return width and height of the full picture of a TIFF-based file, before rotation.

    The main picture (NewSubfileType 0) of the largest area; where Exif names a size of its own within a tenth of it,
    that one, because a sensor's edge is not part of the picture.
    """
    if 0x0007 in tags:  # RW2: the picture is the sensor inside its borders; the Exif in its preview names the preview
        top, left, bottom, right = (tags.get(tag) for tag in (0x0004, 0x0005, 0x0006, 0x0007))
        if isinstance(top, int) and isinstance(left, int) and isinstance(bottom, int) and isinstance(right, int):
            return (right - left, bottom - top) if right > left and bottom > top else (None, None)
    sizes = [size for picture in (tags, *pictures) if not picture.get(0x00FE) and (size := _size_of(picture))]
    main = max(sizes, key=lambda size: size[0] * size[1], default=None)
    in_exif = _pair((tags.get(0xA002), tags.get(0xA003)))
    if (
        in_exif[0]
        and in_exif[1]
        and (main is None or (_is_near(in_exif[0], main[0]) and _is_near(in_exif[1], main[1])))
    ):
        return int(in_exif[0]), int(in_exif[1])
    return main or (None, None)


def _is_near(named_px: float, main_px: int) -> bool:
    return 0.9 <= named_px / main_px <= 1


def _largest_aperture(apex: Value) -> float | None:
    value = positive(apex)
    return 2 ** (value / 2) if value is not None and value <= 20 else None


def record(identity: tuple[str, int, int], tags: Tags, fixed: dict[str, Any]) -> Record:
    """
    Build a row from decoded tags.

    Parameters
    ----------
    identity : (str, int, int)
        Path, size [byte], mtime [ns].
    tags : dict
        Decoded tags by number.
    fixed : dict
        Columns that do not come from the Exif: format, size of the picture, problem, what the maker note says, … A lens
        name, a distance and a place there stand in for those that the Exif does not have; an orientation there wins.

    Examples
    --------
    >>> record(("a.jpg", 9, 1), {0x829A: 0.004, 0x920A: 0.0}, {"format": "jpeg"}).exposure_time_s
    0.004
    """
    # By position, and each look-up once: this line is run for every frame of an archive.
    tag, column = tags.get, fixed.get
    shortest, longest = _pair(tag(0xA432)) if 0xA432 in tags else (None, None)
    place = tag(0x8825) or column("place")
    latitude, longitude = place if isinstance(place, tuple) else (None, None)
    return Record(
        *identity,
        column("format"),
        None,
        named(tag(0x010F)),
        named(tag(0x0110)),
        named(tag(0xA431)),
        named(tag(0xA433)),
        named(tag(0xA434)) or column("lens_model"),
        named(tag(0xA435)),
        shortest,
        longest,
        captured_us(tag(0x9003), tag(0x9291)),
        offset_minutes(tag(0x9011)),
        latitude,
        longitude,
        positive(tag(0x829A)),
        positive(tag(0x829D)),
        positive(tag(0x920A)),
        positive(tag(0xA405)),
        _largest_aperture(tag(0x9205)),
        _distance_m(tag(0x9206)) or column("subject_distance_m"),
        _sensitivity(tags),
        column("image_width_px"),
        column("image_height_px"),
        column("orientation") or _orientation(tag(0x0112)),
        _has_fired(tag(0x9209)),
        column("stabiliser_mode"),
        column("drive_mode"),
        column("shutter_type"),
        column("rating"),
        column("problem"),
    )


def _distance_m(value: Value) -> float | None:
    # A numerator of 0xFFFFFFFF is infinity (Exif 3.0); nothing is focused a hundred kilometres away.
    distance = positive(value)
    return distance if distance is not None and distance < 1e5 else None


def _orientation(value: Value) -> int | None:
    return value if isinstance(value, int) and 1 <= value <= 8 else None


def _has_fired(flash: Value) -> bool | None:
    return bool(flash & 1) if isinstance(flash, int) else None
