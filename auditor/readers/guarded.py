"""
The tolerant lane: exifread's tag decoder behind bounds checks, for whatever the fast lane calls unusual.

exifread decodes every type there is and forgives most. Used as a whole it walks stale directories of tens of thousands
of entries, reads gigabytes on a bad count, and takes bytes that are not there for zeros. So the directory is walked
here, with a cap on entries and on the size of a value, and only a value that lies wholly inside the block is handed to
exifread's `_process_tag`. That method is private: the minor version of exifread is held in pyproject.toml, and the
tests compare the two lanes and libexiv2 field by field.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, BinaryIO, cast

from auditor.readers.tags import EXIF, IFD0, RW2, Tags, Value, plain_text
from auditor.readers.tiff import MOST_TEXT_BYTES, Block, entries_at, pointer
from auditor.readers.window import Window

__all__ = ["read_block_tolerantly"]

_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 129: 1}
_MOST_VALUES = 64
_INTEGERS = (1, 3, 4, 6, 8, 9, 13)


@lru_cache(maxsize=1)
def _decoder() -> Any:
    """Return exifread's reader of one directory; imported when a first file needs it: it doubles a process's start."""
    import logging

    from exifread.core.exif_header import ExifHeader

    logging.getLogger("exifread").setLevel(logging.CRITICAL)  # its warnings say less than our reasons
    return ExifHeader


class _WindowFile:
    """What exifread needs of a file, over a window."""

    def __init__(self, window: Window) -> None:
        self._window, self._at = window, 0

    def seek(self, offset: int) -> None:
        self._at = offset

    def read(self, length: int) -> bytes:
        taken = self._window.take(self._at, length)
        self._at += len(taken)
        return taken


def _real(value: Any) -> float | None:
    if isinstance(value, tuple):  # exifread gives a FLOAT or DOUBLE as a tuple of one
        value = value[0]
    if hasattr(value, "den"):
        return value.num / value.den if value.den else None
    return float(value)


def _plain(values: Any, form: str, kind: int) -> Value:
    """Bring exifread's values to the form of the tag, None when they are of another nature."""
    if form == "text":
        raw = values if isinstance(values, bytes) else values.encode("utf-8") if isinstance(values, str) else None
        if raw is None and kind in (1, 7, 129) and all(isinstance(value, int) for value in values):
            raw = bytes(values)
        return None if raw is None else plain_text(raw)
    if isinstance(values, (str, bytes)) or not values:
        return None
    if form == "ratio":
        return _real(values[0])
    if form == "ratios":
        return tuple(_real(value) for value in values)
    if kind not in _INTEGERS:
        return None
    return int(values[0]) if form == "whole" else tuple(int(value) for value in values)


def _within(block: Block, form: str, kind: int, count: int, inline: bytes) -> tuple[int, int] | None:
    """Return where a value lies and how long it is, None when it has no length or far too much."""
    size = _SIZES.get(kind, 0) * count
    at = block.start + struct.unpack(f"{block.order}I", inline)[0]
    if form == "place":
        return (at, min(size, max(0, block.end - at))) if size > 4 else (0, 0) if size else None
    if not size or size > MOST_TEXT_BYTES or (form != "text" and count > _MOST_VALUES):
        return None
    return at, size


def _read_ifd(window: Window, block: Block, offset: int, wanted: Mapping[int, str]) -> tuple[Tags, bool]:
    raw, claimed = entries_at(window, block, offset)
    endian = "I" if block.order == "<" else "M"
    header = _decoder()(cast("BinaryIO", _WindowFile(window)), endian, block.start, 0, strict=False, detailed=False)
    tags: Tags = {}
    whole = 0 < claimed * 12 == len(raw)
    for index, (tag, kind, count, inline) in enumerate(struct.iter_unpack(f"{block.order}HHI4s", raw)):
        form = wanted.get(tag)
        if form is None:
            continue
        if form == "pointer":
            tags[tag] = pointer(window, block, kind, count, inline)
            continue
        tags[tag] = None
        place = _within(block, form, kind, count, inline)
        if place is None or form == "place":
            tags[tag] = place
        elif place[1] > 4 and (sum(place) > block.end or len(window.take(*place)) != place[1]):
            whole = False
        elif kind == 129:  # exifread does not know Exif 3.0's UTF-8 type
            tags[tag] = plain_text(inline[:count] if count <= 4 else window.take(*place))
        else:
            header.tags.clear()
            header._process_tag(offset, "IFD", None, offset + 2 + 12 * index, tag, "wanted", False, "")  # noqa: SLF001
            values = header.tags["IFD wanted"].values if header.tags else None
            tags[tag] = None if values is None else _plain(values, form, kind)
    return tags, whole


def read_block_tolerantly(window: Window, block: Block, first: str = "tiff") -> tuple[Tags, bool]:
    """
    Read the wanted tags of the first IFD and of the Exif IFD, whatever their types.

    Parameters
    ----------
    window, block, first
        As in `tiff.read_block`.

    Returns
    -------
    (dict, bool)
        Values by tag number, None where a value is absent, and whether everything that was pointed to was there.
    """
    tags, whole = _read_ifd(window, block, block.first, {"rw2": RW2, "exif": EXIF}.get(first, IFD0))
    exif = tags.get(0x8769)
    if isinstance(exif, int):
        of_exif, exif_whole = _read_ifd(window, block, exif, EXIF)
        tags.update(of_exif)
        whole = whole and exif_whole
    return tags, whole
