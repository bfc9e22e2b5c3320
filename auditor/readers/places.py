"""
Where a frame was made, as the Exif's GPS directory or an XMP packet tells it, rounded before it goes anywhere.

Rounded to 0.01°, about a kilometre: enough to name a harbour, too coarse to find a house. The exact position never
leaves this module, so that it is in no table, export or page. What is not certain is absent: half a position, a sign
that is missing, a value that cannot be, 0° 0° (what is written where the receiver had no fix), and the last position
before the receiver lost its fix (GPSStatus V, "measurement interrupted"): nobody knows how far away that was.

CIPA DC-008 (Exif), GPS attributes: GPSLatitudeRef 1, GPSLatitude 2, GPSLongitudeRef 3, GPSLongitude 4, GPSStatus 9.
XMP specification part 2, GPSCoordinate: ``DDD,MM,SSk`` or ``DDD,MM.mmk``.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping
from typing import TypeAlias

from auditor.readers.tiff import Block, entries_at
from auditor.readers.window import Window

__all__ = ["Place", "read_place", "written_place"]

Place: TypeAlias = tuple[float, float]
"""Latitude and longitude, north and east positive. [deg]"""

_DECIMALS = 2
_LATITUDE_REF, _LATITUDE, _LONGITUDE_REF, _LONGITUDE, _STATUS = 1, 2, 3, 4, 9
_WANTED = frozenset((_LATITUDE_REF, _LATITUDE, _LONGITUDE_REF, _LONGITUDE, _STATUS))
_NORTH = {b"N": 1, b"S": -1, b"n": 1, b"s": -1}
_EAST = {b"E": 1, b"W": -1, b"e": 1, b"w": -1}
_ENTRY = {order: struct.Struct(f"{order}HHI4s").iter_unpack for order in "<>"}
_U32 = {order: struct.Struct(f"{order}I").unpack for order in "<>"}
_RATIOS = {
    (order, kind): struct.Struct(f"{order}6{form}").unpack for order in "<>" for kind, form in ((5, "I"), (10, "i"))
}
_BYTES = 24
_NO_ENTRY = (0, 0, b"")


def _degrees(degrees: float, minutes: float, seconds: float) -> float | None:
    """Return degrees, minutes and seconds as degrees, None where one of them cannot be."""
    # A writer may round 59.999 up to 60.
    if degrees < 0 or not 0 <= minutes <= 60 or not 0 <= seconds <= 60:
        return None
    return degrees + minutes / 60 + seconds / 3600


def _rounded(latitude: float, longitude: float) -> Place | None:
    if not -90 <= latitude <= 90 or not -180 <= longitude <= 180 or latitude == longitude == 0:
        return None
    east = round(longitude, _DECIMALS) + 0.0  # no -0.0
    return round(latitude, _DECIMALS) + 0.0, 180.0 if east == -180 else east


def _coordinate_at(window: Window, block: Block, entry: tuple[int, int, bytes]) -> tuple[float | None, bool]:
    """Return a coordinate without its sign, and whether its three numbers were there."""
    kind, count, inline = entry
    unpack = _RATIOS.get((block.order, kind))
    if unpack is None or count != 3:
        return None, True
    at = block.start + _U32[block.order](inline)[0]
    raw = window.take(at, _BYTES) if at + _BYTES <= block.end else b""
    if len(raw) != _BYTES:
        return None, False
    a, b, c, d, e, f = unpack(raw)
    return (_degrees(a / b, c / d, e / f) if b and d and f else None), True


def _letter(entry: tuple[int, int, bytes]) -> bytes:
    kind, count, inline = entry
    return inline[:1] if kind == 2 and 0 < count <= 4 else b""


def read_place(window: Window, block: Block, offset: int) -> tuple[Place | None, bool]:
    """
    Read the place that a GPS directory tells.

    Parameters
    ----------
    window, block : Window, Block
        The file, and the TIFF block in it.
    offset : int
        Of the directory, in the block. [byte]

    Returns
    -------
    (Place or None, bool)
        The place, None where none is certain; and whether everything that was pointed to was there.
    """
    raw, claimed = entries_at(window, block, offset)
    if not claimed:
        # Some writers leave a pointer to nothing, or an empty directory: nothing is missing then.
        at = block.start + offset
        return None, offset < 8 or (at + 2 <= block.end and window.take(at, 2) == b"\0\0")
    if len(raw) != 12 * claimed:
        return None, False
    found = {tag: (kind, count, inline) for tag, kind, count, inline in _ENTRY[block.order](raw) if tag in _WANTED}
    latitude, north_is_there = _coordinate_at(window, block, found.get(_LATITUDE, _NO_ENTRY))
    longitude, east_is_there = _coordinate_at(window, block, found.get(_LONGITUDE, _NO_ENTRY))
    if not (north_is_there and east_is_there):
        return None, False
    north = _NORTH.get(_letter(found.get(_LATITUDE_REF, _NO_ENTRY)))
    east = _EAST.get(_letter(found.get(_LONGITUDE_REF, _NO_ENTRY)))
    is_void = _STATUS in found and _letter(found[_STATUS]) == b"V"
    if is_void or latitude is None or longitude is None or north is None or east is None:
        return None, True
    return _rounded(north * latitude, east * longitude), True


_WRITTEN = re.compile(
    r"\s*([0-9]{1,3}),([0-9]{1,2})(?:,([0-9]{1,2}(?:\.[0-9]{1,12})?)|(\.[0-9]{1,12}))?([NSEWnsew])\s*"
)


def _coordinate(text: str | None, signs: Mapping[bytes, int]) -> float | None:
    found = _WRITTEN.fullmatch(text or "")
    if found is None:
        return None
    degrees, minutes, seconds, fraction, letter = found.groups()
    told = _degrees(float(degrees), float(minutes) + float(fraction or 0), float(seconds or 0))
    sign = signs.get(letter.encode())
    return None if told is None or sign is None else sign * told


def written_place(latitude: str | None, longitude: str | None) -> Place | None:
    """
    Return the place that ``exif:GPSLatitude`` and ``exif:GPSLongitude`` of an XMP packet tell.

    Examples
    --------
    >>> written_place("52,30.5N", "7,9,0W")
    (52.51, -7.15)
    >>> written_place("52.5N", "7,9,0W") is None, written_place("52,30.5N", None) is None
    (True, True)
    """
    north, east = _coordinate(latitude, _NORTH), _coordinate(longitude, _EAST)
    return None if north is None or east is None else _rounded(north, east)
