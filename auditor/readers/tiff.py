"""
The fast lane: the wanted tags of a well-formed TIFF block, and nothing else of it.

Whatever is not just as the standard says (another type, another count, a value that is not all inside the block) raises
`Unusual`, and the tolerant lane reads the block instead; the tests hold the two to each other.
"""

from __future__ import annotations

import contextlib
import struct
from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeAlias

from auditor.readers.tags import EXIF, IFD0, PICTURE, RW2, Tags, Value, plain_text
from auditor.readers.window import Window

__all__ = [
    "MOST_ENTRIES",
    "MOST_TEXT_BYTES",
    "Block",
    "Unusual",
    "byte_order",
    "ifd_after",
    "pointer",
    "read_block",
    "read_pictures",
]

MOST_ENTRIES = 512
MOST_TEXT_BYTES = 4096
_MOST_PICTURES = 16


class Unusual(Exception):
    """The block is not as the standard says; the tolerant lane reads it."""


class Block(NamedTuple):
    """
    A TIFF block in a file: where it starts, where it ends, its byte order, and the offset of its first IFD.

    Offsets inside the block count from `start`. [byte]
    """

    start: int
    end: int
    order: str
    first: int


_Decoder: TypeAlias = Callable[[Window, Block, int, int, bytes], Value]

_ORDERS = {b"II": "<", b"MM": ">"}
_ENTRY = {order: struct.Struct(f"{order}HHI4s").iter_unpack for order in "<>"}
_U16 = {order: struct.Struct(f"{order}H").unpack_from for order in "<>"}
_U32 = {order: struct.Struct(f"{order}I").unpack_from for order in "<>"}
_I32 = {order: struct.Struct(f"{order}i").unpack_from for order in "<>"}
_U32X2 = {order: struct.Struct(f"{order}II").unpack_from for order in "<>"}
_MAGIC = {0x2A: "tiff", 0x55: "rw2", 0x4F52: "orf", 0x5352: "orf"}


def byte_order(window: Window, start: int, end: int) -> tuple[Block, str] | None:
    """
    Recognise a TIFF header.

    Returns
    -------
    (Block, str) or None
        The block and what its magic number names: tiff, rw2 or orf; None when it is no TIFF header.
    """
    head = window.take(start, 8)
    order = _ORDERS.get(head[:2])
    if order is None:
        return None
    magic = _MAGIC.get(_U16[order](head, 2)[0])
    return None if magic is None else (Block(start, min(end, window.size), order, _U32[order](head, 4)[0]), magic)


def _raw(window: Window, block: Block, inline: bytes, length: int) -> bytes:
    start, end, order, _ = block
    at = start + _U32[order](inline)[0]
    if at + length > end:
        raise Unusual
    raw = window.head[at : at + length]  # nearly always all of it: spares a call
    if len(raw) != length:
        raw = window.take(at, length)
        if len(raw) != length:
            raise Unusual
    return raw


def _whole(_window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind == 3 and 0 < count <= 2:  # some cameras write a pair for a size; the first counts
        number: int = _U16[block.order](inline)[0]
    elif kind == 4 and count == 1:
        number = _U32[block.order](inline)[0]
    elif kind == 9 and count == 1:
        number = _I32[block.order](inline)[0]
    else:
        raise Unusual
    return number


def _text(window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind != 2 or count > MOST_TEXT_BYTES:
        raise Unusual
    return plain_text(_raw(window, block, inline, count) if count > 4 else inline[:count])


def _ratio(window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind != 5 or count != 1:
        raise Unusual
    start, end, order, _ = block
    at = start + _U32[order](inline)[0]
    head = window.head
    if at + 8 <= end and at + 8 <= len(head):  # as `_raw`, without the call: most values are ratios
        above, below = _U32X2[order](head, at)
    else:
        above, below = _U32X2[order](_raw(window, block, inline, 8))
    return above / below if below else None


def _ratios(window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind != 5 or not 0 < count <= 8:
        raise Unusual
    numbers = struct.unpack(f"{block.order}{2 * count}I", _raw(window, block, inline, 8 * count))
    return tuple(above / below if below else None for above, below in zip(numbers[::2], numbers[1::2], strict=True))


def _wholes(window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind not in (4, 13) or not 0 < count <= _MOST_PICTURES:
        raise Unusual
    raw = inline if count == 1 else _raw(window, block, inline, 4 * count)
    return struct.unpack(f"{block.order}{count}I", raw)


def _place(_window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    if kind not in (1, 2, 6, 7) or not count:
        return None
    if count <= 4:
        return 0, 0
    at = block.start + _U32[block.order](inline)[0]
    return at, max(0, min(count, block.end - at))


def pointer(_window: Window, block: Block, kind: int, count: int, inline: bytes) -> Value:
    """Return the offset that an entry holds, None where it is none: what it leads to is not worth the tolerant lane."""
    if count != 1 or kind not in (3, 4, 13):
        return None
    number: int = (_U16 if kind == 3 else _U32)[block.order](inline)[0]
    return number


_DECODE = {
    "whole": _whole,
    "text": _text,
    "ratio": _ratio,
    "ratios": _ratios,
    "wholes": _wholes,
    "place": _place,
    "pointer": pointer,
}
_IFD0, _RW2, _EXIF, _PICTURE = (
    {tag: _DECODE[form] for tag, form in wanted.items()} for wanted in (IFD0, RW2, EXIF, PICTURE)
)
_FIRST = {"rw2": _RW2, "exif": _EXIF}


def entries_at(window: Window, block: Block, offset: int) -> tuple[bytes, int]:
    """
    Return the raw entries of the IFD at an offset in the block, 12 bytes each, and how many there should have been.

    Of a file that is cut short the entries that are there come back; an IFD outside the block has none.
    """
    start, end, order, _ = block
    at = start + offset
    if offset < 8 or at + 2 > end:
        return b"", 0
    counted = window.take(at, 2)
    if len(counted) != 2:
        return b"", 0
    claimed: int = _U16[order](counted)[0]
    if claimed > MOST_ENTRIES:
        return b"", claimed
    there = min(claimed, (end - at - 2) // 12)
    return window.take(at + 2, 12 * there), claimed


def _read_ifd(window: Window, block: Block, offset: int, wanted: Mapping[int, _Decoder], into: Tags) -> None:
    raw, claimed = entries_at(window, block, offset)
    if not 0 < claimed * 12 == len(raw):
        raise Unusual
    for tag, kind, count, inline in _ENTRY[block.order](raw):
        decode = wanted.get(tag)
        if decode is not None:
            into[tag] = decode(window, block, kind, count, inline)


def read_block(window: Window, block: Block, first: str = "tiff") -> Tags:
    """
    Read the wanted tags of the first IFD and of the Exif IFD.

    Parameters
    ----------
    window, block : Window, Block
        The file, and the block in it.
    first : str
        What the first IFD is: tiff, rw2, or exif where a file keeps its Exif IFD in a block of its own.

    Returns
    -------
    dict
        Values by tag number.

    Raises
    ------
    Unusual
        A wanted tag is not as the standard says, or something is not all there.
    """
    tags: Tags = {}
    _read_ifd(window, block, block.first, _FIRST.get(first, _IFD0), tags)
    exif = tags.get(0x8769)
    if isinstance(exif, int):
        _read_ifd(window, block, exif, _EXIF, tags)
    return tags


def read_pictures(window: Window, block: Block, offsets: tuple[int, ...]) -> list[Tags]:
    """
    Read the tags that describe the pictures of several IFDs; what is unusual there is left out.

    Returns
    -------
    list of dict
        One for each IFD that is all there.
    """
    found: list[Tags] = []
    for offset in offsets[:_MOST_PICTURES]:
        raw, claimed = entries_at(window, block, offset)
        if not 0 < claimed * 12 == len(raw):
            continue
        tags: Tags = {}
        for tag, kind, count, inline in _ENTRY[block.order](raw):
            if tag in _PICTURE:
                with contextlib.suppress(Unusual):
                    tags[tag] = _PICTURE[tag](window, block, kind, count, inline)
        found.append(tags)
    return found


def ifd_after(window: Window, block: Block, offset: int) -> int:
    """Return the offset of the IFD that follows one, 0 when there is none."""
    raw, claimed = entries_at(window, block, offset)
    after = window.take(block.start + offset + 2 + len(raw), 4)
    return _U32[block.order](after)[0] if len(after) == 4 and len(raw) == 12 * claimed else 0
