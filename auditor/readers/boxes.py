"""
ISO base media files: HEIF, AVIF, CR3 and JPEG XL. Where their Exif, XMP and picture size are.

ISO/IEC 14496-12 (boxes), 23008-12 (items of HEIF, irot, imir), 18181-2 (JPEG XL's boxes). Every length is checked
against its parent; the number of boxes and items is capped.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from auditor.readers.window import Window

__all__ = ["Items", "boxes", "is_cut", "oriented", "read_items"]

_MOST_BOXES = 256
_MOST_ITEMS = 4096
_LONGEST_META = 1 << 20


def boxes(window: Window, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """
    Walk the boxes between two offsets.

    Yields
    ------
    (bytes, int, int)
        A box's type, where its content starts, and where it ends. A box that would pass its parent ends there.
    """
    for _ in range(_MOST_BOXES):
        head = window.take(at, 8)
        if len(head) != 8 or at + 8 > end:
            return
        size, kind = struct.unpack(">I4s", head)
        start = at + 8
        if size == 1:
            large = window.take(start, 8)
            if len(large) != 8:
                return
            size, start = struct.unpack(">Q", large)[0], at + 16
        elif size == 0:
            size = end - at
        if size < start - at:
            return
        yield kind, start, min(at + size, end)
        at += size
        if at >= end:
            return


def is_cut(window: Window) -> bool:
    """Tell whether a box whose head is in the first read ends beyond the file."""
    at = 0
    while at + 8 <= len(window.head):
        size = int.from_bytes(window.head[at : at + 4], "big")
        if size == 1:
            size = int.from_bytes(window.head[at + 8 : at + 16], "big")
        if size < 8:
            return False
        at += size
    return at > window.size or at < window.size <= len(window.head)


class Items:
    """
    What a HEIF file's meta box says.

    Attributes
    ----------
    primary : int
        The item that is shown.
    kinds : dict
        Item type by item: ``Exif``, ``mime``, ``hvc1``, …
    places : dict
        (offset, length) of each item's parts in the file. [byte]
    describes : dict
        For an item that describes others (reference ``cdsc``): those items.
    properties : list of (bytes, int, int)
        Boxes of the property container, in order.
    owned : dict
        Positions in `properties`, from 1, by item.
    """

    __slots__ = ("describes", "kinds", "owned", "places", "primary", "properties")

    def __init__(self) -> None:
        self.primary = 0
        self.kinds: dict[int, bytes] = {}
        self.places: dict[int, list[tuple[int, int]]] = {}
        self.describes: dict[int, list[int]] = {}
        self.properties: list[tuple[bytes, int, int]] = []
        self.owned: dict[int, list[int]] = {}

    def of_kind(self, kind: bytes) -> int | None:
        """Return the item of a kind that belongs to the primary picture, else the first of that kind."""
        of_kind = [item for item, its in self.kinds.items() if its == kind and item in self.places]
        described = [item for item in of_kind if self.primary in self.describes.get(item, ())]
        return next(iter(described or of_kind), None)


class _Cursor:
    """Reads big-endian numbers one after another from bytes; past the end it raises struct.error."""

    __slots__ = ("at", "raw")

    def __init__(self, raw: bytes) -> None:
        self.raw, self.at = raw, 0

    def number(self, size: int) -> int:
        if size == 0:
            return 0
        if self.at + size > len(self.raw):
            raise struct.error("short box")
        value = int.from_bytes(self.raw[self.at : self.at + size], "big")
        self.at += size
        return value


def _item_infos(window: Window, start: int, end: int, items: Items) -> None:
    version = window.take(start, 1)
    count_size = 2 if version == b"\0" else 4
    count = int.from_bytes(window.take(start + 4, count_size), "big")
    at = start + 4 + count_size
    for _ in range(min(count, _MOST_ITEMS)):
        entry = window.take(at, 8)
        if len(entry) != 8 or entry[4:] != b"infe" or at >= end:
            return
        size = int.from_bytes(entry[:4], "big")
        if size < 12:
            return
        cursor = _Cursor(window.take(at + 8, min(size - 8, 16)))
        infe_version = cursor.number(1)
        cursor.number(3)
        if infe_version >= 2:
            item = cursor.number(2 if infe_version == 2 else 4)
            cursor.number(2)
            items.kinds[item] = cursor.raw[cursor.at : cursor.at + 4]
        at += size


def _item_places(raw: bytes, data_start: int, items: Items) -> None:
    cursor = _Cursor(raw)
    version = cursor.number(1)
    cursor.number(3)
    sizes = cursor.number(2)
    offset_size, length_size, base_size = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_size = sizes & 15 if version in (1, 2) else 0
    wide = 4 if version == 2 else 2
    for _ in range(min(cursor.number(wide), _MOST_ITEMS)):
        item = cursor.number(wide)
        method = cursor.number(2) & 15 if version in (1, 2) else 0
        cursor.number(2)
        base = cursor.number(base_size)
        extents = []
        for _ in range(min(cursor.number(2), 64)):
            cursor.number(index_size)
            offset, length = base + cursor.number(offset_size), cursor.number(length_size)
            extents.append((offset + (data_start if method == 1 else 0), length))
        if method == 0 or (method == 1 and data_start):
            items.places[item] = extents


def _references(window: Window, start: int, end: int, items: Items) -> None:
    wide = 2 if window.take(start, 1) == b"\0" else 4
    for kind, inside, stop in boxes(window, start + 4, end):
        if kind == b"cdsc":
            cursor = _Cursor(window.take(inside, min(stop - inside, 4096)))
            source = cursor.number(wide)
            items.describes[source] = [cursor.number(wide) for _ in range(min(cursor.number(2), 512))]


def _associations(raw: bytes, items: Items) -> None:
    cursor = _Cursor(raw)
    version = cursor.number(1)
    flags = cursor.number(3)
    for _ in range(min(cursor.number(4), _MOST_ITEMS)):
        item = cursor.number(2 if version == 0 else 4)
        wide = 2 if flags & 1 else 1
        mask = 0x7FFF if flags & 1 else 0x7F
        items.owned[item] = [cursor.number(wide) & mask for _ in range(cursor.number(1))]


def _properties(window: Window, start: int, end: int, items: Items) -> None:
    for kind, inside, stop in boxes(window, start, end):
        if kind == b"ipco":
            items.properties = list(boxes(window, inside, stop))
        elif kind == b"ipma":
            _associations(window.take(inside, min(stop - inside, _LONGEST_META)), items)


def read_items(window: Window, start: int, end: int) -> Items:
    """
    Read a meta box: the primary item, the items' kinds and places, what describes what, and the properties.

    A part that is damaged is left out; what was understood before it stays.
    """
    items = Items()
    found = {kind: (inside, stop) for kind, inside, stop in boxes(window, start + 4, end)}
    data_start = found[b"idat"][0] if b"idat" in found else 0
    for kind, (inside, stop) in found.items():
        try:
            if kind == b"pitm":
                wide = 2 if window.take(inside, 1) == b"\0" else 4
                items.primary = int.from_bytes(window.take(inside + 4, wide), "big")
            elif kind == b"iinf":
                _item_infos(window, inside, stop, items)
            elif kind == b"iloc":
                _item_places(window.take(inside, min(stop - inside, _LONGEST_META)), data_start, items)
            elif kind == b"iref":
                _references(window, inside, stop, items)
            elif kind == b"iprp":
                _properties(window, inside, stop, items)
        except struct.error:
            continue
    return items


# What irot (quarter turns counter-clockwise) then imir amounts to in Exif's Orientation. Without a mirror:
_TURNED = {0: 1, 1: 8, 2: 3, 3: 6}
# With a mirror after the turn; imir axis 1 exchanges left and right, axis 0 top and bottom (23008-12, 6.5.12).
_MIRRORED = {(0, 1): 2, (0, 0): 4, (1, 1): 7, (1, 0): 5, (2, 1): 4, (2, 0): 2, (3, 1): 5, (3, 0): 7}


def oriented(window: Window, items: Items) -> tuple[int | None, int | None, int | None]:
    """
    Return width and height in pixels of the primary picture before rotation, and its orientation as Exif's 1-8.

    In HEIF the container's irot and imir govern; Exif Orientation is not to be applied.
    """
    width = height = mirror = None
    turns = 0
    for position in items.owned.get(items.primary, ()):
        if not 0 < position <= len(items.properties):
            continue
        kind, start, end = items.properties[position - 1]
        if kind == b"ispe" and end - start >= 12:
            width, height = struct.unpack(">II", window.take(start + 4, 8) or bytes(8))
        elif kind == b"irot":
            turns = (window.take(start, 1) or b"\0")[0] & 3
        elif kind == b"imir":
            mirror = (window.take(start, 1) or b"\0")[0] & 1
    orientation = None
    if items.primary in items.owned:
        orientation = _TURNED[turns] if mirror is None else _MIRRORED[turns, mirror]
    return width or None, height or None, orientation
