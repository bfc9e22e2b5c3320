"""Values that mean nothing are absent; times are the camera's own."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.readers.names import as_name, as_text
from auditor.readers.records import captured_us, named, offset_minutes, positive, record
from auditor.readers.xmp import _parsed, rating
from tests.readers.making import xmp_packet

EPOCH = dt.datetime(1970, 1, 1)


# CIPA DC-008-2023: 4.6.5 DateTimeOriginal "YYYY:MM:DD HH:MM:SS", blank when unknown; SubSecTime is a decimal fraction.
@pytest.mark.published
@pytest.mark.parametrize(
    ("when", "fraction", "expected"),
    [
        ("2026:05:02 14:20:31", None, dt.datetime(2026, 5, 2, 14, 20, 31)),
        ("2026:05:02 14:20:31", "5", dt.datetime(2026, 5, 2, 14, 20, 31, 500_000)),
        ("2026:05:02 14:20:31", "050", dt.datetime(2026, 5, 2, 14, 20, 31, 50_000)),
        ("2026:05:02 14:20:31", "1234567", dt.datetime(2026, 5, 2, 14, 20, 31, 123_456)),
        ("2026:05:02 14:20:31", "x", dt.datetime(2026, 5, 2, 14, 20, 31)),
        ("2026-05-02T14:20:31", None, dt.datetime(2026, 5, 2, 14, 20, 31)),
        ("2004: 7: 4 09: 5: 1", None, dt.datetime(2004, 7, 4, 9, 5, 1)),
        ("1969:12:31 23:59:59", None, dt.datetime(1969, 12, 31, 23, 59, 59)),
        ("0000:00:00 00:00:00", None, None),
        ("    :  :     :  :  ", None, None),
        ("2026:00:10 10:00:00", None, None),
        ("2026:02:30 10:00:00", None, None),
        ("2026:05:02 24:00:00", None, None),
        ("2026:05:02 12:30+01:00", None, None),
        ("2026:05:02", None, None),
        (None, None, None),
        (20260502, None, None),
    ],
)
def test_the_moment_of_exposure(when: object, fraction: str | None, expected: dt.datetime | None) -> None:
    us = captured_us(when, fraction)  # type: ignore[arg-type]
    assert (None if us is None else EPOCH + dt.timedelta(microseconds=us)) == expected


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("+02:00", 120),
        ("-03:30", -210),
        ("+00:00", 0),
        ("+14:00", 840),
        ("+15:00", None),
        ("Z", None),
        ("", None),
        (7, None),
    ],
)
def test_offsets_from_utc(text: object, minutes: int | None) -> None:
    assert offset_minutes(text) == minutes  # type: ignore[arg-type]


def test_absent_in_every_way() -> None:
    assert [named(text) for text in ("", "----", "0", "0000000", "\x10\x15", None, 3, "X-0")] == [None] * 7 + ["X-0"]
    assert [positive(value) for value in (0, -1.0, math.inf, math.nan, None, "1", 2)] == [None] * 6 + [2.0]


def row(tags: dict[int, object]) -> object:
    return record(("a", 1, 1), tags, {})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("tags", "column", "value"),
    [
        ({0x8827: 65535, 0x8833: 102400}, "photographic_sensitivity", 102400),
        ({0x8827: 65535}, "photographic_sensitivity", None),
        ({0x8827: 0, 0x8832: 100}, "photographic_sensitivity", 100),
        ({0x8827: 2**40}, "photographic_sensitivity", None),
        ({0x9206: 4294967295.0}, "subject_distance_m", None),
        ({0x9206: 4294967295 / 1000}, "subject_distance_m", None),
        ({0x9206: 0.42}, "subject_distance_m", 0.42),
        ({0x9205: 0.0}, "max_aperture_f_number", None),
        ({0x9205: 4.0}, "max_aperture_f_number", 4.0),
        ({0x9205: 99.0}, "max_aperture_f_number", None),
        ({0xA432: (35.0, 70.0, None, None)}, "lens_max_focal_mm", 70.0),
        ({0xA432: (None, 0.0, None, None)}, "lens_min_focal_mm", None),
        ({0xA432: (50.0,)}, "lens_min_focal_mm", None),
        ({0x9209: 0x10}, "flash_fired", False),
        ({0x9209: 0x19}, "flash_fired", True),
        ({}, "flash_fired", None),
        ({0x0112: 0}, "orientation", None),
        ({0x829A: 0.0}, "exposure_time_s", None),
    ],
)
def test_columns_from_tags(tags: dict[int, object], column: str, value: object) -> None:
    assert getattr(row(tags), column) == value


@given(st.binary(max_size=30))
def test_any_name_of_bytes_comes_back(raw: bytes) -> None:
    name = raw.decode("utf-8", "surrogateescape")
    text = as_text(name)
    assert as_name(text) == name
    text.encode("utf-8")


@given(st.text(max_size=30))
def test_any_name_of_text_comes_back(name: str) -> None:
    assert as_name(as_text(name)) == name
    assert "\\" in name or as_text(name) == name or not name.isascii()


ELEMENT = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    b'<rdf:Description xmlns:p="http://ns.adobe.com/xap/1.0/"><p:Rating>%s</p:Rating></rdf:Description></rdf:RDF></x:xmpmeta>'
)
OTHER = ELEMENT.replace(b"http://ns.adobe.com/xap/1.0/", b"http://ns.microsoft.com/photo/1.0/")
TWICE = ELEMENT.replace(b"<p:Rating>", b'<q xmlns:p="urn:other"><p:Rating>1</p:Rating></q><p:Rating>')
DEFAULT = ELEMENT.replace(b"xmlns:p=", b"xmlns=").replace(b"p:Rating", b"Rating")
DEFAULT = DEFAULT.replace(b"<rdf:Description xmlns=", b"<rdf:Description xmlns=")


@pytest.mark.parametrize("value", [-1, 0, 1, 5])
@pytest.mark.parametrize(
    "form",
    [
        lambda value: xmp_packet(value),
        lambda value: xmp_packet(value, "xap"),
        lambda value: ELEMENT % str(value).encode(),
        lambda value: b"<?xpacket begin='\xef\xbb\xbf' id='W5M0MpCehiHzreSzNTczkc9d'?>\n" + xmp_packet(value) + b"\0\0",
        lambda value: (ELEMENT % str(value).encode()).decode().encode("utf-16"),
        lambda value: b"<!-- a note -->" + ELEMENT % str(value).encode(),
        lambda value: TWICE % str(value).encode(),
        lambda value: DEFAULT % str(value).encode(),
        lambda value: ELEMENT % f"{value}.0".encode(),
    ],
)
def test_ratings_however_they_are_written(form: object, value: int) -> None:
    assert rating(form(value)) == value  # type: ignore[operator]


@pytest.mark.parametrize(
    "packet",
    [
        b"",
        b"Rating",
        OTHER % b"4",
        ELEMENT % b"6",
        ELEMENT % b"many",
        ELEMENT % b"",
        ELEMENT[:-20] % b"4" + b"<!",
        b"\xff\xfe" + "no markup".encode("utf-16-le"),
        b'<!DOCTYPE a [<!ENTITY r "4">]>' + ELEMENT % b"&r;",
    ],
)
def test_what_is_no_rating(packet: bytes) -> None:
    assert rating(packet) is None


def test_the_plain_way_and_the_parser_agree() -> None:
    for value in range(-1, 6):
        packet = xmp_packet(value)
        root = _parsed(packet)
        assert root is not None
        [description] = root.iter("{http://www.w3.org/1999/02/22-rdf-syntax-ns#}Description")
        assert description.get("{http://ns.adobe.com/xap/1.0/}Rating") == str(rating(packet))
